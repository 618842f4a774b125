"""A test cup of a lot, the evening before: begun, read, seen to its end, shown and dropped. No job is needed."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import Ago, AsJson, At, Extra
from mixclock.cli.typed import read, when

if TYPE_CHECKING:
    from mixclock.job.cups import Cup
    from mixclock.wiring import House

ROOM_C = 20.0
"""How warm pails and air are taken to be where nobody says (judgement)."""


def cup(
    what: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[PRODUCT AMOUNT | reading T | SIGN | drop]",
            help="Begin a cup of 100 to 200 g, or say what the last one shows (stringy, gel, hot); nothing shows all.",
        ),
    ] = None,
    lot: Annotated[str | None, typer.Option("--lot", metavar="LOT", help="The lot that it is taken from.")] = None,
    material: Annotated[str | None, typer.Option("--material", metavar="T", help="How warm the pails are.")] = None,
    air: Annotated[str | None, typer.Option("--air", metavar="T", help="How warm the air around it is.")] = None,
    at: At = None,
    ago: Ago = None,
    as_json: AsJson = False,
) -> None:
    """A test cup: this lot's own clock in an hour, the evening before. No job is needed."""
    from mixclock.cli.statement import print_json
    from mixclock.wiring import open_house

    with one_line_errors(), open_house() as house:
        happened = when(house, Extra(at=at, ago=ago)) or house.clock.now()
        lines = _done(house, what or [], happened, lot, (material, air))
        if as_json:
            print_json({"cups": [_told(each) for each in house.cups.all()], "said": lines})
            return
        for line in lines:
            typer.echo(line)


def _done(
    house: House, what: Sequence[str], happened: datetime, lot: str | None, warm: tuple[str | None, str | None]
) -> list[str]:
    from mixclock.job.cups import SIGNS

    word = what[0].casefold() if what else ""
    if not what:
        return [line for each in house.cups.all() for line in _shown(house, each)] or ["No test cup yet."]
    if word == "reading" and len(what) == 2:
        return _read(house, what[1], happened)
    if word in SIGNS and len(what) == 1:
        return _saw(house, word, happened)
    if word == "drop" and len(what) == 1:
        return _dropped(house)
    return _begun(house, what, happened, lot, warm)


def _begun(
    house: House, what: Sequence[str], happened: datetime, lot: str | None, warm: tuple[str | None, str | None]
) -> list[str]:
    from mixclock.job.amounts import mixed_density
    from mixclock.job.cups import HOW_TO, Cup, refuse
    from mixclock.job.saying import CannotTellError
    from mixclock.job.statements.bucket import product_and_amount
    from mixclock.outside.profilefiles import find
    from mixclock.units import temp_c

    product, size = product_and_amount(what)
    if size is None:
        raise CannotTellError("how much is in the cup? say grams, such as '150 g'")
    profile = find(product).profile
    density = mixed_density(profile)
    if size.mass_kg is None and density is None:
        raise CannotTellError("a cup is weighed: say grams, such as '150 g'")
    mass_kg = size.mass_kg if size.mass_kg is not None else (size.volume_l or 0.0) * (density or 0.0)
    refuse(profile, mass_kg)
    material_c, air_c = (read(temp_c, typed, name) for typed, name in zip(warm, ("--material", "--air"), strict=True))
    air_c = air_c if air_c is not None else material_c if material_c is not None else ROOM_C
    made = Cup(profile.name, lot or "", mass_kg, happened, air_c if material_c is None else material_c, air_c)
    house.cups.keep((*house.cups.all(), made))
    assumed = [] if material_c is not None else [f"pails taken to be {made.material_c:.0f} °C: say --material"]
    no_lot = [] if lot else ["no lot was named: it counts for batches without one; say --lot"]
    return [f"Cup of {mass_kg * 1000.0:.0f} g of {profile.name} begun.", *assumed, *no_lot, *HOW_TO]


def _last(house: House) -> tuple[tuple[Cup, ...], Cup]:
    from mixclock.job.saying import CannotTellError

    cups = house.cups.all()
    if not cups:
        raise CannotTellError("no cup was begun; begin one with `mixclock cup PRODUCT '150 g' --lot LOT`")
    return cups[:-1], cups[-1]


def _read(house: House, typed: str, happened: datetime) -> list[str]:
    from mixclock.job.saying import CannotTellError
    from mixclock.units import temp_c

    before, last = _last(house)
    value_c = read(temp_c, typed, "reading")
    assert value_c is not None
    if not -20.0 <= value_c <= 300.0:
        raise CannotTellError(f"{value_c:g} °C is outside -20 to 300 °C; mend it")
    after = last.but(read=(*last.read, (last.since_s(happened), value_c)))
    house.cups.keep((*before, after))
    hot = ["It is hot: outside, away from anything that burns, spread it thin while it can be held."]
    return [f"Cup: {value_c:g} °C after {last.since_s(happened) / 60.0:.0f} min.", *(hot if value_c >= 60.0 else [])]


def _saw(house: House, sign: str, happened: datetime) -> list[str]:
    from mixclock.job.cups import ENDING

    before, last = _last(house)
    since_s = last.since_s(happened)
    if sign not in ENDING:
        return ["Outside, away from anything that burns; smoking: don't lift it, get away from it. No water, no lid."]
    if last.end_s is not None and last.end_s <= since_s:
        return [f"It had ended after {last.end_s / 60.0:.0f} min ({last.end}); that stays."]
    ended = last.but(end=sign, end_s=since_s)
    house.cups.keep((*before, ended))
    return _shown(house, ended)


def _dropped(house: House) -> list[str]:
    before, last = _last(house)
    house.cups.keep(before)
    lot = last.lot or "not named"
    return [f"Cup of {last.product}, lot {lot}, is dropped: batches mixed from now on know nothing of it."]


def _shown(house: House, cup: Cup) -> list[str]:
    """Sheet beside cup, the lot's factor, and what may come of it."""
    ended = "" if cup.end_s is None else f", {cup.end} after {cup.end_s / 60.0:.0f} min"
    head = (
        f"{cup.product}, lot {cup.lot or 'not named'}: {cup.mass_kg * 1000.0:.0f} g at {cup.material_c:.0f} °C{ended}"
    )
    if cup.end_s is None:
        return [head]
    sheet_s = house.cups.by_sheet_s(cup)
    if sheet_s is None:
        return [head]
    factor = cup.end_s / sheet_s
    how = f"{abs(factor - 1.0) * 100.0:.0f} % {'slower' if factor > 1.0 else 'faster'} than the sheet"
    then = "it shortens this lot's buckets" if factor < 1.0 else "it lengthens nothing until a second cup agrees"
    return [head, f"  by the sheet such a cup ends after about {sheet_s / 60.0:.0f} min: {how}; {then}"]


def _told(cup: Cup) -> dict[str, Any]:
    from mixclock.job.instants import json_text

    return {
        "product": cup.product,
        "lot": cup.lot,
        "mass_kg": cup.mass_kg,
        "began": json_text(cup.began),
        "material_c": cup.material_c,
        "air_c": cup.air_c,
        "readings": [{"after_s": at_s, "temp_c": temp_c} for at_s, temp_c in cup.read],
        "end": cup.end,
        "end_s": cup.end_s,
    }
