"""A process is killed, or refused by the disk, at each of its system calls: strace does it at the Nth one."""

from __future__ import annotations

import ctypes
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.book import Book, BookError
from mixclock.outside.clock import FakeClock
from tests.faults.jobdays import dice
from tests.faults.oneshot import JOB, MORNING, mix, prepare
from tests.faults.table import CLOCK, Counted, each
from tests.outside.verified import verify
from tests.realparts.parts import missing as absent

ROOT = Path(__file__).resolve().parents[2]
CALLS = ("pwrite64", "write", "fsync", "fdatasync", "ftruncate", "unlink", "rename")
STATES, ALERTS, THREADS = ("state", "20"), ("alert",), ("threads",)
RESTART_WITHIN_S = 3.0
TRIES = 3
"""A restart that was late is timed again on the same home: other work on this machine is not the fault."""

_DROP_FROM_BOUNDING_SET = 24
_MAY_ALL = (1, 2)
"""prctl(2) and capabilities(7): what lets root write where nobody may."""


def missing() -> str | None:
    """What this machine lacks for it."""
    return absent("strace")


@dataclass
class Ran:
    """How a process ended, what it told, and how long after its start."""

    code: int
    err: str
    told: list[str]
    told_s: list[float]
    worked_s: float
    """What it used of the processor from its start to its end, which other work on this machine does not lengthen."""


