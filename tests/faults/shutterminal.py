"""A watch on a terminal whose window is shut; what it says is heard on a socket.

`python -m tests.faults.shutterminal HOME SOCKET` is the watch; `shut_terminals` starts it, shuts its window and judges.
"""

from __future__ import annotations

import fcntl
import os
import signal
import subprocess
import sys
import tempfile
import termios
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from mixclock.job.entry import JobStarted, ProfileUsed
from mixclock.job.folding import fold
from mixclock.job.profilereading import read_profile
from mixclock.job.saying import Attribution
from mixclock.outside.book import Book
from mixclock.outside.channels.choosable import ChannelWishes
from mixclock.outside.channels.terminal import TerminalChannel
from mixclock.outside.clock import SystemClock
from mixclock.outside.unrecorded import UnrecordedEntries
from mixclock.watch.channels import channels_here
from mixclock.watch.running import run
from mixclock.watch.setup import daemon_for
from mixclock.watch.whichscreen import screen_for
from mixclock.wiring import BOOK_NAME, open_house
from tests.days.shed import BASE, TOP, site
from tests.faults.forking import ROOT
from tests.faults.oneshot import JOB, Line
from tests.faults.starving import Took
from tests.faults.syscalls import Ear, ear
from tests.faults.table import CLOCK, Counted, each
from tests.saying import as_said

TOLD_WITHIN_S = 5.0
STARTS_WITHIN_S = 40.0


def shut_terminals(trials: int) -> Counted:
    """It says elsewhere that the terminal is gone, calls out what falls due, and ends when it is told to."""
    counted = Counted()
    for _ in each(trials):
        counted.trials += 1
        with tempfile.TemporaryDirectory(prefix="faults-", dir="/tmp") as made, ear() as heard:
            _one(counted, Path(made), heard)
    return counted


def taken_over(counted: Counted, home: Path) -> Took:
    """A whole watch is killed, a bucket that is due is stated, another watch starts: from its start to the alert."""
    if not (home / BOOK_NAME).exists():
        _with_a_job(home)
    with ear() as heard:
        killed = _started(home, heard.path, None)
        began = _waited_s(heard, "watching", STARTS_WITHIN_S)
        killed.kill()
        killed.wait()
    _mix_long_ago(home)
    with ear() as heard:
        began_s = CLOCK.monotonic_s()
        following = _started(home, heard.path, None)
        try:
            if began is None or _waited_s(heard, ".pour-out", STARTS_WITHIN_S) is None:
                counted.miss(f"after a whole watch was killed nothing was called: {heard.told}")
                return Took(0.0)
        finally:
            following.kill()
            following.wait()
        called = next(at for line, at in zip(heard.told, heard.at, strict=True) if ".pour-out" in line)
    return Took(called.span_s - began_s, called.starved_s)


def _with_a_job(home: Path) -> None:
    with Book(home / BOOK_NAME, CLOCK) as book:
        book.append(JOB, JobStarted(JOB, site(bays=1)))
        for text in (BASE, TOP):
            book.append(JOB, ProfileUsed(read_profile(text).name, text))


def _one(counted: Counted, home: Path, heard: Ear) -> None:
    _with_a_job(home)
    window, terminal = os.openpty()
    process = _started(home, heard.path, terminal)
    os.close(terminal)
    try:
        if _waited_s(heard, "watching", STARTS_WITHIN_S) is None:
            counted.fail("the watch did not begin")
            return
        os.close(window)  # the system sends a hangup
        _told(counted, heard, "watch.terminal", "that the terminal was shut")
        _mix_long_ago(home)
        _told(counted, heard, "b1.pour-out", "a deadline after the terminal was shut")
        if process.poll() is not None:
            counted.fail(f"the watch ended with its terminal ({process.returncode})")
        process.send_signal(signal.SIGTERM)
        if process.wait(20) != 0:
            counted.fail(f"it ended with {process.returncode}")
        _judge_log(counted, home)
    finally:
        process.kill()
        process.wait()


def _started(home: Path, path: str, terminal: int | None) -> subprocess.Popen[bytes]:
    def own_the_terminal() -> None:
        os.setsid()
        if terminal is not None:
            fcntl.ioctl(terminal, termios.TIOCSCTTY, 0)

    env = {**os.environ, "PYTHONPATH": str(ROOT), "MIXCLOCK_HOME": str(home), "DBUS_SESSION_BUS_ADDRESS": "none:"}
    asked = [sys.executable, "-m", "tests.faults.shutterminal", str(home), path]
    end = subprocess.DEVNULL if terminal is None else terminal
    return subprocess.Popen(asked, cwd=ROOT, env=env, stdin=end, stdout=end, stderr=end, preexec_fn=own_the_terminal)


def _waited_s(heard: Ear, words: str, limit_s: float) -> float | None:
    """How long it took until something was told; None where it was not in time."""
    began_s = CLOCK.monotonic_s()
    while (span_s := CLOCK.monotonic_s() - began_s) < limit_s:
        if any(words in line for line in heard.told):
            return span_s
        CLOCK.sleep(0.05)
    return None


def _told(counted: Counted, heard: Ear, words: str, what: str) -> None:
    starved_before_s, began_s = heard.at[-1].starved_s, CLOCK.monotonic_s()
    if _waited_s(heard, words, STARTS_WITHIN_S) is None:
        counted.miss(f"{what} was not told: {heard.told}")
        return
    told = next(at for line, at in zip(heard.told, heard.at, strict=True) if words in line)
    counted.judge(Took(told.span_s - began_s, told.starved_s - starved_before_s), TOLD_WITHIN_S, what)


def _mix_long_ago(home: Path) -> None:
    """Somebody states a bucket that has been due for a while."""
    said = as_said("mixing", product="Shed base", areas=("bay 1",), volume_l=3.45)
    now = CLOCK.now()
    with Book(home / BOOK_NAME, CLOCK) as book:
        shelf = {read_profile(text).name.casefold(): read_profile(text) for text in (BASE, TOP)}
        then = Attribution(now, now - timedelta(minutes=45), None, None)
        book.append_within(JOB, lambda entries: said.drafts(fold(JOB, entries, shelf), then))


def _judge_log(counted: Counted, home: Path) -> None:
    with Book(home / BOOK_NAME, CLOCK) as book:
        entries = book.entries(JOB)
    shut = [entry for entry in entries if entry.facts.kind == "watch" and entry.facts.event == "terminal shut"]
    if not shut:
        counted.fail("the log does not say that the terminal was shut")
        return
    after = [entry.facts for entry in entries if entry.number > shut[0].number and entry.facts.kind == "delivered"]
    if any(facts.channel == "terminal" and facts.outcome == "sent" for facts in after):
        counted.fail("written down as delivered on a terminal that is gone")


def main(words: list[str]) -> int:
    """The watch, with a socket in place of a desktop."""
    home, line, clock = Path(words[0]), Line(words[1]), SystemClock()
    with open_house(home, clock, UnrecordedEntries()) as house:
        wanted = ChannelWishes(sound=False, heard_button=False)
        channels = replace(channels_here(wanted, clock.now), every=(line, TerminalChannel()))
        screen = screen_for(False, clock)
        daemon = daemon_for(house, wanted, screen.printer.say, channels=channels)
        run(daemon, screen, begun=lambda: line.tell("watching"))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
