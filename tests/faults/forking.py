"""A process that has all its imports behind it and forks a child for each trial: starting Python is not the trial.

The child is a process of its own: it opens the book anew, is traced, killed and refused at its system calls like any
other, and ends as Python ends. `python -m tests.faults.forking` is the parent; `ForkServer` asks it.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import gc
import json
import os
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from tests.faults.table import CLOCK

ROOT = Path(__file__).resolve().parents[2]
ATTACHES_WITHIN_S, ENDS_WITHIN_S = 20.0, 60.0

_DROP_FROM_BOUNDING_SET = 24
_MAY_ALL = (1, 2)
"""prctl(2) and capabilities(7): what lets root write where nobody may."""


def quick_folder() -> str:
    """Where homes lie whose disk is not the subject: in memory where that can be had, since a real sync takes 5 ms."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else "/tmp"


def be_humble() -> None:
    """Be held to what files and folders allow, whoever this is."""
    for capability in _MAY_ALL if os.geteuid() == 0 else ():
        ctypes.CDLL(None).prctl(_DROP_FROM_BOUNDING_SET, capability, 0, 0, 0)
        _drop_now(capability)


def _drop_now(capability: int) -> None:
    """Without an exec the bounding set takes nothing away that is held already."""
    libc, head, sets = ctypes.CDLL(None), (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
    if libc.capget(head, sets) == 0:
        for place in range(2):  # effective, permitted
            sets[place] &= ~(1 << capability) & 0xFFFFFFFF
        libc.capset(head, sets)


class ForkServer:
    """Runs `oneshot` on a home in a forked child, under strace where calls are given."""

    def __init__(self, environment: Mapping[str, str]) -> None:
        self._parent = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.forking"],
            cwd=ROOT, env=dict(environment), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip

    def run(self, words: Sequence[str], strace: Sequence[str], breaks: str, humble: bool) -> tuple[int, str]:
        """How the child ended (below 0: by that signal), and what it said on its standard error."""
        with tempfile.TemporaryDirectory(prefix="faults-err-", dir=quick_folder()) as made:
            said = Path(made) / "stderr"
            child = int(self._ask({"words": list(words), "err": str(said), "breaks": breaks, "humble": humble}))
            tracer = subprocess.Popen([*strace, "-p", str(child)], stderr=subprocess.DEVNULL) if strace else None
            if tracer is not None:
                _wait_until_traced(child, tracer)
            code = int(self._ask("go"))
            if tracer is not None:
                tracer.wait(ENDS_WITHIN_S)
            return code, said.read_text(encoding="utf-8", errors="replace")

    def close(self) -> None:
        """Let the parent end."""
        self._parent.communicate(timeout=ENDS_WITHIN_S)

    def _ask(self, what: Any) -> str:
        assert self._parent.stdin is not None
        assert self._parent.stdout is not None
        self._parent.stdin.write(f"{json.dumps(what)}\n")
        self._parent.stdin.flush()
        answer = self._parent.stdout.readline()
        assert answer, "the parent of the trials is gone"
        return answer


def _wait_until_traced(child: int, tracer: subprocess.Popen[bytes]) -> None:
    until_s = CLOCK.monotonic_s() + ATTACHES_WITHIN_S
    while "TracerPid:\t0\n" in Path(f"/proc/{child}/status").read_text(encoding="ascii"):
        assert CLOCK.monotonic_s() < until_s, "strace does not attach"
        assert tracer.poll() is None, "strace may not attach"
        CLOCK.sleep(0.002)


@contextlib.contextmanager
def fork_server(environment: Mapping[str, str]) -> Iterator[ForkServer]:
    """A server for the trials of a row."""
    server = ForkServer(environment)
    try:
        yield server
    finally:
        server.close()


def serve() -> int:
    """Fork a child for each line."""
    from tests.faults import oneshot

    _warm(oneshot)
    gc.freeze()
    while line := sys.stdin.readline():
        asked, (hears, goes) = json.loads(line), os.pipe()
        child = os.fork()
        if child == 0:
            os.close(goes)
            _become(asked)
            os.read(hears, 1)  # until it is traced
            _end(oneshot.main(asked["words"]))
        os.close(hears)
        print(child, flush=True)
        sys.stdin.readline()
        os.close(goes)
        print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
    return 0


def _end(code: int) -> None:
    """End as Python does, but for taking apart the modules, which costs more than a trial and which no file sees."""
    threading._shutdown()  # type: ignore[attr-defined]
    atexit._run_exitfuncs()
    sys.stderr.flush()
    os._exit(code)


def _warm(oneshot: Any) -> None:
    """Reckon once what every child reckons first."""
    with tempfile.TemporaryDirectory(prefix="faults-warm-", dir=quick_folder()) as made:
        home, hears = Path(made), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        hears.bind(str(home / "ear"))
        oneshot.prepare(home)
        oneshot.mix(home)
        oneshot.alert(home, oneshot.Line(str(home / "ear")))
        hears.close()


def _become(asked: Mapping[str, Any]) -> None:
    """A process of its own: no hand on the parent's pipes."""
    nothing = os.open(os.devnull, os.O_RDWR)
    err = os.open(asked["err"], os.O_WRONLY | os.O_CREAT)
    for old, new in ((nothing, 0), (nothing, 1), (err, 2)):
        os.dup2(old, new)
    os.environ["MIXCLOCK_FAULTS_BREAK"] = asked["breaks"]
    if asked["humble"]:
        be_humble()


if __name__ == "__main__":
    sys.exit(serve())
