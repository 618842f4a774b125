"""The book while the disk refuses its file: it is read from memory, and each thread goes back to the file by itself."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.bookconnection import BookConnection
from mixclock.outside.clock import FakeClock

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
THREADS = 6
"""The looks of a watch, its pages, its receipts and its copies are made by threads of their own."""


def test_once_there_is_room_every_thread_is_back_at_the_file_within_five_seconds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """They took turns: each that tried held the others off for five seconds more, and what had been called out was
    written half a minute later, or never where a new thread came first each time."""
    path, clock, refused = tmp_path / "book.sqlite3", FakeClock(MORNING), [True]
    with Book(path, clock) as book:
        book.append("Boat shed", Noted("heater lit"))
    opened = BookConnection._open_or_mend

    def open_if_it_may(connection: BookConnection) -> sqlite3.Connection:
        if refused:
            raise sqlite3.OperationalError("unable to open database file")
        return opened(connection)

    monkeypatch.setattr(BookConnection, "_open_or_mend", open_if_it_may)
    connection = BookConnection(path, clock, anyhow=True)
    threads = [ThreadPoolExecutor(1) for _ in range(THREADS)]

    def in_memory() -> list[bool]:
        return [each.submit(lambda: (connection.own(), connection.is_in_memory)[1]).result(20) for each in threads]

    assert in_memory() == [True] * THREADS
    refused.clear()
    clock.advance(5.0)
    assert in_memory() == [False] * THREADS
    for each in threads:
        each.shutdown()
