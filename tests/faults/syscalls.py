"""A process is killed, or refused by the disk, at each of its system calls: strace does it at the Nth one."""

from __future__ import annotations

import itertools
import math
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.book import Book, BookError
from mixclock.outside.clock import FakeClock
from tests.faults.forking import ROOT, ForkServer, be_humble, fork_server, quick_folder
from tests.faults.jobdays import dice
from tests.faults.oneshot import JOB, MORNING, mix, prepare
from tests.faults.starving import Took
from tests.faults.table import CLOCK, Counted, each
from tests.outside.verified import verify
from tests.realparts.parts import missing as absent

CALLS = ("pwrite64", "write", "fsync", "fdatasync", "ftruncate", "unlink", "rename")
STATES, ALERTS, THREADS = ("state", "20"), ("alert",), ("threads",)
RESTART_WITHIN_S = 3.0
AFRESH_EVERY = 10
"""Every so manieth trial of an alert starts Python anew, as a crew does: from its start the alert must come in time."""


def missing() -> str | None:
    """What this machine lacks for it."""
    return absent("strace")


@dataclass
class Ran:
    """How a process ended, what it told, and how long after it was started, as far as it was not kept from working."""

    code: int
    err: str
    told: list[str]
    after: list[Took]

    def called(self, alert: str) -> Took | None:
        """When it first called an alert out."""
        return next((took for line, took in zip(self.told, self.after, strict=True) if alert in line), None)


class Ear(threading.Thread):
    """A socket that hears what was acknowledged, and when."""

    def __init__(self, folder: Path) -> None:
        super().__init__(daemon=True)
        self.path = str(folder / "ear")
        self.told: list[str] = []
        self.at: list[Took] = []
        """The instant of each line by the clock that both processes share, and how long its sender was kept waiting."""

        self._heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._heard.bind(self.path)
        Path(self.path).chmod(0o777)

    def run(self) -> None:
        """A few datagrams fill the queue; the process that tells must not wait for us."""
        while line := self._heard.recv(4096):
            at_s, starved, said = line.decode().split(" ", 2)
            self.at.append(Took(float(at_s), float(starved)))
            self.told.append(said)

    def close(self) -> None:
        """Hear no more."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ending:
            ending.sendto(b"", self.path)
        self.join(5)
        self._heard.close()


@contextmanager
def ear() -> Iterator[Ear]:
    """An ear in a folder of its own, which no fault of the home can touch."""
    with tempfile.TemporaryDirectory(prefix="faults-ear-", dir=quick_folder()) as made:
        Path(made).chmod(0o755)
        heard = Ear(Path(made))
        heard.start()
        try:
            yield heard
        finally:
            heard.close()


Runs = Callable[..., Ran]
"""Runs a process on a home: its words, and where wanted a fault of strace's, a deliberate break, and humility."""


def in_children(server: ForkServer) -> Runs:
    """Each run is a child of a process that has all its imports behind it."""

    def run(home: Path, words: Sequence[str], inject: str = "", breaks: str = "", humble: bool = False) -> Ran:
        with ear() as heard:
            began_s = CLOCK.monotonic_s()
            code, err = server.run(_asked(home, words, heard.path), _strace(inject), breaks, humble)
        return _ran(code, err, heard, began_s)

    return run


def run_afresh(home: Path, words: Sequence[str], inject: str = "", breaks: str = "", humble: bool = False) -> Ran:
    """Start Python anew, and measure from there."""
    with ear() as heard:
        began_s = CLOCK.monotonic_s()
        done = subprocess.run(
            [*_strace(inject), sys.executable, "-m", "tests.faults.oneshot", *_asked(home, words, heard.path)],
            cwd=ROOT,
            env=_surroundings(breaks),
            capture_output=True,
            text=True,
            timeout=60,
            preexec_fn=be_humble if humble else None,
        )
    return _ran(done.returncode, done.stderr, heard, began_s)


def _ran(code: int, err: str, heard: Ear, began_s: float) -> Ran:
    return Ran(code, err, heard.told, [Took(at.span_s - began_s, at.starved_s) for at in heard.at])


def _strace(inject: str) -> list[str]:
    if not inject:
        return []
    return ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={','.join(CALLS)}", "-e", f"inject={inject}"]


