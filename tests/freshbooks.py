"""What every test with an empty home would have the product work out anew, worked out once, by the product.

A new book is copied, which takes a tenth; and a sheet that no book has a calibration of yet is calibrated once.
"""

from __future__ import annotations

import sqlite3
import sys
from functools import cache
from types import SimpleNamespace

import pytest

from mixclock.decide import bucketmodel
from mixclock.formulas.ensemble import Calibration, SheetPot
from mixclock.formulas.ensemble_members import calibrate_ensemble
from mixclock.outside import bookshape, calibrations

MADE_BY_THE_PRODUCT = bookshape.bring_up_to_date


def copied_where_new(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on a new book is a copy. An older one is brought up to date as ever; so is all in other processes."""
    monkeypatch.setattr(bookshape, "bring_up_to_date", _brought_up_to_date)


CALIBRATED_ONCE = cache(calibrate_ensemble)
"""One of the product's own memories by its name: where a fault is put into the product, it is forgotten like those."""


def calibrated_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on an equal sheet has the same calibration in all books, and in none: what was worked out by it is
    found again.

    Only where numpy is: where a test takes it away, plain Python works all of it out.
    """
    monkeypatch.setattr(bucketmodel, "calibrate_ensemble", _calibrated)
    monkeypatch.setattr(calibrations, "ensemble_members", SimpleNamespace(calibrate_ensemble=_calibrated))


def _calibrated(sheet: SheetPot) -> Calibration:
    return CALIBRATED_ONCE(sheet) if sys.modules.get("numpy") else calibrate_ensemble(sheet)


def _brought_up_to_date(connection: sqlite3.Connection) -> None:
    if connection.execute("SELECT count(*) FROM sqlite_master").fetchone() != (0,):
        MADE_BY_THE_PRODUCT(connection)
        return
    connection.execute("PRAGMA journal_mode = WAL")
    _new_book().backup(connection)


@cache
def _new_book() -> sqlite3.Connection:
    book = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    MADE_BY_THE_PRODUCT(book)
    return book
