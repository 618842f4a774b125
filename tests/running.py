"""Runs `mixclock` for a test, and what it answered."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent


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
