"""A laptop on battery watches an idle floor all day: the watch wakes seldom, holds little, and misses nothing."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.job.statements import NotedStatement
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from mixclock.outside.stillness import ASKED_EVERY_S, STANDS_AFTER_S
from mixclock.watch.daemon import TICK_S
from mixclock.watch.running import RESTS_S, SignalFlag, told_by_signal
from mixclock.watch.setup import daemon_for, wanted_channels
from mixclock.wiring import open_house
from tests.watch.sheds import Shed

SPARED = {
    "rich": "only a terminal draws a table",
    "numpy": "an idle floor asks for one bucket at a time",
    "pint": "a book holds no typed units",
    "sqlite_utils": "the book is plain sqlite3",
    "PIL": "no picture comes",
    "segno": "a code is drawn for `--lan`, or when somebody asks",
    "statistics": "nobody has poured yet",
    "wave": "a sound was written when it was first made",
    "mixclock.decide.why": "nobody asks why",
    "mixclock.words.record": "nobody prints a record",
    "mixclock.words.rounds": "nobody makes a round",
    "mixclock.decide.plan.days.planner": "one more bucket needs no whole plan",
    "mixclock.decide.plan.search.solver": "the same",
    "mixclock.decide.plan.judge": "the same",
    "mixclock.outside.sensors": "no sensor sends",
    "mixclock.board.officepage": "nobody in the office looks",
    "anyio._backends._asyncio": "a stream is sent by the loop itself",
    "ssl": "a page is served in plain http",
    "importlib.metadata": "the scheduler needs no plug-ins",
    "multiprocessing": "a look is a thread's",
    "click": "uvicorn is not begun by a command of its own",
    "http.client": "nobody is asked over the network",
    "html": "no page is made",
}
"""What a watch with its board has not loaded beside an idle floor, and why it need not."""

IDLE = """
import json, sys
from mixclock.outside.leanimports import import_lean
import_lean()
from mixclock.board.joining import JoinedHouse
from mixclock.board.server import BoardServer
from mixclock.watch.setup import daemon_for, wanted_channels
from mixclock.watch import folders, running, screen, whichscreen
from mixclock.wiring import open_house

with open_house() as house:
    daemon = daemon_for(house, wanted_channels(house, None, sound=False), print)
    server = BoardServer(lambda: JoinedHouse(open_house()), house.clock, port=0)
    daemon.look()
    beside, now = JoinedHouse(open_house()), house.clock.now()
    assert beside.next_kit(now)["answer"]
    assert beside.snapshot(now)["job"] == house.book.current_job()
    print(json.dumps(sorted(sys.modules)))
"""


def test_beside_an_idle_floor_the_watch_and_its_board_have_loaded_nothing_that_they_can_do_without(
    make_shed: Callable[..., Shed],
) -> None:
    shed = make_shed()
    ran = subprocess.run(
        [sys.executable, "-c", IDLE], env=shed.env, capture_output=True, text=True, check=False, timeout=60
    )
    assert ran.returncode == 0, ran.stderr
    loaded = set(json.loads(ran.stdout.splitlines()[-1]))
    assert "mixclock.decide.plan.days.nextkit" in loaded
    assert {name: why for name, why in SPARED.items() if name in loaded} == {}


def test_what_another_program_states_is_read_at_the_next_look_and_a_still_book_is_not_asked(
    make_shed: Callable[..., Shed], monkeypatch: pytest.MonkeyPatch
) -> None:
    shed = make_shed()
    ticker = daemon_for(shed.house, wanted_channels(shed.house, None, sound=False), print).ticker
    ticker.tick()
    SystemClock().sleep(STANDS_AFTER_S)
    ticker.tick()  # from here on the book's files tell that nothing was written
    asked: list[object] = []
    honest = Book.data_version
    monkeypatch.setattr(Book, "data_version", lambda book: asked.append(book) or honest(book))
    ticker.tick()
    assert not asked, "a still book was asked"
    with open_house(shed.home) as other:
        other.state(NotedStatement("heater lit"))
    ticked = ticker.tick()
    assert ticked is not None
    assert ticked.changed, "a statement that nobody told of is seen at the next look"


def test_even_a_disk_that_keeps_no_times_hides_a_statement_for_less_than_the_two_seconds_of_the_promise() -> None:
    assert ASKED_EVERY_S + TICK_S < 2.0
    assert TICK_S <= 0.5


def test_a_look_in_a_hurry_tells_sqlite_so_once_and_what_follows_waits_long_again(tmp_path: Path) -> None:
    with Book(tmp_path / "book.db", SystemClock()) as book:
        connection, told = book.connection.own(), list[str]()
        connection.set_trace_callback(told.append)
        for _ in range(3):
            with book.hurried(0.15):
                book.data_version()
        assert [line for line in told if "busy_timeout" in line] == ["PRAGMA busy_timeout = 150"]
        book.data_version()
        assert told[-3:-1] == ["PRAGMA busy_timeout = 10000", "PRAGMA wal_autocheckpoint = 1000"]


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="not installed: a signal for a shut terminal")
def test_a_terminal_that_is_shut_wakes_a_watch_that_draws_nothing_at_once() -> None:
    stop, shut, clock = SignalFlag(), SignalFlag(), SystemClock()
    with told_by_signal(stop, shut):
        began_s = clock.monotonic_s()
        os.kill(os.getpid(), signal.SIGHUP)
        assert stop.wait(RESTS_S) is False
        assert shut.is_set()
        assert clock.monotonic_s() - began_s < RESTS_S / 2


def test_a_watch_that_python_tells_late_of_a_signal_hears_of_it_within_three_seconds() -> None:
    """A signal that comes in the instant before the main thread lies down wakes nobody: it is told when that thread
    wakes by itself. A watch that was told to end then went on for half a minute."""
    stop, clock = SignalFlag(), SystemClock()
    late = threading.Timer(0.1, lambda: setattr(stop, "_is_set", True))
    began_s = clock.monotonic_s()
    late.start()
    while not stop.wait(RESTS_S):
        assert clock.monotonic_s() - began_s < 3.0
    assert 0.1 <= clock.monotonic_s() - began_s < 3.0
