"""Random floors and re-plans, judged from files alone, as a table: `python -m tests.floorcheck [FLOORS] [REPLANS]`."""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.floorcheck.floorfiles import FloorFiles, random_floor
from tests.floorcheck.judging import Fault, faults
from tests.floorcheck.planning import planned, put_down
from tests.floorcheck.replanning import CASES, replanned
from tests.floorcheck.sheets import JobFile
from tests.running import Runner

FLOORS, REPLANS = 200, 50
Judged = tuple[dict[str, Any], list[Fault]]


def _of_floor(files: FloorFiles, home: Path) -> Judged:
    plan = planned(Runner(home), put_down(home, files), files.begin)
    return plan, faults(plan, JobFile.read(files.job, files.sheets)) if plan["feasible"] else []


def _row(said: str, judge: Callable[[Path], Judged | None]) -> tuple[bool, bool]:
    """Judge one and print it: whether it fits, and whether nothing is broken."""
    began = time.perf_counter()
    with tempfile.TemporaryDirectory() as home:
        judged = judge(Path(home))
    took = f"{time.perf_counter() - began:6.1f} s"
    if judged is None:
        print(f"{said:42s} {took}  nothing to plan again", flush=True)
        return False, True
    plan, found = judged
    answer = f"fits in {len(plan['batches']):2d} batches" if plan["feasible"] else plan["obstacle"]["text"]
    wrong = "; ".join(f"{fault.kind}: {fault.text}" for fault in found)
    print(f"{said:42s} {took}  {answer}{f'  BROKEN {wrong}' if wrong else ''}", flush=True)
    return bool(plan["feasible"]), not found


def main() -> int:
    """Print a line a floor and a re-plan; 1 where anything is broken."""
    floors, replans = (
        int(sys.argv[place]) if len(sys.argv) > place else many for place, many in ((1, FLOORS), (2, REPLANS))
    )
    rows = [
        _row(f"floor {seed}", lambda home, seed=seed: _of_floor(random_floor(seed), home)) for seed in range(floors)
    ]  # type: ignore[misc]
    for seed in range(replans):
        case = CASES[seed % len(CASES)]
        rows.append(_row(f"re-plan {seed}, {case}", lambda home, seed=seed, case=case: replanned(seed, case, home)))  # type: ignore[misc]
    fits, sound = sum(row[0] for row in rows), sum(row[1] for row in rows)
    print(f"{len(rows)} judged: {fits} fit, {len(rows) - sound} break something")
    return 0 if sound == len(rows) else 1


if __name__ == "__main__":
    raise SystemExit(main())
