"""A process is killed, or refused by the disk, at each of its system calls: strace does it at the Nth one."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcheck import verify
from mixclock.outside.clock import FakeClock, SystemClock
from tests.faults.oneshot import JOB, MORNING, mix, prepare
from tests.faults.table import Counted

ROOT = Path(__file__).resolve().parents[2]
CALLS = ("pwrite64", "write", "fsync", "fdatasync", "ftruncate", "unlink", "rename")
NOTES = 6
CLOCK = SystemClock()


def missing() -> str:
    """What this machine lacks for it."""
    return "" if shutil.which("strace") else "strace is not installed"


@dataclass
class Ran:
    """How a process ended, and what it told."""

    code: int
    err: str
    told: list[str]


@contextmanager
def ear(folder: Path) -> Iterator[tuple[list[str], str]]:
    """A socket that hears what was acknowledged."""
    path = folder / "ear"
    path.unlink(missing_ok=True)
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(path))
        told: list[str] = []
        listening = threading.Thread(target=_listen, args=(heard, told), daemon=True)
        listening.start()
        yield told, str(path)
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as ending:
            ending.sendto(b"", str(path))
        listening.join(5)


def _listen(heard: socket.socket, told: list[str]) -> None:
    """A few datagrams fill the queue; the process that tells must not wait for us."""
    while line := heard.recv(4096):
        told.append(line.decode())


def run(home: Path, words: Sequence[str], inject: str = "", breaks: str = "") -> Ran:
    """Run a process on a home, with a fault of strace's where one is given."""
    with ear(home) as (told, path):
        traced = ["strace", "-qq", "-o", "/dev/null", "-e", f"trace={','.join(CALLS)}", "-e", f"inject={inject}"]
        asked = [sys.executable, "-m", "tests.faults.oneshot", words[0], str(home), path, *words[1:]]
        env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", "MIXCLOCK_FAULTS_BREAK": breaks}
        done = subprocess.run(
            [*(traced if inject else []), *asked], cwd=ROOT, env=env, capture_output=True, text=True, timeout=20
        )
    return Ran(done.returncode, done.stderr, told)


@contextmanager
def homes() -> Iterator[Iterator[Path]]:
    """Fresh copies of a home with a job in it."""
    with tempfile.TemporaryDirectory(prefix="faults-", dir="/tmp") as made:
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


FIRST = (("pwrite64", 12), ("fdatasync", 4), ("pwrite64", 15), ("fdatasync", 5))
"""Points in the middle of a commit: where a receipt too early or an acknowledgement too early shows."""


def points(trials: int) -> list[tuple[str, int]]:
    """Which call, and the how manieth, until there are enough."""
    every = [(call, when) for when in range(1, 80) for call in CALLS[:5]]
    every += [(call, when) for when in range(1, 9) for call in CALLS[5:]]
    return [*FIRST, *(point for point in every if point not in FIRST)][:trials]


def kills(trials: int, broken: bool) -> Counted:
    """SIGKILL at the Nth call of a statement, and of an alert."""
    counted = Counted()
    with homes() as fresh:
        for place, (call, when) in enumerate(points(trials)):
            home = next(fresh)
            inject = f"{call}:signal=SIGKILL:when={when}"
            counted.trials += 1
            if place % 2:
                _killed_alert(counted, home, inject, "receipt first" if broken else "")
            else:
                _killed_statement(counted, home, inject, "ack first" if broken else "")
    return counted


def _killed_statement(counted: Counted, home: Path, inject: str, breaks: str) -> None:
    ran = run(home, ("state", str(NOTES)), inject, breaks)
    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
        notes = {entry.facts.text for entry in book.entries(JOB) if entry.facts.kind == "noted"}  # type: ignore[union-attr]
        said = {f"note {line.split()[1]}" for line in ran.told if line.startswith("said")}
        counted.lost += len(said - notes)
        if said - notes:
            counted.wrong.append(f"{inject}: {sorted(said - notes)[0]} was acknowledged and is gone")
        if (wrong := verify(book)) is not None:
            counted.fail(f"{inject}: {wrong}")


def _killed_alert(counted: Counted, home: Path, inject: str, breaks: str) -> None:
    first = run(home, ("alert",), inject, breaks)
    began_s = CLOCK.monotonic_s()
    second = run(home, ("alert",))
    counted.late(CLOCK.monotonic_s() - began_s, 10.0, "a restart")  # the whole process, under load
    told = [line for line in (*first.told, *second.told) if "b1.pour-out" in line]
    if not told:
        counted.missed += 1
        counted.wrong.append(f"{inject}: the alert was never sent")
    counted.repeated += max(0, len(told) - 1)
    if len(told) > 2 or (len(told) == 2 and "again" not in told[1]):
        counted.fail(f"{inject}: told {len(told)} times, and the second is not marked as a repeat")


def refusals(trials: int, broken: bool) -> Counted:
    """ENOSPC or EIO at the Nth call, once and lasting: every alert goes out, a statement is refused in one line."""
    counted = Counted()
    with homes() as fresh:
        every = [
            (call, when, error, lasting)
            for when in range(1, 40)
            for call in CALLS[:5]
            for error in ("ENOSPC", "EIO")
            for lasting in ("", "+")
        ]
        for place, (call, when, error, lasting) in enumerate(every[:trials]):
            home = next(fresh)
            inject = f"{call}:error={error}:when={when}{lasting}"
            counted.trials += 1
            if place % 3:
                ran = run(home, ("alert",), inject, "no memory" if broken else "")
                if not any("b1.pour-out" in line for line in ran.told):
                    counted.missed += 1
                    counted.wrong.append(f"{inject}: no alert; {ran.err.splitlines()[-1:]}")
            else:
                ran = run(home, ("state", "2"), inject)
                if "Traceback" in ran.err or ran.code not in (0, 2) or (ran.code == 2 and ran.err.count("\n") != 1):
                    counted.fail(f"{inject}: {ran.code}, {ran.err.splitlines()[-1:]}")
                try:
                    with Book(home / "book.sqlite3", FakeClock(MORNING)) as book:
                        kept = sum(1 for entry in book.entries(JOB) if entry.facts.kind == "noted")
                except BookError as failed:
                    counted.fail(f"{inject}: {failed}")
                    continue
                if kept < sum(line.startswith("said") for line in ran.told):
                    counted.lost += 1
    return counted
