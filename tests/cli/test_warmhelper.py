"""With the watch running a command is answered by a warm process; without it, or with a bad one, as it always was."""

from __future__ import annotations

import json
import os
import re
import signal
import socket
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import replace
from pathlib import Path

import pytest

from mixclock import warmclient
from mixclock.cli import cutoff
from mixclock.cli.warmhelper import WARM
from mixclock.cli.warmsheets import SHEET, TextReader, TextTeller, lines_of
from mixclock.job.batchbuilding import cached_profile
from mixclock.outside.clock import SystemClock
from mixclock.outside.followedjob import FollowedJob
from mixclock.wiring import BOOK_NAME, open_house
from tests.running import THE_MACHINES, Ran, Runner

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="not installed: a system that forks")

CLOCK = SystemClock()
MIXED = ("mixed", "Slow epoxy base", "6 L", "--coat", "base", "--on", "bay 1", "--material", "19 C")
Helper = subprocess.Popen[bytes]


@pytest.fixture
def run(run: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """The commands of this process go by the hour of those that others answer."""
    monkeypatch.setattr(SystemClock, "now", THE_MACHINES)
    return run


@pytest.fixture
def begin(studio: Callable[..., Ran], home: Path) -> Iterator[Callable[[], Helper]]:
    """Begins the warm process of a home with a job. It ends with the test, also where it never served."""
    with ExitStack() as ending:

        def begun() -> Helper:
            process = subprocess.Popen(
                [sys.executable, "-m", "mixclock.cli.warmhelper", str(home)],
                env=Runner(home).environment(),
                stdin=subprocess.PIPE,
            )
            ending.callback(end, process)
            until(lambda: process.poll() is not None or (home / warmclient.SOCKET).exists())
            assert process.poll() is None, "it ended before it served; what it said stands under captured stderr"
            return process

        yield begun


def end(process: Helper) -> None:
    """As its watch ends: nothing is told any more. One that was stopped goes on first."""
    with process:
        assert process.stdin is not None
        process.stdin.close()
        process.send_signal(signal.SIGCONT)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            raise


@pytest.fixture
def helper(begin: Callable[[], Helper]) -> Helper:
    """The warm process of a home with a job."""
    return begin()


def until(true: Callable[[], object], within_s: float = 60.0) -> None:
    """Wait for what surely comes; how soon is no promise, and a busy machine takes its time."""
    end_s = CLOCK.monotonic_s() + within_s
    while not true():
        assert CLOCK.monotonic_s() < end_s, f"not within {within_s:g} s"
        CLOCK.sleep(0.01)


def asking(home: Path, *words: str, **more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "mixclock", *words],
        env={**Runner(home).environment(), **more},
        cwd=home,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        preexec_fn=hears_ctrl_c,
    )


