"""A running daemon, on a book of its own, with a product that is quick enough to wait for."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from mixclock.outside.clock import SystemClock
from mixclock.wiring import House
from tests.boatshed import areas_of
from tests.saying import as_said

CLOCK = SystemClock()
ROOT = Path(__file__).resolve().parents[2]

QUICK = """
name = "Quick base"
family = "acrylic"
source = "invented, quicker than anything in a pail"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
time = "{mixing}"
[pot-life]
mass = "1.0 kg"
end = "workable"
at = "{pot_life}"
constant = true
[windows.foot-traffic]
after = "poured"
opens = "6 h"
"""

JOB = (
    areas_of('name = "bay 1"\nsize = "5 m2"', 'name = "bay 2"\nsize = "5 m2"', product="Quick base")
    + '[hours]\nstart = "00:00"\nend = "23:59"\n'
)


@dataclass
class Watching:
    """A running `mixclock watch`, with what it printed so far."""

    process: subprocess.Popen[str]
    began_s: float
    lines: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._change = threading.Condition()
        threading.Thread(target=self._read, daemon=True).start()

    def wait_for(self, words: str, limit_s: float = 30.0) -> str:
        """The first line with these words in it, waiting for it if need be."""
        with self._change:
            self._change.wait_for(lambda: any(words in line for line in self.lines), limit_s)
            found = [line for line in self.lines if words in line]
        assert found, f"'{words}' was not printed within {limit_s} s: {self.lines}"
        return found[0]

    def end(self, number: int = signal.SIGTERM, limit_s: float = 30.0) -> int:
        """Send a signal and wait for the end; the exit code."""
        self.process.send_signal(number)
        return self.process.wait(limit_s)

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            with self._change:
                self.lines.append(line.rstrip("\n"))
                self._change.notify_all()


@dataclass
class Shed:
    """A home with a job under way; statements go into its book as the commands write them."""

    home: Path
    house: House
    env: dict[str, str]
    watches: list[Watching] = field(default_factory=list)

    def watch(self, *options: str, ready: bool = True) -> Watching:
        """Start the daemon, and by default wait until it watches."""
        words = [sys.executable, "-m", "mixclock.cli", "watch", "--plain", "--no-sound", "--no-board", *options]
        began_s = CLOCK.monotonic_s()
        process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=self.env, cwd=self.home
        )
        watching = Watching(process, began_s)
        self.watches.append(watching)
        if ready:
            watching.wait_for("mixclock watches")
        return watching

    def mix(self, area: str = "bay 1", ago_s: float = 0.0) -> datetime:
        """Part B goes in now, or went in a while ago; the instant."""
        what = {"product": "Quick base", "areas": [area], "volume_l": 1.0}
        at = CLOCK.now() - timedelta(seconds=ago_s) if ago_s else None
        return self.house.state(as_said("mixing", what), at=at).entry.happened

    def facts(self, kind: str) -> list[Any]:
        """The facts of one kind that the log holds."""
        return [entry.facts for entry in self.house.entries() if entry.facts.kind == kind]

    def wait_for_facts(self, wanted: Callable[[Any], bool], kind: str, limit_s: float = 30.0) -> Any:
        """The first facts of a kind that are wanted, waiting until they are written."""

        def found() -> list[Any]:
            return [facts for facts in self.facts(kind) if wanted(facts)]

        assert in_time(lambda: bool(found()), limit_s), f"no such {kind} within {limit_s} s: {self.facts(kind)}"
        return found()[0]


def in_time(holds: Callable[[], bool], limit_s: float) -> bool:
    """Whether something comes to hold within the limit."""
    until_s = CLOCK.monotonic_s() + limit_s
    while not holds():
        if CLOCK.monotonic_s() >= until_s:
            return False
        CLOCK.sleep(0.05)
    return True