def _asked(home: Path, words: Sequence[str], path: str) -> list[str]:
    return [words[0], str(home), path, *words[1:]]


def _surroundings(breaks: str) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", "MIXCLOCK_FAULTS_BREAK": breaks}


@contextmanager
def homes() -> Iterator[Iterator[Path]]:
    """Fresh copies of a home with a job in it."""
    with tempfile.TemporaryDirectory(prefix="faults-", dir=quick_folder()) as made:
        Path(made).chmod(0o755)
        sound = Path(made) / "sound"
        sound.mkdir()
        prepare(sound)
        mix(sound)

        def fresh() -> Iterator[Path]:
            number = 0
            while True:
                number += 1
                home = Path(made) / f"h{number}"
                shutil.copytree(sound, home)
                yield home
                shutil.rmtree(home, ignore_errors=True)

        yield fresh()


Point = tuple[tuple[str, ...], str, int]
"""What runs, the call at which it is met, and the how manieth of a thread."""

FIRST: tuple[Point, ...] = (
    (STATES, "pwrite64", 12), (ALERTS, "fdatasync", 4), (THREADS, "pwrite64", 3),
    (STATES, "pwrite64", 15), (ALERTS, "fdatasync", 5), (THREADS, "fdatasync", 2),
)  # fmt: skip
"""Points in the middle of a commit: where a receipt too early or an acknowledgement too early shows."""


def points(trials: int, server: ForkServer) -> list[Point]:
    """Every call that a statement, an alert and an alert with threads make, those first that tell the most."""
    if trials <= len(FIRST):
        return list(FIRST[:trials])
    every = [
        (words, call, when)
        for words in (STATES, ALERTS, THREADS)
        for call, count in _counted(words, server).items()
        for when in range(1, count + 1)
        if (words, call, when) not in FIRST
    ]
    dice(5).shuffle(every)
    return [*FIRST, *every]


def _counted(words: Sequence[str], server: ForkServer) -> dict[str, int]:
    """How often the busiest thread makes each call while nothing goes wrong."""
    with homes() as fresh, ear() as heard:
        home = next(fresh)
        trace = home.parent / "trace"
        strace = ["strace", "-f", "-qq", "-o", str(trace), "-e", f"trace={','.join(CALLS)}"]
        code, err = server.run(_asked(home, words, heard.path), strace, "", False)
        assert code == 0, err
        made: Counter[tuple[str, str]] = Counter()
        for line in trace.read_text().splitlines():
            thread, _, call = line.partition(" ")
            name = call.strip().partition("(")[0]
            if name in CALLS:
                made[name, thread] += 1
    return {name: max(n for (each_name, _), n in made.items() if each_name == name) for name, _ in made}


def kills(trials: int, broken: bool) -> Counted:
    """SIGKILL at the Nth call of a statement, and of an alert, in whichever thread makes it."""
    counted = Counted()
    with homes() as fresh, fork_server(_surroundings("")) as server:
        run, found = in_children(server), points(trials, server)
        for place in each(len(found) if trials > len(FIRST) else trials):
            words, call, when = found[place]
            home = next(fresh)
            inject = f"{call}:signal=SIGKILL:when={when}"
            counted.trials += 1
            if words is STATES:
                _killed_statement(counted, run(home, STATES, inject, "ack first" if broken else ""), home, inject)
            else:
                afresh = place % AFRESH_EVERY == 1
                how = run_afresh if afresh else run
                _killed_alert(counted, how, home, words, inject, "receipt first" if broken else "", afresh)
    return counted


def _killed_statement(counted: Counted, ran: Ran, home: Path, inject: str) -> None:
    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        notes = {entry.facts.text for entry in book.entries(JOB) if entry.facts.kind == "noted"}  # type: ignore[union-attr]
        said = {f"note {line.split()[1]}" for line in ran.told if line.startswith("said")}
        counted.lost += len(said - notes)
        if said - notes:
            counted.wrong.append(f"{inject}: {sorted(said - notes)[0]} was acknowledged and is gone")
        if (wrong := verify(book)) is not None:
            counted.fail(f"{inject}: {wrong}")