def hears_ctrl_c() -> None:
    """What a shell starts in the background ignores Ctrl-C, and so does all below it; a crew's command hears it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def ask(home: Path, *words: str, **more: str) -> Ran:
    with asking(home, *words, **more) as process:
        out, err = process.communicate(timeout=30)
    return Ran(process.returncode, out, err)


def stated(home: Path) -> list[str]:
    """The notes in the book."""
    with sqlite3.connect(home / BOOK_NAME) as book:
        return [facts for (facts,) in book.execute("SELECT facts FROM entries WHERE kind = 'noted' ORDER BY number")]


def forks_of(process: Helper) -> list[int]:
    told = Path(f"/proc/{process.pid}/task/{process.pid}/children")
    if not told.exists():
        pytest.skip("not installed: a system that tells the children of a process")
    return [int(pid) for pid in told.read_text().split()]


TIMES = re.compile(r"(yesterday )?\d+")


def alike(told: Ran) -> Ran:
    """An answer without what two askings differ in: times, at midnight the day, and the numbers of entries."""
    return replace(told, out=TIMES.sub("N", told.out), err=TIMES.sub("N", told.err))


ASKED = (
    ("noted", "− ≥ é", "--json"), ("poured", "99"), ("poured", "99", "--json"), ("now",), ("now", "--at", "1999-01-01"),
    ("next",), ("reading", "--slab", "-5 C"), ("reading", "--foo"), ("noted", "--help"),
)  # fmt: skip


def test_a_warm_answer_is_the_cold_one(helper: Helper, home: Path, studio: Callable[..., Ran]) -> None:
    studio(*ASKED[6])  # what it states would change what `now` answers
    forks = [ask(home, *words) for words in ASKED]
    cold = [studio(*words) for words in ASKED]
    assert [alike(told) for told in forks] == [alike(told) for told in cold]


def test_a_command_runs_in_a_fork_in_its_own_folder_and_environment(helper: Helper, home: Path) -> None:
    assert ask(home, "now", MIXCLOCK_JOB="no such job").code == 2
    assert ask(home, "noted", "warm").code == 0
    assert len(stated(home)) == 1
    until(lambda: not forks_of(helper))
    mode = (home / warmclient.SOCKET).stat().st_mode
    assert (stat.S_IMODE(mode), stat.S_ISSOCK(mode)) == (0o600, True)


def test_a_helper_that_hangs_costs_a_moment_and_nothing_is_stated_twice(helper: Helper, home: Path) -> None:
    os.kill(helper.pid, signal.SIGSTOP)
    assert ask(home, "noted", "once").code == 0
    os.kill(helper.pid, signal.SIGCONT)
    assert ask(home, "noted", "then").code == 0
    assert len(stated(home)) == 2


def test_a_helper_ends_with_its_watch_and_leaves_nothing(helper: Helper, home: Path) -> None:
    assert helper.stdin is not None
    helper.stdin.close()
    assert helper.wait(60) == 0
    assert not (home / warmclient.SOCKET).exists()


def test_a_helper_that_was_killed_is_passed_over(helper: Helper, home: Path) -> None:
    helper.kill()
    helper.wait()
    assert (home / warmclient.SOCKET).exists()
    assert ask(home, "noted", "cold").code == 0
    assert len(stated(home)) == 1


@pytest.mark.parametrize("killed", ["the command", "the helper", "both"])
def test_a_kill_in_the_middle_states_once(helper: Helper, home: Path, killed: str) -> None:
    with sqlite3.connect(home / BOOK_NAME, isolation_level=None) as book:
        book.execute("BEGIN IMMEDIATE")
        asked = asking(home, "noted", "once")
        until(lambda: forks_of(helper))
        (fork,) = forks_of(helper)
        if killed != "the command":
            helper.kill()
        if killed != "the helper":
            os.kill(fork, signal.SIGKILL)
        CLOCK.sleep(0.05)
        book.execute("ROLLBACK")
    asked.communicate(timeout=30)
    assert (asked.returncode, len(stated(home))) == (0, 1)


def test_ctrl_c_reaches_the_command(helper: Helper, home: Path) -> None:
    with sqlite3.connect(home / BOOK_NAME, isolation_level=None) as book:
        book.execute("BEGIN IMMEDIATE")
        asked = asking(home, "noted", "never")
        until(lambda: forks_of(helper))
        CLOCK.sleep(0.1)
        asked.send_signal(signal.SIGINT)
        CLOCK.sleep(0.1)
        book.execute("ROLLBACK")
    asked.communicate(timeout=30)
    assert (asked.returncode, stated(home)) == (130, [])


def test_whoever_is_gone_takes_his_command_along(helper: Helper, home: Path) -> None:
    with sqlite3.connect(home / BOOK_NAME, isolation_level=None) as book:
        book.execute("BEGIN IMMEDIATE")
        asked = asking(home, "noted", "never")
        until(lambda: forks_of(helper))
        asked.kill()
        asked.communicate()
        until(lambda: not forks_of(helper))
        book.execute("ROLLBACK")
    assert stated(home) == []


def test_strange_words_on_the_socket_harm_nobody(helper: Helper, home: Path) -> None:
    for told in (b"", b"\0\0\0\1", b"\xff\xff\xff\xffxx", b"\0\0\0\4a\0b\0", os.urandom(64)):
        with socket.socket(socket.AF_UNIX) as stranger:
            stranger.connect(str(home / warmclient.SOCKET))
            stranger.sendall(told)
    assert ask(home, "noted", "after").code == 0
    assert helper.poll() is None


def test_what_asks_back_or_runs_long_is_never_warm() -> None:
    assert {"mixed", "poured", "reading", "now"} <= WARM
    assert WARM.isdisjoint(
        {"watch", "rehearse", "plan", "morning", "evening", "ready", "record", "selfcheck", "forecast"}
    )


def test_a_cut_answer_whose_statement_is_in_the_book_is_not_stated_again(
    studio: Callable[..., Ran], capfd: pytest.CaptureFixture[str]
) -> None:
    begun_s = warmclient.boot_s()
    assert cutoff.after_a_cut(["noted", "heater lit"], begun_s) is None
    assert studio("noted", "heater lit").code == 0
    assert cutoff.after_a_cut(["now"], begun_s) is None
    capfd.readouterr()
    assert cutoff.after_a_cut(["noted", "heater lit"], begun_s) == 1
    assert "entry 2: noted" in capfd.readouterr().err


def test_what_the_watch_tells_is_read_once_and_every_fork_has_it(home: Path, studio: Callable[..., Ran]) -> None:
    assert studio(*MIXED).code == 0
    with open_house() as house:
        told = list(lines_of(house.entries()))
    sheets = [json.loads(line)[1] for line in told if json.loads(line)[0] == SHEET]
    read, write = os.pipe()
    os.write(write, b"".join([b"not a line\n", *told[:-1], told[-1][:20]]))
    texts = TextReader(read)
    assert texts.read()
    os.write(write, told[-1][20:])
    assert texts.read()
    before = cached_profile.cache_info().hits
    assert [cached_profile(text).name for text in sheets] == ["Slow epoxy base"]
    assert cached_profile.cache_info().hits == before + 1
    os.close(write)
    assert not texts.read()
    os.close(read)


def test_the_watch_tells_each_sheet_once_and_never_waits_for_its_helper(studio: Callable[..., Ran]) -> None:
    assert studio(*MIXED).code == 0
    with open_house() as house:
        followed = FollowedJob(house.job(), lambda _: ())
        followed.refresh(house.book)
        lines = b"".join(lines_of(house.entries()))
        read, write = os.pipe()
        texts = TextTeller(write)
        texts.tell([followed, followed])
        assert os.read(read, 1 << 16) == lines
        assert studio(*MIXED).code == 0
        followed.refresh(house.book)
        texts.tell([followed])
        os.set_blocking(read, False)
        with pytest.raises(BlockingIOError):
            os.read(read, 1)
        full = TextTeller(write)
        with suppress(BlockingIOError):
            while os.write(write, b" " * 4096):
                pass
        full.tell([followed])  # comes back, though nobody reads
        os.close(read)
        os.close(write)
