"""A job that is under way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mixclock.cli import planrunning
from mixclock.cli.plantyped import Wish
from tests.cli.studio import STUDIO
from tests.running import Ran

Run = Callable[..., Ran]


@pytest.fixture
def studio(home: Path, run: Run) -> Run:
    """The studio's job, started; gives the runner of commands."""
    (home / "studio.toml").write_text(STUDIO)
    started = run("job", "start", str(home / "studio.toml"))
    assert started.code == 0, started.err
    return run


@pytest.fixture(scope="session")
def plans() -> dict[Any, Any]:
    """The plans of job files that were made so far, by all that they rest on."""
    return {}


@pytest.fixture
def planned_once(home: Path, monkeypatch: pytest.MonkeyPatch, plans: dict[Any, Any]) -> None:
    """However many commands ask for a job file's plan, it is made once: the same file gives the same plan."""
    plan_anew = planrunning.planned

    def planned(file: Path | None, job: str | None, wished: Wish) -> Any:
        if file is None:
            return plan_anew(file, job, wished)
        rests_on = file.read_bytes(), wished, *(each.read_bytes() for each in sorted(home.glob("profiles/*")))
        if rests_on not in plans:
            plans[rests_on] = plan_anew(file, job, wished)
        return plans[rests_on]

    monkeypatch.setattr(planrunning, "planned", planned)
