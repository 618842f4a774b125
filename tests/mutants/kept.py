"""What became of mutants, kept in a folder: a run that was ended goes on where it stood.

One that was found stays found as long as its module stands as it did: tests are added, not taken away. One that lived
is asked about again by other tests.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from tests.mutants.breaking import Mutant
from tests.mutants.covering import ROOT, Core, source_of
from tests.mutants.inplace import Outcome


@cache
def as_it_stands() -> str:
    """A name for the tests and the product together, as they stand."""
    files = [file for part in ("mixclock", "tests", "profiles") for file in sorted((ROOT / part).rglob("*"))]
    read = [file for file in files if file.suffix in (".py", ".toml", ".json", ".csv") and file.is_file()]
    every = hashlib.sha256()
    for file in read:
        every.update(str(file.relative_to(ROOT)).encode())
        every.update(file.read_bytes())
    return every.hexdigest()[:12]


@dataclass
class Kept:
    """The folder. `cap_s` is how long tests may be asked about one: who was asked for less was not asked enough."""

    folder: Path
    cap_s: float
    _rows: dict[tuple[Any, ...], dict[str, Any]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        self._file.touch()
        self.read()

    @property
    def _file(self) -> Path:
        return self.folder / "tried.jsonl"

    @property
    def reach_file(self) -> Path:
        """Which test runs which lines, as the tests and the product stand."""
        return self.folder / f"reach-{as_it_stands()}.json"

    def read(self) -> None:
        """Read what was written by now, perhaps by another process."""
        for line in self._file.read_text(encoding="utf-8").splitlines():
            row = json.loads(line)
            self._rows[tuple(row["key"])] = row

    def write(self, core: Core, mutant: Mutant, outcome: Outcome) -> None:
        """One more."""
        row = {"key": _key(core, mutant), "stood": as_it_stands(), "cap_s": self.cap_s, **asdict(outcome)}
        with self._file.open("a", encoding="utf-8") as file:
            file.write(json.dumps(row) + "\n")

    def outcome(self, core: Core, mutant: Mutant) -> Outcome | None:
        """What became of a mutant; None where it has to be tried, or tried again."""
        row = self._rows.get(_key(core, mutant))
        if row is None or (row["lives"] and (row["stood"] != as_it_stands() or row["cap_s"] < self.cap_s)):
            return None
        return Outcome(row["lives"], row["by"], row["asked"], row["processor_s"])


def _key(core: Core, mutant: Mutant) -> tuple[str, str, int, int]:
    return core.name, hashlib.sha256(source_of(mutant.path).encode()).hexdigest()[:12], mutant.node, mutant.change
