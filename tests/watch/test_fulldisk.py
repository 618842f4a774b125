"""The disk is full and the laptop starts anew: the crew is called all the same, and told that nothing is recorded."""

from __future__ import annotations

import contextlib
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from mixclock.outside.unrecorded import UnrecordedEntries
from mixclock.wiring import open_house
from tests.realparts.bus import RecordingServer, SessionBus
from tests.watch.sheds import CLOCK, JOB, QUICK, ROOT, Watching

pytestmark = pytest.mark.usefixtures("small_home")


@pytest.fixture
def small_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    home = tmp_path / "home"
    home.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", str(home)], check=False)
    if made.returncode != 0:
        pytest.skip("this machine does not allow a small disk to be mounted")
    monkeypatch.setenv("MIXCLOCK_HOME", str(home))
    (home / "profiles").mkdir()
    (home / "profiles" / "quick.toml").write_text(QUICK.format(pot_life="8 s", mixing="2 s"))
    yield home
    subprocess.run(["umount", "-l", str(home)], check=True)


def fill(home: Path) -> None:
    """Not a byte is left, and no reserve either."""
    for reserve in home.glob("*.reserve"):
        reserve.unlink()
    with (home / "films").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x" * 65536)
    with (home / "more films").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x")


def test_a_watch_that_starts_on_a_full_disk_calls_what_it_can_read_and_says_that_nothing_is_recorded(
    small_home: Path, bus: SessionBus, server: RecordingServer
) -> None:
    with open_house(small_home, CLOCK) as house:
        house.start(JOB)
    env = {"PATH": "/usr/bin:/bin", "MIXCLOCK_HOME": str(small_home), "PYTHONPATH": str(ROOT), "TZ": "UTC", **bus.env}
    state = [sys.executable, "-m", "mixclock.cli", "mixing", "Quick base", "1 L", "--on", "bay 1"]
    assert subprocess.run(state, env=env, check=False).returncode == 0
    edge = CLOCK.now() + timedelta(seconds=8)
    fill(small_home)
    words = [sys.executable, "-m", "mixclock.cli", "watch", "--plain", "--no-sound", "--port", "0"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)
    watching = Watching(process, CLOCK.monotonic_s())
    try:
        unrecorded = server.wait_for(lambda note: "recorded" in note.body)
        assert "Not being recorded" in unrecorded.body
        note = server.wait_for(lambda note: "b1.pour-out" in note.alert_id)
        # a machine that is busy may need longer to start it than the bucket lasts: late counts from its first call then
        assert note.unix_s - max(edge.timestamp(), unrecorded.unix_s) <= 2.5
        (small_home / "films").unlink()
        with open_house(small_home, CLOCK) as house:

            def kinds() -> set[str]:
                return {entry.facts.kind for entry in house.entries()}

            until_s = CLOCK.monotonic_s() + 15
            while "raised" not in kinds() and CLOCK.monotonic_s() < until_s:
                CLOCK.sleep(0.2)
            assert "raised" in kinds(), "what was called out meanwhile is written as soon as there is room"
        assert watching.end(signal.SIGTERM) == 0
    finally:
        process.kill()
        process.wait()
        assert process.stdout is not None
        process.stdout.close()


def test_what_is_stated_while_the_book_may_not_be_written_is_kept_and_written_later(
    small_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from mixclock.job.entry import Noted
    from mixclock.outside.bookerrors import DiskFullError

    with open_house(small_home, CLOCK) as house:
        house.start(JOB)
    unrecorded = UnrecordedEntries()
    path = small_home / "book.sqlite3"
    with Book(path, SystemClock(), unrecorded) as one, Book(path, SystemClock(), unrecorded) as other:
        broken: Callable[..., Any] = lambda *_: (_ for _ in ()).throw(DiskFullError("the disk is full"))  # noqa: E731
        monkeypatch.setattr(one, "_append", broken)
        written = one.append("Boat shed", Noted("on a full disk"))
        assert other.entries("Boat shed")[-1] == written
        assert len(unrecorded) == 1
        monkeypatch.undo()
        monkeypatch.setenv("MIXCLOCK_HOME", str(small_home))
        one.append("Boat shed", Noted("there is room again"))
        assert len(unrecorded) == 0
    with Book(path, SystemClock()) as again:
        assert [e.facts for e in again.entries("Boat shed")][1:] == [
            Noted("on a full disk"),
            Noted("there is room again"),
        ]


def test_on_a_full_disk_what_only_reads_is_answered_and_what_would_write_is_refused(
    small_home: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    from mixclock.job.entry import Noted
    from mixclock.outside.bookerrors import ShutError

    with open_house(small_home, CLOCK) as house:
        house.start(JOB)
    fill(small_home)
    with open_house(small_home, CLOCK) as house:
        assert len(house.entries()) == 1
        with pytest.raises(ShutError, match="look for a full disk"):
            house.book.append("Boat shed", Noted("on a full disk"))
    assert "this was read from it, and nothing was kept" in capfd.readouterr().err
    with pytest.raises(ShutError), open_house(small_home, CLOCK) as house:
        house.book.append("Boat shed", Noted("a refusal is one line"))
    assert capfd.readouterr().err == ""
    (small_home / "films").unlink()
    with open_house(small_home, CLOCK) as house:
        house.book.append("Boat shed", Noted("there is room"))
        assert len(house.entries()) == 2
        assert house.book.only_read is None


def test_a_book_shut_for_the_second_time_is_read_as_it_is_and_not_as_it_was(small_home: Path) -> None:
    from mixclock.job.entry import Noted
    from mixclock.outside.clock import FakeClock

    with open_house(small_home, CLOCK) as house:
        house.start(JOB)
    clock = FakeClock(CLOCK.now())
    fill(small_home)
    with Book(small_home / "book.sqlite3", clock, UnrecordedEntries()) as book:
        assert len(book.entries("Boat shed")) == 1
        (small_home / "films").unlink()
        clock.advance(6)
        book.append("Boat shed", Noted("there is room"))
        assert book.connection._snapshot is None


def test_a_phone_that_is_paired_on_a_full_disk_stays_paired_and_one_that_is_dropped_stays_dropped(
    small_home: Path,
) -> None:
    from mixclock.board.joining import JoinedHouse
    from mixclock.board.phones import Phones
    from mixclock.outside.clock import FakeClock

    with open_house(small_home, CLOCK) as house:
        house.start(JOB)
    clock = FakeClock(CLOCK.now())
    with open_house(small_home, clock) as house:
        lost = Phones(JoinedHouse(house))
        phone, _ = lost.pair(lost.secret(clock.now()), "lost", clock.now())
    fill(small_home)
    with open_house(small_home, clock, UnrecordedEntries()) as house:
        joined = JoinedHouse(house)
        phones = Phones(joined)
        phones.drop(phone.id)
        held, token = phones.pair(phones.secret(clock.now()), "phone", clock.now())
        assert phones.of_token(token) == held
        (small_home / "films").unlink()
        clock.advance(6)
        joined.version()
    with open_house(small_home, clock) as house:
        assert [each["id"] for each in Phones(JoinedHouse(house)).listed()] == [held.id]
