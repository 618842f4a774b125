"""A new book is made once, by the product, and copied wherever a test begins with an empty home: it takes a tenth."""

from __future__ import annotations

import sqlite3
from functools import cache

import pytest

from mixclock.outside import bookshape

MADE_BY_THE_PRODUCT = bookshape.bring_up_to_date


def copied_where_new(monkeypatch: pytest.MonkeyPatch) -> None:
    """From here on a new book is a copy. An older one is brought up to date as ever; so is all in other processes."""
    monkeypatch.setattr(bookshape, "bring_up_to_date", _brought_up_to_date)


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