class Ear(threading.Thread):
    """A socket that hears what was acknowledged, and when."""

    def __init__(self, folder: Path) -> None:
        super().__init__(daemon=True)
        self.path = str(folder / "ear")
        self.told: list[str] = []
        self.at_s: list[float] = []
        self._heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._heard.bind(self.path)
        Path(self.path).chmod(0o777)

    def run(self) -> None:
        """A few datagrams fill the queue; the process that tells must not wait for us."""
        while line := self._heard.recv(4096):
            self.told.append(line.decode())
            self.at_s.append(CLOCK.monotonic_s())

    def close(self) -> None:
        """Hear no more."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ending:
            ending.sendto(b"", self.path)
        self.join(5)
        self._heard.close()


@contextmanager
def ear() -> Iterator[Ear]:
    """An ear in a folder of its own, which no fault of the home can touch."""
    with tempfile.TemporaryDirectory(prefix="faults-ear-", dir="/tmp") as made:
        Path(made).chmod(0o755)
        heard = Ear(Path(made))
        heard.start()
        try:
            yield heard
        finally:
            heard.close()


def run(home: Path, words: Sequence[str], inject: str = "", breaks: str = "", humble: bool = False) -> Ran:
    """Run a process on a home, with a fault of strace's in any of its threads where one is given.

    A `humble` one is held to what files and folders allow, whoever it is.
    """
    strace = ["strace", "-f", "-qq", "-o", "/dev/null", "-e", f"trace={','.join(CALLS)}", "-e", f"inject={inject}"]
    with ear() as heard:
        began_s, worked_s = CLOCK.monotonic_s(), _children_worked_s()
        done = subprocess.run(
            [*(strace if inject else []), *_asked(home, words, heard.path)],
            cwd=ROOT,
            env=_surroundings(breaks),
            capture_output=True,
            text=True,
            timeout=60,
            preexec_fn=_be_humble if humble else None,
        )
    told_s = [at_s - began_s for at_s in heard.at_s]
    return Ran(done.returncode, done.stderr, heard.told, told_s, _children_worked_s() - worked_s)


def _children_worked_s() -> float:
    worked = os.times()
    return worked.children_user + worked.children_system


def _be_humble() -> None:
    for capability in _MAY_ALL if os.geteuid() == 0 else ():
        ctypes.CDLL(None).prctl(_DROP_FROM_BOUNDING_SET, capability, 0, 0, 0)


def _asked(home: Path, words: Sequence[str], path: str) -> list[str]:
    return [sys.executable, "-m", "tests.faults.oneshot", words[0], str(home), path, *words[1:]]


def _surroundings(breaks: str) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", "MIXCLOCK_FAULTS_BREAK": breaks}


@contextmanager
def homes() -> Iterator[Iterator[Path]]:
    """Fresh copies of a home with a job in it."""
    with tempfile.TemporaryDirectory(prefix="faults-", dir="/tmp") as made:
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


def points(trials: int) -> list[Point]:
    """Every call that a statement, an alert and an alert with threads make, those first that tell the most."""
    if trials <= len(FIRST):
        return list(FIRST[:trials])
    every = [
        (words, call, when)
        for words in (STATES, ALERTS, THREADS)
        for call, count in _counted(words).items()
        for when in range(1, count + 1)
        if (words, call, when) not in FIRST
    ]
    dice(5).shuffle(every)
    return [*FIRST, *every]


def _counted(words: Sequence[str]) -> dict[str, int]:
    """How often the busiest thread makes each call while nothing goes wrong."""
    with homes() as fresh, ear() as heard:
        home = next(fresh)
        trace = home.parent / "trace"
        strace = ["strace", "-f", "-qq", "-o", str(trace), "-e", f"trace={','.join(CALLS)}"]
        subprocess.run(
            [*strace, *_asked(home, words, heard.path)], cwd=ROOT, env=_surroundings(""), timeout=60, check=True
        )
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
    found = points(trials)
    with homes() as fresh:
        for place in each(len(found) if trials > len(FIRST) else trials):
            words, call, when = found[place]
            home = next(fresh)
            inject = f"{call}:signal=SIGKILL:when={when}"
            counted.trials += 1
            if words is STATES:
                _killed_statement(counted, home, inject, "ack first" if broken else "")
            else:
                _killed_alert(counted, home, words, inject, "receipt first" if broken else "")
    return counted


def _killed_statement(counted: Counted, home: Path, inject: str, breaks: str) -> None:
    ran = run(home, STATES, inject, breaks)
    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        notes = {entry.facts.text for entry in book.entries(JOB) if entry.facts.kind == "noted"}  # type: ignore[union-attr]
        said = {f"note {line.split()[1]}" for line in ran.told if line.startswith("said")}
        counted.lost += len(said - notes)
        if said - notes:
            counted.wrong.append(f"{inject}: {sorted(said - notes)[0]} was acknowledged and is gone")
        if (wrong := verify(book)) is not None:
            counted.fail(f"{inject}: {wrong}")


def _killed_alert(counted: Counted, home: Path, words: Sequence[str], inject: str, breaks: str) -> None:
    first = run(home, words, inject, breaks)
    killed = home.with_name(f"{home.name}-killed")
    shutil.copytree(home, killed)
    second = run(home, words)
    what = f"{words[0]} {inject}"
    told = [line for line in (*first.told, *second.told) if "b1.pour-out" in line]
    if not told:
        counted.miss(f"{what}: the alert was never sent")
    elif called := [at_s for line, at_s in zip(second.told, second.told_s, strict=True) if "b1.pour-out" in line]:
        took_s = min(called)
        for _ in range(TRIES - 1):
            if took_s > RESTART_WITHIN_S:
                again = run(_again(killed), words)
                took_s = min(took_s, again.worked_s, *again.told_s)
        counted.late(took_s, RESTART_WITHIN_S, f"{what}: from the restart to the alert")
    counted.repeated += max(0, len(told) - 1)
    if len(told) > 2 or (len(told) == 2 and "again" not in told[1]):
        counted.fail(f"{what}: told {len(told)} times, and the second is not marked as a repeat")
    shutil.rmtree(killed)


def _again(killed: Path) -> Path:
    again = killed.with_name(f"{killed.name}-again")
    shutil.rmtree(again, ignore_errors=True)
    shutil.copytree(killed, again)
    return again


def refusals(trials: int, broken: bool) -> Counted:
    """ENOSPC or EIO at every call, once and lasting, and a folder that may only be read.

    Every alert goes out all the same; a statement is refused in one line, and what was acknowledged is there.
    """
    counted = Counted()
    found = points(trials)
    every = [(*point, error, lasting) for point in found for error in ("ENOSPC", "EIO") for lasting in ("", "+")]
    with homes() as fresh:
        _read_only(counted, next(fresh), broken)
        for place in each(trials if trials <= len(FIRST) else len(every)):
            words, call, when, error, lasting = every[place]
            counted.trials += 1
            inject = f"{call}:error={error}:when={when}{lasting}"
            _refused(counted, next(fresh), words, inject, broken)
    return counted


def _refused(counted: Counted, home: Path, words: Sequence[str], inject: str, broken: bool) -> None:
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


def _read_only(counted: Counted, home: Path, broken: bool) -> None:
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
