"""Statements about the bucket: mixing, mixed, poured."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.options import (
    Ago,
    AsJson,
    At,
    Batch,
    By,
    Coat,
    Extra,
    Lot,
    Material,
    Mixing,
    Note,
    On,
    PartA,
    PartB,
    VesselName,
)
from mixclock.cli.statement import state
from mixclock.cli.typed import amount, batch_number, product_and_amount, read

if TYPE_CHECKING:
    from mixclock.wiring import House


def mixing(
    what: Annotated[list[str], typer.Argument(metavar="PRODUCT AMOUNT", help="What goes together, and how much.")],
    on: On = None,
    coat: Coat = None,
    part_a: PartA = None,
    part_b: PartB = None,
    material: Material = None,
    lot: Lot = None,
    vessel: VesselName = None,
    mixing_time: Mixing = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Part B goes in now: the batch's clock starts."""
    parts = Parts(what, on, coat, part_a, part_b, material, lot, vessel, mixing_time)
    state("mixing", Extra(at, ago, by, note, as_json), parts.understood)


def mixed(
    what: Annotated[
        list[str] | None,
        typer.Argument(metavar="[BATCH] | PRODUCT AMOUNT", help="The batch whose mixing ends, or a batch told late."),
    ] = None,
    on: On = None,
    coat: Coat = None,
    part_a: PartA = None,
    part_b: PartB = None,
    material: Material = None,
    lot: Lot = None,
    vessel: VesselName = None,
    mixing_time: Mixing = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Mixing is over: of a batch that was stated with `mixing`, or of one that is only stated now."""
    extra = Extra(at, ago, by, note, as_json)
    parts = Parts(what or [], on, coat, part_a, part_b, material, lot, vessel, mixing_time, ended=True)
    if parts.names_a_batch():
        state("mixed", extra, lambda _: {"batch": batch_number(what)})
    else:
        state("mixing", extra, parts.understood)


def poured(
    batch: Batch = None,
    on: On = None,
    part: Annotated[str | None, typer.Option("--part", metavar="AMOUNT", help="How much, where some is left.")] = None,
    covered: Annotated[
        str | None, typer.Option("--covered", metavar="SIZE", help="How much floor it covered, such as 11.5 m2.")
    ] = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """The bucket, or a part of it, is out on the floor."""

    def understood(_: House) -> dict[str, Any]:
        from mixclock.units import area_m2

        return {
            "batch": batch_number(batch),
            "areas": on or (),
            **amount(part, "--part", ("part_l", "part_kg")),
            "covered_m2": read(area_m2, covered, "--covered"),
        }

    state("poured", Extra(at, ago, by, note, as_json), understood)


class Parts:
    """What `mixing` and `mixed` have in common, as it was typed."""

    def __init__(
        self,
        what: Sequence[str],
        on: Sequence[str] | None,
        coat: str | None,
        part_a: str | None,
        part_b: str | None,
        material: str | None,
        lot: str | None,
        vessel: str | None,
        mixing_time: str | None,
        ended: bool = False,
    ) -> None:
        self._what = what
        self._plain = {"areas": on or (), "coat": coat, "lot": lot, "vessel": vessel}
        self._part_a, self._part_b = part_a, part_b
        self._material, self._mixing_time = material, mixing_time
        self._ended = ended

    def names_a_batch(self) -> bool:
        """Whether a batch that is being mixed is meant, and not a new one."""
        if not self._what:
            return True
        words = " ".join(self._what).casefold().removeprefix("batch").removeprefix("b").strip(" #.")
        return words.isdecimal()

    def understood(self, _: House) -> dict[str, Any]:
        """The words of the verb `mixing`."""
        from mixclock.units import span_s, temp_c

        product, how_much = product_and_amount(self._what)
        return {
            "product": product,
            **self._plain,
            **amount(how_much, "AMOUNT", ("volume_l", "mass_kg")),
            **amount(self._part_a, "--a", ("a_l", "a_kg")),
            **amount(self._part_b, "--b", ("b_l", "b_kg")),
            "material_c": read(temp_c, self._material, "--material"),
            "mixing_s": read(span_s, self._mixing_time, "--mixing"),
            "ended": self._ended,
        }
