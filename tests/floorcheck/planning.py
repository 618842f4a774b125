"""Has mixclock plan a random floor, as a crew would at its terminal: files on disk, and JSON back."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.floorcheck.floorfiles import FloorFiles
from tests.running import Ran

Run = Callable[..., Ran]


def put_down(home: Path, files: FloorFiles) -> Path:
    """The sheets go to the user's profiles, the job file beside them."""
    (home / "profiles").mkdir(exist_ok=True)
    for number, sheet in enumerate(files.sheets):
        (home / "profiles" / f"sheet-{number}.toml").write_text(sheet, encoding="utf-8")
    job = home / "floor.toml"
    job.write_text(files.job, encoding="utf-8")
    return job


def planned(run: Run, job: Path, begin: str) -> dict[str, Any]:
    """The plan of a job file; a floor that does not fit answers too."""
    ran = run("plan", str(job), "--begin", begin, "--json")
    assert ran.code in (0, 1), ran.err
    answer: dict[str, Any] = json.loads(ran.out)
    return answer
