"""A folder into which a logger's program exports."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mixclock.job.entry import Reading
from mixclock.outside.clock import FakeClock
from mixclock.outside.loggerfolders import FolderWatch, LoggerFolder, follow, followed, leave
from mixclock.watch.folders import FolderThread
from mixclock.wiring import House

START = datetime(2026, 4, 13, 12, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(START)


@pytest.fixture
def folder(tmp_path: Path, house: House) -> Path:
    made = tmp_path / "exports"
    made.mkdir()
    follow(house.book, LoggerFolder(str(made), "Pottery studio floor", slab=True, zone="UTC"))
    return made


def export(path: Path, rows: int, at: datetime) -> None:
    """A logger's file as it stood at an instant, with a row for each quarter of an hour."""
    first = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
    lines = [f"{first + timedelta(minutes=15 * row):%Y-%m-%d %H:%M:%S},{15.0 + 0.6 * (row % 2)}" for row in range(rows)]
    path.write_text("Timestamp,Temperature_Celsius\n" + "\n".join(lines) + "\n")
    os.utime(path, (at.timestamp(), at.timestamp()))


def slabs(house: House) -> list[float | None]:
    return [each.facts.slab_c for each in house.entries() if isinstance(each.facts, Reading)]


def test_what_falls_into_the_folder_is_in_the_log_once_and_what_is_added_later_too(
    house: House, folder: Path, clock: FakeClock
) -> None:
    watch = FolderWatch(house.book)
    export(folder / "shed.csv", 4, clock.now() - timedelta(minutes=1))
    assert watch.look(clock.now()) == ("shed.csv: 4 readings taken",)
    assert watch.look(clock.now()) == ()
    clock.advance(31.0)
    assert watch.look(clock.now()) == (), "nothing has changed"
    clock.advance(900.0)
    export(folder / "shed.csv", 6, clock.now() - timedelta(minutes=1))
    assert watch.look(clock.now()) == ("shed.csv: 2 readings taken",)
    assert FolderWatch(house.book).look(clock.now()) == (), "a watch that starts again takes nothing twice"
    assert len(slabs(house)) == 6


def test_a_file_that_is_being_written_is_left_until_it_is_whole(house: House, folder: Path, clock: FakeClock) -> None:
    watch = FolderWatch(house.book)
    export(folder / "shed.csv", 4, clock.now() - timedelta(seconds=2))
    assert watch.look(clock.now()) == ()
    clock.advance(31.0)
    assert watch.look(clock.now()) == ("shed.csv: 4 readings taken",)


def test_a_file_that_cannot_be_read_is_told_once_and_keeps_no_other_out(
    house: House, folder: Path, clock: FakeClock
) -> None:
    watch = FolderWatch(house.book)
    (folder / "a.csv").write_text("no,headings\n1,2\n")
    os.utime(folder / "a.csv", (0, 0))
    export(folder / "b.csv", 4, clock.now() - timedelta(minutes=1))
    told = watch.look(clock.now())
    assert [line.partition(":")[0] for line in told] == [str(folder / "a.csv"), "b.csv"]
    clock.advance(60.0)
    assert watch.look(clock.now()) == ()


def test_a_folder_that_is_gone_is_said_and_can_be_left(house: House, folder: Path, clock: FakeClock) -> None:
    folder.rmdir()
    (line,) = FolderWatch(house.book).look(clock.now())
    assert str(folder) in line
    assert leave(house.book, str(folder))
    assert not leave(house.book, str(folder))
    assert followed(house.book) == ()


def test_a_defect_while_a_folder_is_looked_at_ends_nothing(
    house: House, clock: FakeClock, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    thread = FolderThread(house.book, clock, told.append, told.append)
    monkeypatch.setattr("mixclock.outside.loggerfolders.followed", lambda _: 1 / 0)
    thread.look()
    assert "ZeroDivisionError" in told[0]
