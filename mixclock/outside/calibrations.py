"""Keeps the calibrations of a product's bucket in the book, so that the next command need not find them again.

The key of a calibration is what it rests on: the sheet's pot life, with its mass, end and vessel. A profile that is
changed and changed back finds its old calibration, and an edited note loses none. A kept one saves some milliseconds
and no more, so a damaged one is simply made anew.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from hashlib import sha256

from mixclock import __version__
from mixclock.formulas import ensemble_members
from mixclock.formulas.ensemble import Calibration, SheetPot
from mixclock.outside.bookdrawers import Drawer, Drawers
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookrows import canonical

DRAWER: Drawer = "calibrations"


def kept_calibrations(drawers: Drawers) -> Callable[[SheetPot], Calibration]:
    """A function that gives a sheet's calibration: from this process, else from the book, else by calibrating."""
    known: dict[SheetPot, Calibration] = {}

    def calibration_of(sheet: SheetPot) -> Calibration:
        if sheet not in known:
            known[sheet] = _found(drawers, sheet) or _made(drawers, sheet)
        return known[sheet]

    return calibration_of


def key_of(sheet: SheetPot) -> str:
    """The key of a sheet's calibration. It holds the version too: another mixclock may calibrate otherwise."""
    return f"{__version__}:{sha256(canonical(sheet.as_told()).encode()).hexdigest()}"


def _found(drawers: Drawers, sheet: SheetPot) -> Calibration | None:
    """The kept calibration; None where there is none, or where it was altered."""
    try:
        kept = drawers.kept(DRAWER, key_of(sheet))
        if not isinstance(kept, str):
            return None
        calibration = _read_once(kept)
    except (ValueError, KeyError, TypeError, BookError):
        return None  # it is made anew, and put in the damaged one's place
    return calibration if calibration.sheet == sheet else None


@lru_cache(maxsize=16)
def _read_once(kept: str) -> Calibration:
    """The same text is the same calibration, and what was worked out by it is found again."""
    return Calibration.from_json(kept)


def _made(drawers: Drawers, sheet: SheetPot) -> Calibration:
    calibration = ensemble_members.calibrate_ensemble(sheet)
    # on a disk that is full or not ours to write to, the next command calibrates again and nothing is lost
    with suppress(BookError):
        drawers.keep(DRAWER, key_of(sheet), calibration.to_json())
    return calibration
