"""Another program holds the book; two watches; two first starts at once."""

from __future__ import annotations

import functools
import os
import sqlite3
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

from mixclock.outside.book import Book
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.clock import FakeClock
from mixclock.watch import tick
from mixclock.watch.bulletins import ANOTHER_WATCH, INTERRUPTED
from mixclock.watch.delivery import Delivery
from mixclock.watch.jobwatch import Reckoning
from mixclock.watch.tick import Ticker
from tests.days.clockwork import Day, RecordingChannel
from tests.days.shed import BASE, TOP, site
from tests.faults.forking import ROOT
from tests.faults.jobdays import MODEL, dice, mix
from tests.faults.oneshot import MORNING
from tests.faults.shutterminal import taken_over
from tests.faults.starving import Stopwatch, Took
from tests.faults.syscalls import RESTART_WITHIN_S
from tests.faults.table import CLOCK, Counted, each
from tests.outside.verified import verify

HELD_S = 60.0
WITHIN_S = 5.0
WHOLE_EVERY = 10
"""Every so manieth trial of two daemons has a whole watch killed, and another started in its place."""


def held_books(trials: int, broken: bool) -> Counted:
    """A foreign hand on the book for a minute while a bucket falls due; then what was called out is written."""
    counted = Counted()
    wait_s = tick.BOOK_WAIT_S
    tick.BOOK_WAIT_S = 5.5 if broken else wait_s  # the deliberate break: the daemon waits for the book
    try:
        for trial in each(trials):
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
    watch = Stopwatch()
    day.look()
    counted.trials += 1
    counted.judge(watch.took(), WITHIN_S, f"the call while another held the book ({how})")
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
    for _ in each(trials):
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


_WATCHES = (
    "import sys, time\nfrom pathlib import Path\nfrom mixclock.job.saying import CannotTellError\n"
    "from mixclock.outside.clock import SystemClock\nfrom mixclock.watch.oneonly import only_one\n"
    "from tests.faults.starving import account, starved_s\n"
    "if sys.argv[2:]:\n    print('ready', flush=True)\n    sys.stdin.readline()\n"
    "try:\n    with only_one(Path(sys.argv[1]), SystemClock()) as post:\n"
    "        print('watches', starved_s({}, account()), post.trouble or '', flush=True)\n        sys.stdin.readline()\n"
    "except CannotTellError as error:\n    print('refused', 0.0, error, flush=True)\n"
)


def two_daemons(trials: int) -> Counted:
    """One of two watches; after a kill the next one does. Where no lock can be had both call out, and say so."""
    counted = Counted()
    for trial in each(trials):
        counted.trials += 1
        with tempfile.TemporaryDirectory(prefix="faults-") as made:
            if trial % 2:
                (Path(made) / "watch.lock").mkdir()  # a home that can hold no lock
            _one_watches(counted, Path(made))
            _both_call_out(counted, Path(made) / "book.sqlite3")
        if trial % WHOLE_EVERY == 0:
            with tempfile.TemporaryDirectory(prefix="faults-", dir="/tmp") as made:
                counted.in_time(
                    functools.partial(taken_over, counted, Path(made)), RESTART_WITHIN_S, "a whole watch after a kill"
                )
    return counted


def _one_watches(counted: Counted, home: Path) -> None:
    watches = [_watch(home, "together"), _watch(home, "together")]
    try:
        said = _go(watches)
        if sorted(line.split()[0] for line in said) != ["refused", "watches"]:
            counted.fail(f"two watches at once said {said}")
            return
        if said[0].startswith("watches"):
            watches.reverse()  # the one that watches is the last
        counted.in_time(
            functools.partial(_next_watches, counted, home, watches), WITHIN_S, "a watch after one that was killed"
        )
    finally:
        for one in watches:
            one.kill()
            one.communicate()


def _next_watches(counted: Counted, home: Path, watches: list[subprocess.Popen[str]]) -> Took:
    """Kill the one that watches and start another: from its start, that of Python too, until it watches."""
    watches[-1].kill()
    began_s = CLOCK.monotonic_s()
    watches.append(_watch(home))
    assert watches[-1].stdout is not None
    said = watches[-1].stdout.readline()
    if not said.startswith("watches"):
        counted.miss(f"after a kill the next watch said {said}")
        return Took(0.0)
    return Took(CLOCK.monotonic_s() - began_s, float(said.split()[1]))


def _watch(home: Path, *how: str) -> subprocess.Popen[str]:
    env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"}
    pipe = subprocess.PIPE
    asked = [sys.executable, "-c", _WATCHES, str(home), *how]
    return subprocess.Popen(asked, stdin=pipe, stdout=pipe, stderr=subprocess.DEVNULL, text=True, env=env)


def _go(watches: Sequence[subprocess.Popen[str]]) -> list[str]:
    """Let them begin at the same moment; the first line of each."""
    for one in watches:
        assert one.stdout is not None
        one.stdout.readline()
    for one in watches:
        assert one.stdin is not None
        one.stdin.write("go\n")
        one.stdin.flush()
    return [one.stdout.readline().strip() for one in watches if one.stdout is not None]


def _is_marked(body: str) -> bool:
    return ANOTHER_WATCH in body or INTERRUPTED in body


def _both_call_out(counted: Counted, path: Path) -> None:
    """Two daemons' insides on one book, as in a folder that can hold no lock: two alerts are better than none."""
    day = Day(site(bays=1), [BASE, TOP], book_of=lambda clock: Book(path, clock), model=MODEL)
    mix(day, 1)
    day.look()
    track = next(one for one in day.ticker.watched[day.job].tracks if one.name == "pour-out")
    assert track.closing is not None
    with Book(path, day.clock) as book:
        channel = RecordingChannel(day.clock)
        delivery = Delivery(Sender((channel,)), book, day.clock, day.faults.append, day.run)
        other = Ticker(book, day.clock, delivery, Reckoning(MODEL, lambda: day.shelf), day.faults.append)
        day.clock.set(track.closing.early + timedelta(seconds=0.4))
        day.ticker.is_alone = other.is_alone = False
        looks = [threading.Thread(target=one.tick) for one in (day.ticker, other)]
        watch = Stopwatch()
        for look in looks:
            look.start()
        for look in looks:
            look.join()
        counted.judge(watch.took(), WITHIN_S, "the call of two daemons on one book")
        told = [m for _, m in (*day.desktop.sent, *channel.sent) if "b1.pour-out" in m.alert_id]
        if not told:
            counted.missed += 1
            counted.wrong.append("of two daemons neither called out")
        counted.repeated += max(0, len(told) - 1)
        plain = max(0, sum(not _is_marked(message.body) for message in told) - 1)
        if plain:
            counted.unmarked += plain
            counted.fail("two daemons called out the same, and neither said that it may come twice")
        if (wrong := verify(book)) is not None:
            counted.fail(f"two daemons on one book: {wrong}")
    day.book.close()
