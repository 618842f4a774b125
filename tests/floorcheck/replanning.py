"""A random floor whose first bucket went down as planned or otherwise, planned again by the commands of a crew."""

from __future__ import annotations

import copy
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

from tests.floorcheck.floorfiles import random_floor
from tests.floorcheck.judging import Fault, Past, Row, faults, instant, rows_of
from tests.floorcheck.planning import planned, put_down
from tests.floorcheck.sheets import JobFile
from tests.running import Ran, Runner

CASES = ("as planned", "just poured", "bucket lost", "went less far", "withdrawn", "slower")
SLOWER = 1.4
HALF = 0.5
A_MINUTE = timedelta(minutes=1)


RunAt = Callable[..., Ran]
"""Runs a command at an instant, which comes before its words."""


def replanned(seed: int, case: str, home: Path, run: RunAt | None = None) -> tuple[dict[str, Any], list[Fault]] | None:
    """The plan of the rest with what it breaks; None where the floor fits no plan to begin with.

    The commands are processes of their own, unless somebody else runs them.
    """
    files = random_floor(seed)
    job, path = JobFile.read(files.job, files.sheets), put_down(home, files)
    run, begin = run or _AtItsHour(home), datetime.fromisoformat(files.begin).replace(tzinfo=job.zone)
    before = planned(partial(run, begin), path, files.begin)
    if not before["feasible"]:
        return None
    assert run(begin, "job", "start", str(path)).code == 0
    happened = _State(run, job, before, case)
    happened.state()
    again = run(happened.now, "plan", "--json")
    assert again.code in (0, 1), again.err
    plan: dict[str, Any] = again.json
    return plan, faults(plan, job, happened.past()) if plan["feasible"] else []


@dataclass(frozen=True)
class _AtItsHour:
    """Runs a command in a process of its own whose clocks stand at an instant."""

    home: Path

    def __call__(self, at: datetime, *words: str) -> Ran:
        """Run a command to its end."""
        stopped = (
            "import sys; from datetime import datetime; from mixclock.cli import main\n"
            "from tests.floorcheck.machineclocks import clocks_at\n"
            f"with clocks_at(datetime.fromisoformat({at.isoformat()!r})): sys.exit(main())"
        )
        done = subprocess.run(
            [sys.executable, "-c", stopped, *words],
            capture_output=True,
            text=True,
            env=Runner(self.home).environment(),
            cwd=self.home,
            timeout=300,
            check=False,
        )
        return Ran(done.returncode, done.stdout, done.stderr)


class _State:
    """States the first bucket of a plan at the command line, as the case has it."""

    def __init__(self, run: RunAt, job: JobFile, plan: dict[str, Any], case: str) -> None:
        self.run, self.job, self.case = run, job, case
        self.batch = copy.deepcopy(min(plan["batches"], key=lambda batch: instant(batch["mixed_at"])))
        mine = [row for row in rows_of(plan) if row.batch == self.batch["number"]]
        begun = min(row.starts for row in mine)
        factor = SLOWER if case == "slower" else 1.0
        self.rows = [
            Row(
                row.step,
                row.who,
                row.batch,
                row.coat,
                _later(begun, row.starts, factor),
                _later(begun, row.ends, factor),
            )
            for row in mine
        ]
        self.now = begun

    def state(self) -> None:
        on = [word for piece in self.batch["pieces"] for word in ("--on", piece["area"])]
        mix = self._row("mix")
        amount = f"{self.batch['volume_l']} L"
        self._say(mix.starts, "mixing", self.batch["product"], amount, *_once(on), "--coat", self.batch["coat"])
        if self.case == "withdrawn":
            self._withdraw(mix.starts + A_MINUTE)
            self._over_at(mix.starts + A_MINUTE, upto=())
            return
        self._say(mix.ends, "mixed")
        if self.case == "bucket lost":
            self._say(mix.ends + 5 * A_MINUTE, "dumped")
            self._over_at(mix.ends + 6 * A_MINUTE, upto=())
            return
        self._say(self._row("pour").ends, "poured", f"--covered={self._covered_m2():.3f} m2")
        if self.case == "just poured":
            self._over_at(self._row("pour").ends + 2 * A_MINUTE, upto=("measure", "mix", "pour"))
            return
        self._say(self._row("roll").ends, "rolled")
        if any(row.step == "broadcast" for row in self.rows):
            self._say(self._row("broadcast").ends, "flaked")
        self._over_at(max(row.ends for row in self.rows) + A_MINUTE, upto=None)

    def past(self) -> Past:
        """What the judge is told: rows that are over, and the bucket where it lies on the floor."""
        lies = () if self.case in ("bucket lost", "withdrawn") else (self.batch,)
        return Past(lies, tuple(self.rows) if lies else (), self.now)

    def _covered_m2(self) -> float:
        """Where the bucket ended: as planned, else half way over its first piece, and the others got nothing."""
        if self.case != "went less far":
            return float(sum(piece["size_m2"] for piece in self.batch["pieces"]))
        first = self.batch["pieces"][0]
        first["size_m2"] *= HALF
        first["parts"] += 1  # what is left of it lies between this and the next area
        self.batch["pieces"] = [first]
        return float(first["size_m2"])

    def _row(self, step: str) -> Row:
        rows = [row for row in self.rows if row.step == step]
        return max(rows, key=lambda row: row.ends)

    def _over_at(self, now: datetime, upto: tuple[str, ...] | None) -> None:
        """The instant of the new plan: a whole minute, after what was stated."""
        self.now = (now + A_MINUTE).replace(second=0, microsecond=0)
        self.rows = [row for row in self.rows if upto is None or row.step in upto]

    def _withdraw(self, at: datetime) -> None:
        """The last statement is taken back, by the number that the command asks for."""
        named = re.search(r"`withdraw (\d+)`", self.run(at, "withdraw").err)
        self._say(at, "withdraw", *([named.group(1)] if named else []))

    def _say(self, at: datetime, *words: str) -> None:
        ran = self.run(at, *words)
        assert ran.code == 0, (words, ran.err)


def _later(begun: datetime, at: datetime, factor: float) -> datetime:
    return begun + (at - begun) * factor


def _once(on: list[str]) -> list[str]:
    """Each area once, with its option before it."""
    return [word for area in dict.fromkeys(on[1::2]) for word in ("--on", area)]
