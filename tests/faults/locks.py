"""Another program holds the book; two watches; two first starts at once."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

from mixclock.outside.book import Book
from mixclock.outside.bookcheck import verify
from mixclock.outside.clock import FakeClock, SystemClock
from mixclock.watch import tick
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site
from tests.faults.jobdays import MODEL, dice, mix
from tests.faults.oneshot import MORNING
from tests.faults.syscalls import ROOT
from tests.faults.table import Counted

CLOCK = SystemClock()
HELD_S = 60.0
WITHIN_S = 5.0


def held_books(trials: int, broken: bool) -> Counted:
    """A foreign hand on the book for a minute while a bucket falls due; then what was called out is written."""
    counted = Counted()
    wait_s = tick.BOOK_WAIT_S
    tick.BOOK_WAIT_S = 8.0 if broken else wait_s  # the deliberate break: the daemon waits for the book
    try:
        for trial in range(trials):
            with tempfile.TemporaryDirectory(prefix="faults-") as made:
                _held(counted, Path(made), ("IMMEDIATE", "EXCLUSIVE")[trial % 2], trial)
    finally:
        tick.BOOK_WAIT_S = wait_s
    return counted


def _held(counted: Counted, home: Path, how: str, seed: int) -> None:
    path = home / "book.sqlite3"
    day = Day(site(bays=1), [BASE, TOP], book_of=lambda clock: Book(path, clock), model=MODEL)
    mix(day, 1)
    day.look()
    track = next(one for one in day.ticker.watched[day.job].tracks if one.name == "pour-out")
    assert track.closing is not None
    day.until(track.closing.early - timedelta(seconds=1 + dice(seed).random()))
    called = len(day.desktop.sent)
    other = sqlite3.connect(path, isolation_level=None)
    other.execute(f"BEGIN {how}")
    day.clock.set(track.closing.early + timedelta(seconds=0.4))
    began_s = CLOCK.monotonic_s()
    day.look()
    counted.trials += 1
    counted.late(CLOCK.monotonic_s() - began_s, WITHIN_S, f"the call while another held the book ({how})")
    if not any("b1.pour-out" in message.alert_id for _, message in day.desktop.sent[called:]):
        counted.missed += 1
    day.clock.advance(HELD_S)  # the minute passes on the day's clock; the hand is still there
    other.execute("ROLLBACK")
    other.close()
    day.look()
    day.look()
    written = [entry.facts for entry in day.book.entries(day.job) if entry.facts.kind == "raised"]
    if not any(facts.alert == "b1.pour-out" for facts in written):
        counted.lost += 1
    day.book.close()


def first_starts(trials: int, broken: bool) -> Counted:
    """Two processes make the same new book at the same moment; nobody loses anything."""
    counted = Counted()
    script = (
        "import sys\nfrom pathlib import Path\nfrom mixclock.outside.book import Book\n"
        "from mixclock.outside.clock import SystemClock\nfrom mixclock.job.entry import Noted\n"
        "sys.stdin.readline()\n"
        "if sys.argv[3]:\n    import contextlib, mixclock.outside.filelock as lock\n"
        "    lock.held = lambda *a, **k: contextlib.nullcontext()\n"
        "book = Book(Path(sys.argv[1]), SystemClock())\n"
        "for n in range(5): book.append('job', Noted(f'{sys.argv[2]} {n}'))\nbook.close()\nprint('said')\n"
    )
    for _ in range(trials):
        with tempfile.TemporaryDirectory(prefix="faults-") as made:
            path = Path(made) / "book.sqlite3"
            asked = [sys.executable, "-c", script, str(path)]
            env = {**os.environ, "PYTHONPATH": str(ROOT)}
            pair = [
                subprocess.Popen(
                    [*asked, who, "x" if broken else ""],
                    stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env,
                )
                for who in ("mixer", "roller")
            ]  # fmt: skip
            CLOCK.sleep(0.3)
            for one in pair:
                assert one.stdin is not None
                one.stdin.write("go\n")
                one.stdin.flush()
            errors = [one.communicate(timeout=60)[1] for one in pair]
            counted.trials += 1
            with Book(path, FakeClock(MORNING)) as book:
                kept = len(book.entries("job"))
                wrong = verify(book)
            done = sum(one.returncode == 0 for one in pair)
            counted.lost += max(0, 5 * done - kept)
            if done < 2 or wrong:
                counted.fail(f"two first starts: {wrong or [error[-150:] for error in errors]}")
    return counted
