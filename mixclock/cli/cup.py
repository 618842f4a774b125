"""A test cup of a lot, the evening before: begin it, read it, state its end, show it, drop it. It needs no job."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.answering import say_answer
from mixclock.cli.commandwords import Extra
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import Ago, AsJson, At
from mixclock.cli.typed import read, when

if TYPE_CHECKING:
    from mixclock.job.cups import Cup
    from mixclock.wiring import House

ROOM_C = 20.0
"""How warm mixclock assumes pails and air to be when nobody says (judgement)."""


def cup(
    what: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PRODUCT AMOUNT | reading T | SIGN | drop]",
            help="Begin a cup of 100 to 200 g, or say what the last one shows (stringy, gel, hot). Alone: all cups.",
        ),
    ] = None,
    lot: Annotated[str | None, typer.Option("--lot", metavar="LOT", help="The lot printed on the pails.")] = None,
    lot_a: Annotated[str | None, typer.Option("--lot-a", metavar="LOT", help="The lot of part A alone.")] = None,
    lot_b: Annotated[str | None, typer.Option("--lot-b", metavar="LOT", help="The lot of part B alone.")] = None,
    number: Annotated[int | None, typer.Option("--cup", metavar="N", help="Which cup, by its number.")] = None,
    material: Annotated[str | None, typer.Option("--material", metavar="T", help="How warm the pails are.")] = None,
    air: Annotated[str | None, typer.Option("--air", metavar="T", help="How warm the air around it is.")] = None,
    at: At = None,
    ago: Ago = None,
    as_json: AsJson = False,
) -> None:
    """A test cup, the evening before: in an hour it shows how fast this lot sets. You need no job."""
    from mixclock.job.cups import lot_named

    lot = lot_named(lot, lot_a, lot_b) or None

    with at_house() as house:
        happened = when(house, Extra(at=at, ago=ago)) or house.clock.now()
        lines = _done(house, what or [], happened, lot, number, (material, air))
        say_answer(as_json, {"cups": [_told(each) for each in house.cups.all()], "said": lines}, lines)


def _done(
    house: House,
    what: Sequence[str],
    happened: datetime,
    lot: str | None,
    number: int | None,
    warm: tuple[str | None, str | None],
) -> list[str]:
    from mixclock.job.cups import SIGNS

    word = what[0].casefold() if what else ""
    if not what:
        numbered = enumerate(house.cups.all(), start=1)
        rows = [_numbered(number, _shown(house, each)) for number, each in numbered]
        return [line for row in rows for line in row] or ["No test cup yet."]
    if (word == "reading" and len(what) == 2) or (word in (*SIGNS, "drop") and len(what) == 1):
        return _said_of(house, what, happened, lot, number)
    return _begun(house, what, happened, lot, warm)


def _numbered(number: int, lines: Sequence[str]) -> list[str]:
    """The lines of a cup, with the number that names it in a later command."""
    return [f"{number}  {lines[0]}", *lines[1:]]


def _begun(
    house: House, what: Sequence[str], happened: datetime, lot: str | None, warm: tuple[str | None, str | None]
) -> list[str]:
    from mixclock.job.cups import HOW_TO, Cup, refuse
    from mixclock.job.saying import CannotTellError
    from mixclock.job.statements.bucket import product_and_amount
    from mixclock.outside.profilefiles import find
    from mixclock.units import temp_c

    product, size = product_and_amount(_weighed(what))
    if size is None:
        raise CannotTellError("how much is in the cup? say it in grams, such as '150 g'")
    profile = find(product).profile
    density = profile.mix.mixed_kg_l
    if size.mass_kg is None and density is None:
        raise CannotTellError("a cup is weighed: say grams, such as '150 g'")
    mass_kg = size.mass_kg if size.mass_kg is not None else (size.volume_l or 0.0) * (density or 0.0)
    refuse(profile, mass_kg)
    material_c, air_c = (read(temp_c, typed, name) for typed, name in zip(warm, ("--material", "--air"), strict=True))
    air_c = air_c if air_c is not None else material_c if material_c is not None else ROOM_C
    made = Cup(profile.name, lot or "", mass_kg, happened, air_c if material_c is None else material_c, air_c)
    house.cups.keep((*house.cups.all(), made))
    units = house.units()
    warmth = f"nobody said how warm the pails are: {units.write_temp(made.material_c)} assumed; say --material"
    assumed = [] if material_c is not None else [warmth]
    no_lot = [] if lot else ["nobody named a lot: this cup counts for batches without a lot; say --lot"]
    return [f"Cup of {units.write_mass(mass_kg)} of {profile.name} begun.", *assumed, *no_lot, *HOW_TO]


def _weighed(what: Sequence[str]) -> list[str]:
    """Bare ounces of a cup are a weight, because a cup is weighed.

    >>> _weighed(["Slow epoxy base", "5.3 oz"]), _weighed(["Slow epoxy base", "5.3", "oz"])
    (['Slow epoxy base', '0.33125 lb'], ['Slow epoxy base', '0.33125 lb'])
    >>> _weighed(["Slow epoxy base", "5 fl oz"])
    ['Slow epoxy base', '5 fl oz']
    """
    import re

    for words in (2, 1):
        found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*(?:oz|ozs|ounces?)", " ".join(what[-words:]), flags=re.IGNORECASE)
        if found is not None:
            return [*what[:-words], f"{float(found[1].replace(',', '.')) / 16:g} lb"]
    return list(what)


def _said_of(house: House, what: Sequence[str], happened: datetime, lot: str | None, number: int | None) -> list[str]:
    """Put a reading or a sign of a cup into the book, or drop the cup."""
    from mixclock.job.cups import meant
    from mixclock.words.cupwords import read_lines

    cup = meant(house.cups.all(), happened, lot, number)
    word = what[0].casefold()
    if word == "drop":
        return _dropped(house, cup)
    if word != "reading":
        return _saw(house, cup, word, happened)
    value_c = _warmth(what[1], "reading")
    house.cups.change(cup, cup.with_reading(value_c, happened))
    return read_lines(cup, value_c, happened, house.units())


def _warmth(typed: str, name: str) -> float:
    from mixclock.units import temp_c

    value_c = read(temp_c, typed, name)
    assert value_c is not None
    return value_c


def _saw(house: House, cup: Cup, sign: str, happened: datetime) -> list[str]:
    from mixclock.job.cups import ENDING
    from mixclock.words.cupwords import SMOKE_LINE

    cup.since_s(happened)
    if sign not in ENDING:
        return [SMOKE_LINE]
    after = cup.with_end(sign, happened)
    if after == cup:
        return [f"It had ended after {(cup.end_s or 0.0) / 60.0:.0f} min ({cup.end}): that result is kept."]
    return _shown(house, house.cups.change(cup, after))


def _dropped(house: House, cup: Cup) -> list[str]:
    house.cups.keep(tuple(each for each in house.cups.all() if each != cup))
    lot = cup.lot or "not named"
    return [f"Cup of {cup.product}, lot {lot}, is dropped: batches that you mix from now on do not count with it."]


def _shown(house: House, cup: Cup) -> list[str]:
    """The sheet's time beside the cup's, the lot's factor, and what that changes for its buckets."""
    from mixclock.words.cupwords import beside_sheet

    sheet_s = house.cups.by_sheet_s(cup) if cup.end_s is not None else None
    return beside_sheet(cup, sheet_s, house.units())


def _told(cup: Cup) -> dict[str, Any]:
    from mixclock.words.jsonfields import fields_json

    readings = [{"after_s": at_s, "temp_c": temp_c} for at_s, temp_c in cup.read]
    return {**fields_json(cup, "read"), "readings": readings}
