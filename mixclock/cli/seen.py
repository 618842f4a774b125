"""Statements about what was read, measured, seen and found."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.options import Ago, AsJson, At, By, Extra, Note
from mixclock.cli.statement import state
from mixclock.cli.typed import batch_number, read

if TYPE_CHECKING:
    from mixclock.wiring import House

OneArea = Annotated[str | None, typer.Option("--on", metavar="AREA", help="The area.")]
OfBatch = Annotated[str | None, typer.Option("--batch", metavar="BATCH", help="The batch.")]


def reading(
    air: Annotated[str | None, typer.Option("--air", metavar="T", help="Air temperature, such as '18 °C'.")] = None,
    rh: Annotated[str | None, typer.Option("--rh", metavar="H", help="Relative humidity, such as 62.")] = None,
    slab: Annotated[str | None, typer.Option("--slab", metavar="T", help="Surface temperature of the slab.")] = None,
    on: OneArea = None,
    bucket: Annotated[str | None, typer.Option("--bucket", metavar="T", help="Temperature in a bucket.")] = None,
    batch: OfBatch = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Conditions as measured; any one value suffices."""

    def understood(house: House) -> dict[str, Any]:
        from mixclock.units import pct, temp_c

        degrees = {"bare": house.bare_degrees()}
        return {
            "air_c": read(temp_c, air, "--air", **degrees),
            "rh_pct": read(pct, rh, "--rh"),
            "slab_c": read(temp_c, slab, "--slab", **degrees),
            "area": on,
            "bucket_c": read(temp_c, bucket, "--bucket", **degrees),
            "batch": batch_number([batch] if batch else None),
        }

    state("reading", Extra(at, ago, by, note, as_json), understood)


def measured(
    quantity: Annotated[str, typer.Argument(metavar="QUANTITY", help="wet-film, moisture, pH, hardness or texture.")],
    value: Annotated[list[str], typer.Argument(metavar="VALUE", help="The value with its unit, such as 300 um.")],
    on: OneArea = None,
    batch: OfBatch = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """A measurement on the floor."""

    def understood(_: House) -> dict[str, Any]:
        from mixclock.job.stating import quantity_named, value_alone
        from mixclock.units import film_um, number, pct

        meant = quantity_named(quantity)
        readers: dict[str, Callable[..., float]] = {"um": film_um, "pct": pct}
        reader = readers.get(meant.unit, number)
        return {
            "quantity": meant.name,
            "value": read(reader, value_alone(meant, " ".join(value)), meant.called),
            "area": on,
            "batch": batch_number([batch] if batch else None),
        }

    state("measured", Extra(at, ago, by, note, as_json), understood)


def noted(
    words: Annotated[list[str], typer.Argument(metavar="TEXT", help="What is worth remembering.")],
    on: OneArea = None,
    batch: OfBatch = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Something worth remembering: heater lit, door opened."""
    extra = Extra(at, ago, by, note, as_json)
    number = batch_number([batch] if batch else None)
    state("noted", extra, lambda _: {"text": " ".join(words), "area": on, "batch": number})


def photo(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The picture.")],
    on: OneArea = None,
    batch: OfBatch = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """A picture of an area or a batch: the book keeps a small copy and the original's hash."""

    def understood(house: House) -> dict[str, Any]:
        from mixclock.outside.pictures import take_picture

        picture = take_picture(file)
        house.book.drawers.keep_picture(picture)
        number = batch_number([batch] if batch else None)
        return {"name": file.name, "sha256": picture.sha256, "area": on, "batch": number}

    state("photo", Extra(at, ago, by, note, as_json), understood)


def traffic(
    area: Annotated[str, typer.Argument(metavar="AREA", help="The area.")],
    by_what: Annotated[str, typer.Argument(metavar="foot|vehicle", help="What went over it.")],
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Feet or wheels went over an area."""
    state("traffic", Extra(at, ago, by, note, as_json), lambda _: {"area": area, "by_what": by_what})


def saw(
    where: Annotated[str, typer.Argument(metavar="BATCH-OR-AREA", help="A batch's number, or an area.")],
    sign: Annotated[list[str], typer.Argument(metavar="SIGN", help="stringy, skinned, tack free, hard or hot.")],
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """A sign on a batch or an area: it tells how far the resin is."""

    def understood(house: House) -> dict[str, Any]:
        areas = [area.name.casefold() for area in house.site().areas]
        is_area = where.strip().casefold() in areas or not any(letter.isdecimal() for letter in where)
        what = {"area": where} if is_area else _batch_or_area(where)
        return {"sign": " ".join(sign), **what}

    state("saw", Extra(at, ago, by, note, as_json), understood)


def found(
    area: Annotated[str, typer.Argument(metavar="AREA", help="The area.")],
    symptom: Annotated[list[str], typer.Argument(metavar="SYMPTOM", help="What is wrong, such as dull or bubbles.")],
    shape: Annotated[
        str | None,
        typer.Option("--shape", metavar="SHAPE", help="batch-edge, door, shade, cut-in, drips or all-over."),
    ] = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """An area was found faulty."""

    def understood(house: House) -> dict[str, Any]:
        return house.finding(area, " ".join(symptom), shape)

    state("found", Extra(at, ago, by, note, as_json), understood)


def _batch_or_area(where: str) -> dict[str, Any]:
    """A batch's number where it reads as one, else an area (whose misspelling is then suggested)."""
    plain = where.casefold().removeprefix("batch").removeprefix("b").strip(" #.")
    return {"batch": batch_number([where])} if plain.isdecimal() else {"area": where}
