"""Has a very long log worked out by a process of its own, so that the watch goes on looking meanwhile.

The process asks how the job stands, as anybody may. What it worked out is kept beside the book (`outside.longlogs`),
and the watch takes it from there.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from pathlib import Path

_PLACE_OF_CODE = Path(__file__).resolve().parents[2]
GENTLY = 5
"""By how much it steps aside for the watch (niceness)."""


class FoldBeside:
    """The processes of one watch, one for each job that needs it."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self._processes: dict[str, subprocess.Popen[bytes] | None] = {}

    def is_over(self, job: str) -> bool:
        """Whether a job was worked out, or could not be. The first question begins it."""
        if job not in self._processes:
            self._processes[job] = self._begin(job)
        process = self._processes[job]
        return process is None or process.poll() is not None

    def stop(self) -> None:
        """End those that are still at work."""
        for process in filter(None, self._processes.values()):
            if process.poll() is None:
                process.kill()
            process.wait()
        self._processes.clear()

    def _begin(self, job: str) -> subprocess.Popen[bytes] | None:
        """None where no process can be had: then the watch works it out itself."""
        environment = {**os.environ, "MIXCLOCK_HOME": str(self._home)}
        command = [sys.executable, "-m", "mixclock", "now", "--json", "--job", job]
        nowhere = subprocess.DEVNULL
        try:
            process = subprocess.Popen(
                command, env=environment, cwd=_PLACE_OF_CODE, stdin=nowhere, stdout=nowhere, stderr=nowhere
            )
        except OSError:
            return None
        if hasattr(os, "setpriority"):
            with contextlib.suppress(OSError):  # it may be over already
                os.setpriority(os.PRIO_PROCESS, process.pid, GENTLY)
        return process