def _killed_alert(
    counted: Counted, run: Runs, home: Path, words: Sequence[str], inject: str, breaks: str, afresh: bool
) -> None:
    first = run(home, words, inject, breaks)
    killed = home.with_name(f"{home.name}-killed")
    shutil.copytree(home, killed)
    second = run(home, words)
    what = f"{words[0]} {inject}"
    told = [line for line in (*first.told, *second.told) if "b1.pour-out" in line]
    if not told:
        counted.miss(f"{what}: the alert was never sent")
    elif afresh and (called := second.called("b1.pour-out")) is not None:
        tried = itertools.chain([called], (_called_after(killed, words) for _ in itertools.count()))
        counted.in_time(lambda: next(tried), RESTART_WITHIN_S, f"{what}: from the restart to the alert")
    counted.repeated += max(0, len(told) - 1)
    if len(told) > 2 or (len(told) == 2 and "again" not in told[1]):
        counted.fail(f"{what}: told {len(told)} times, and the second is not marked as a repeat")
    shutil.rmtree(killed)


def _called_after(killed: Path, words: Sequence[str]) -> Took:
    """The same restart once more, on what the kill left behind."""
    again = killed.with_name(f"{killed.name}-again")
    shutil.copytree(killed, again)
    try:
        return run_afresh(again, words).called("b1.pour-out") or Took(math.inf)
    finally:
        shutil.rmtree(again)


def refusals(trials: int, broken: bool) -> Counted:
    """ENOSPC or EIO at every call, once and lasting, and a folder that may only be read.

    Every alert goes out all the same; a statement is refused in one line, and what was acknowledged is there.
    """
    counted = Counted()
    with homes() as fresh, fork_server(_surroundings("")) as server:
        run, found = in_children(server), points(trials, server)
        every = [(*point, error, lasting) for point in found for error in ("ENOSPC", "EIO") for lasting in ("", "+")]
        _read_only(counted, run, next(fresh), broken)
        for place in each(trials if trials <= len(FIRST) else len(every)):
            words, call, when, error, lasting = every[place]
            counted.trials += 1
            inject = f"{call}:error={error}:when={when}{lasting}"
            _refused(counted, run, next(fresh), words, inject, broken)
    return counted


def _refused(counted: Counted, run: Runs, home: Path, words: Sequence[str], inject: str, broken: bool) -> None:
    what = f"{words[0]} {inject}"
    if words is not STATES:
        _sounds(counted, run(home, words, inject, "no memory" if broken else ""), what)
        return
    ran = run(home, words, inject)
    _refused_in_a_line(counted, ran, what)
    try:
        with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
            kept = sum(1 for entry in book.entries(JOB) if entry.facts.kind == "noted")
    except BookError as failed:
        counted.fail(f"{what}: {failed}")
        return
    counted.lost += max(0, sum(line.startswith("said") for line in ran.told) - kept)


def _sounds(counted: Counted, ran: Ran, what: str) -> None:
    if not any("b1.pour-out" in line for line in ran.told):
        counted.miss(f"{what}: no alert; {ran.err.splitlines()[-1:]}")


def _refused_in_a_line(counted: Counted, ran: Ran, what: str) -> None:
    if "Traceback" in ran.err or ran.code not in (0, 2) or (ran.code == 2 and ran.err.count("\n") != 1):
        counted.fail(f"{what}: {ran.code}, {ran.err.splitlines()[-1:]}")


def _read_only(counted: Counted, run: Runs, home: Path, broken: bool) -> None:
    """A folder and a book that may be read and not written."""
    for path in (*home.rglob("*"), home):
        path.chmod(0o555 if path.is_dir() else 0o444)
    try:
        for words in (ALERTS, THREADS):
            counted.trials += 1
            _sounds(
                counted, run(home, words, breaks="no memory" if broken else "", humble=True), f"{words[0]}, read-only"
            )
        counted.trials += 1
        ran = run(home, ("state", "1"), humble=True)
        _refused_in_a_line(counted, ran, "a statement, read-only")
        if ran.code != 2 or any(line.startswith("said") for line in ran.told):
            counted.fail(f"a statement into a read-only folder ended with {ran.code} and told {ran.told}")
    finally:
        home.chmod(0o755)
        for path in home.rglob("*"):
            path.chmod(0o755 if path.is_dir() else 0o644)
