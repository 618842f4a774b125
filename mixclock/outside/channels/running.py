"""Runs another program for a limited time, and says truly how it ended."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import IO, Literal

from mixclock.outside.channels.text import clipped, one_line
from mixclock.values import dataclass

DYING_S = 1.0
"""How long a killed program may take to be gone before we stop waiting for it."""

TAIL_BYTES = 2000


@dataclass(frozen=True)
class ProgramEnd:
    """How a program ended. `code` is its exit code; None where it was stopped, ran out of time or never began."""

    program: str
    how: Literal["ended", "out of time", "stopped", "not begun"]
    code: int | None
    said: str

    @property
    def well(self) -> bool:
        """Ended by itself with exit code 0."""
        return self.code == 0

    def __str__(self) -> str:
        how = f"ended with exit code {self.code}" if self.how == "ended" else self.said or self.how
        if self.how == "ended" and not self.well and self.said:
            how += f": {self.said}"
        return f"{self.program} {how}"


class ProgramRun:
    """One run of a program. Any thread may stop it, even before it began."""

    def __init__(self, argv: Sequence[str], limit_s: float) -> None:
        leader = _dies_with_us() if shutil.which(argv[0]) else ()
        self.argv, self._is_led = [*leader, *argv], bool(leader)
        self.program = Path(argv[0]).stem
        self.limit_s = limit_s
        self._lock = threading.Lock()
        self._stopped = False
        self._process: subprocess.Popen[bytes] | None = None

    def run(self) -> ProgramEnd:
        """Run it to its end, or to the limit, or until stopped."""
        # The output goes to a file: a grandchild that kept a pipe open would hold us up for ever.
        with tempfile.TemporaryFile() as errors:
            try:
                process = self._begin(errors)
            except OSError as error:
                return ProgramEnd(self.program, "not begun", None, f"could not be started: {error.strerror or error}")
            if process is None:
                return ProgramEnd(self.program, "stopped", None, "was stopped before it began")
            return self._await(process, errors)

    def stop(self) -> None:
        """End it now, with its children."""
        with self._lock:
            self._stopped = True
            if self._process is not None:
                _kill(self._process)

    def _begin(self, errors: IO[bytes]) -> subprocess.Popen[bytes] | None:
        with self._lock:
            if self._stopped:
                return None
            self._process = subprocess.Popen(
                self.argv,
                stdin=subprocess.DEVNULL,
                stdout=errors,
                stderr=errors,
                # own group: Ctrl-C on the daemon must not cut an alarm half way, and a kill takes the children too
                start_new_session=True,
                creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),
            )
            return self._process

    def _await(self, process: subprocess.Popen[bytes], errors: IO[bytes]) -> ProgramEnd:
        try:
            process.wait(timeout=self.limit_s)
        except subprocess.TimeoutExpired:
            return self._overdue(process)
        code = process.returncode
        if code in _KILLED and self._is_led:
            code = 128 - code
        if code < 0:
            _kill_group(process)
        if self._stopped:
            return ProgramEnd(self.program, "stopped", None, "was stopped")
        return ProgramEnd(self.program, "ended", code, _tail(errors))

    def _overdue(self, process: subprocess.Popen[bytes]) -> ProgramEnd:
        _kill(process)
        said = f"did not end within {self.limit_s:.1f} s and was ended"
        try:
            process.wait(timeout=DYING_S)
        except subprocess.TimeoutExpired:
            said = f"did not end within {self.limit_s:.1f} s and can't be killed"
        return ProgramEnd(self.program, "out of time", None, said)


def run(argv: Sequence[str], limit_s: float) -> ProgramEnd:
    """Run a program to its end or to the limit."""
    return ProgramRun(argv, limit_s).run()


_WITH_ITS_CHILDREN = """trap 'kill -KILL 0' TERM; "$@" & wait $!"""
"""Told that the daemon is gone, a shell ends the whole group: the program, what it has begun, and itself."""

_KILLED = range(129, 160)
"""How a shell tells that its program was killed: 128 and the number of the signal."""


@cache
def _dies_with_us() -> tuple[str, ...]:
    """Make a program, and all that it starts, end with the daemon, however that ends (Linux). A hung voice must not
    outlive it.
    """
    setpriv, shell = (shutil.which(name) if sys.platform == "linux" else None for name in ("setpriv", "sh"))
    if setpriv is None or shell is None:
        return ()
    return setpriv, "--pdeathsig", "TERM", "--", shell, "-c", _WITH_ITS_CHILDREN, shell


def _kill(process: subprocess.Popen[bytes]) -> None:
    """End it and its children, unless it ended by itself."""
    ended = process.poll()
    if ended is None or ended < 0:
        _kill_group(process)


def _kill_group(process: subprocess.Popen[bytes]) -> None:
    """End it and its children, also children that it left behind when it was killed."""
    if sys.platform == "win32":
        process.kill()
        return
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except (ProcessLookupError, PermissionError):
        return  # it ended between the question and the kill


def _tail(errors: IO[bytes]) -> str:
    """The last line that it printed: programs tell the cause last."""
    size = errors.seek(0, os.SEEK_END)
    errors.seek(max(0, size - TAIL_BYTES))
    lines = [one_line(line) for line in errors.read().decode("utf-8", "replace").splitlines()]
    return clipped(next((line for line in reversed(lines) if line), ""), 200)
