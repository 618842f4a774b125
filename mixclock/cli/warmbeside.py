"""Keeps the warm process beside the watch; without it every command starts cold, as before."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from mixclock.cli.warmhelper import fits

if TYPE_CHECKING:
    from mixclock.cli.warmsheets import TextTeller
    from mixclock.outside.followedjob import FollowedJob

_PLACE_OF_CODE = Path(__file__).resolve().parents[2]
_BEGINS_AFTER_S, _ENDS_WITHIN_S = 1.0, 2.0


class WarmBeside:
    """The helper of one watch. It ends with its stdin, so also with a watch that is killed."""

    def __init__(self, home: Path) -> None:
        self._home = home
        self._process: subprocess.Popen[bytes] | None = None
        self._texts: TextTeller | None = None

    def start(self) -> None:
        """Start it, where this system can."""
        if fits(self._home):
            # numpy's libraries would start threads, and a process with threads must not fork
            environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
            command = [sys.executable, "-m", "mixclock.cli.warmhelper", str(self._home), str(_BEGINS_AFTER_S)]
            nowhere = subprocess.DEVNULL
            self._process = subprocess.Popen(
                command,
                env=environment,
                cwd=_PLACE_OF_CODE,
                stdin=subprocess.PIPE,
                stdout=nowhere,
                stderr=nowhere,
                start_new_session=True,
            )
            from mixclock.cli.warmsheets import TextTeller

            assert self._process.stdin is not None
            self._texts = TextTeller(self._process.stdin.fileno())

    def tell(self, jobs: Iterable[FollowedJob]) -> None:
        """Tell it the sheets and job files of the jobs that are followed."""
        if self._texts is not None:
            self._texts.tell(jobs)

    def stop(self) -> None:
        """End it."""
        if self._process is None:
            return
        assert self._process.stdin is not None
        self._texts = None  # the number may be given to another file, and a later look must not write to that
        self._process.stdin.close()
        try:
            self._process.wait(_ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
