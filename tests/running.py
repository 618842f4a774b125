"""Runs `mixclock` for a test, and what it answered."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from mixclock.outside import clock
from mixclock.outside.clock import SystemClock

ROOT = Path(__file__).resolve().parent.parent


BY_THE_HOUR = (("next",), ("plan",))
"""What is answered in another way once the working day is over."""


@dataclass(frozen=True)
class Ran:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The answer as JSON."""
        return json.loads(self.out)


A_MORNING = datetime(2026, 4, 16, 7, 30, tzinfo=UTC)
"""Half past eight in Lisbon, on a Thursday: a working day lies ahead, whatever the hour at which the tests run."""

BEGINS = datetime.fromisoformat(os.environ.get("MIXCLOCK_TESTS_BEGIN", A_MORNING.isoformat()))
"""When the commands that a test runs inside this process begin; set the variable to look at another hour."""


THE_MACHINES = SystemClock.now
"""The clock that a process goes by: for a test that compares its answers with those of this one."""


def going_on_from(begins: datetime) -> Callable[[SystemClock], datetime]:
    """What the machine's wall clock says once its owner has set it to an instant: it goes on by itself.

    Where a test holds the clocks of the whole machine, it goes by these.
    """
    begun_s = time.perf_counter()

    def now(asked: SystemClock) -> datetime:
        if clock.datetime.__module__ != "datetime":  # freezegun's stands there
            return THE_MACHINES(asked)
        return begins + timedelta(seconds=time.perf_counter() - begun_s)

    return now


def run_here(*words: str) -> Ran:
    """Run a command inside this process, in the home that the environment names."""
    from mixclock.cli import main

    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main(words)
    return Ran(code, out.getvalue(), err.getvalue())


@dataclass(frozen=True)
class Runner:
    """Runs `mixclock` with a home of its own, as a process of its own."""

    home: Path
    env: Mapping[str, str] = field(default_factory=dict)
    cwd: Path | None = None

    def environment(self) -> dict[str, str]:
        """The environment of the command: nothing of the machine's own settings."""
        kept = {name: os.environ[name] for name in ("PATH", "LANG", "TMPDIR", "HOME") if name in os.environ}
        return {**kept, "MIXCLOCK_HOME": str(self.home), "PYTHONPATH": str(ROOT), "TZ": "UTC", **self.env}

    def __call__(self, *words: str, timeout_s: float = 60.0) -> Ran:
        """Run a command to its end."""
        assert words[:1] not in BY_THE_HOUR or "--begin" in words, (
            "a process goes by the real hour, a plan too: use `run`"
        )
        done = subprocess.run(
            [sys.executable, "-m", "mixclock.cli", *words],
            capture_output=True,
            text=True,
            env=self.environment(),
            cwd=self.cwd or self.home,
            timeout=timeout_s,
            check=False,
        )
        return Ran(done.returncode, done.stdout, done.stderr)
