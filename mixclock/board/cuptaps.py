"""Takes a phone's word on a test cup: checks it, keeps it, and answers as the command would."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from mixclock.board.house import CupStatement, RefusedError
from mixclock.job.cups import ENDING, SIGNS, Cup
from mixclock.words.cupwords import SMOKE_LINE, beside_sheet, read_lines

if TYPE_CHECKING:
    from mixclock.wiring import House

GONE = "that cup is not running any more: look at the laptop"


def read_cup(body: Mapping[str, Any]) -> CupStatement:
    """Read a statement about a cup from what a phone sent. Raises `RefusedError`."""
    try:
        began = datetime.fromisoformat(str(body.get("began"))).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise RefusedError("say which cup by when it began") from error
    temp_c, sign = body.get("temp_c"), body.get("sign")
    if sign is not None and sign not in SIGNS:
        raise RefusedError(f"a cup shows one of {', '.join(SIGNS)}")
    if (sign is None) == (temp_c is None):
        raise RefusedError("say how warm the cup is, or what it shows")
    if temp_c is not None and (isinstance(temp_c, bool) or not isinstance(temp_c, int | float)):
        raise RefusedError("a temperature is a number of degrees Celsius")
    return CupStatement(began, None if temp_c is None else float(temp_c), sign)


def say_of_cup(house: House, said: CupStatement, at: datetime) -> list[str]:
    """Keep it, and say what follows from it."""
    cup = next((cup for cup in house.cups.running(at) if cup.began == said.began), None)
    if cup is None:
        raise RefusedError(GONE)
    if said.temp_c is not None:
        house.cups.change(cup, cup.with_reading(said.temp_c, at))
        return read_lines(cup, said.temp_c, at, house.units())
    return _seen(house, cup, said.sign or "", at)


def _seen(house: House, cup: Cup, sign: str, at: datetime) -> list[str]:
    if sign not in ENDING:
        return [SMOKE_LINE]
    ended = house.cups.change(cup, cup.with_end(sign, at))
    return beside_sheet(ended, house.cups.by_sheet_s(ended), house.units())
