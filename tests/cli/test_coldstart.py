"""A statement is made with a bucket in the other hand: a cold command imports nothing that it does not need."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.studio import STUDIO
from tests.running import Ran, Runner

HEAVY = (
    *("apscheduler", "starlette", "uvicorn", "matplotlib", "scipy", "pint", "sqlite_utils", "rich", "pandas", "PIL"),
    *("platformdirs", "asyncio", "mixclock.watch", "mixclock.board"),
)
AND_LOOK = """
import json, sys
from mixclock.cli import main
code = main(sys.argv[1:])
print(json.dumps({"code": code, "modules": sorted(sys.modules)}), file=sys.stderr)
"""


@pytest.fixture
def warm(home: Path, run: Callable[..., Ran]) -> Runner:
    """A home whose book is made and whose job is under way."""
    (home / "studio.toml").write_text(STUDIO)
    assert run("job", "start", str(home / "studio.toml")).code == 0
    return Runner(home)


def modules_of(runner: Runner, *words: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", AND_LOOK, *words],
        capture_output=True,
        text=True,
        env=runner.environment(),
        check=True,
        timeout=60,
    )
    said = json.loads(done.stderr.splitlines()[-1])
    assert said["code"] == 0, done.stderr
    return set(said["modules"])


MIXED = ("mixed", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--material", "19 C")


@pytest.mark.parametrize(
    "words",
    [
        MIXED,
        ("reading", "--air", "18 °C", "--rh", "60", "--slab", "61F"),
        ("noted", "heater lit"),
        ("air", "--air", "18 °C", "--rh", "60", "--slab", "16 C"),
    ],
)
def test_a_cold_statement_imports_no_scheduler_web_plotting_or_pint(warm: Runner, words: tuple[str, ...]) -> None:
    loaded = modules_of(warm, *words)
    assert "mixclock.wiring" in loaded
    heavy = (*HEAVY, *(() if words[0] == "air" else ("typer", "dataclasses")))
    assert [name for name in heavy if name in loaded] == []


def test_neither_the_first_bucket_of_its_kind_nor_one_like_it_waits_for_numpy(warm: Runner) -> None:
    assert "numpy" not in modules_of(warm, *MIXED)
    assert "numpy" not in modules_of(warm, *MIXED)


def test_the_first_book_on_a_machine_waits_for_no_pandas(home: Path) -> None:
    (home / "studio.toml").write_text(STUDIO)
    loaded = modules_of(Runner(home), "job", "start", str(home / "studio.toml"))
    assert "sqlite_utils" in loaded
    assert [name for name in ("pandas", "pyarrow") if name in loaded] == []


def test_the_command_line_imports_nothing_at_the_top() -> None:
    looking = "import sys, mixclock.cli; print([name for name in sys.modules if name.startswith('mixclock.')])"
    done = subprocess.run(
        [sys.executable, "-c", looking],
        capture_output=True,
        text=True,
        env=Runner(Path.cwd()).environment(),
        check=True,
        timeout=60,
    )
    assert done.stdout.strip() == "['mixclock.cli']"


def test_how_the_job_stands_loads_no_planner_where_nothing_was_planned(warm: Runner) -> None:
    modules_of(warm, *MIXED)
    loaded = modules_of(warm, "now")
    assert [name for name in (*HEAVY, "typer", "numpy", "mixclock.decide.plan.days.kitcalls") if name in loaded] == []


def test_without_a_plan_or_a_question_for_a_kit_the_planner_would_add_nothing(
    warm: Runner, run: Callable[..., Ran]
) -> None:
    from mixclock.decide.alerting.dayends import PlanSays
    from mixclock.decide.plan.days.kitcalls import plan_of
    from mixclock.decide.plan.days.saidplan import said_by_plan
    from mixclock.wiring import open_house

    assert run(*MIXED).code == 0
    with open_house(warm.home) as house:
        standing, now = house.standing(), house.clock.now()
        found = house.tracks(standing)
        assert plan_of(standing, found, now, house.kits) == said_by_plan(standing, found, now, lambda: house.kits)()
    assert run("next").code in (0, 1)
    with open_house(warm.home) as house:
        standing = house.standing()
        assert said_by_plan(standing, found, now, lambda: house.kits) is not PlanSays
