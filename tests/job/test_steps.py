"""The table of steps: one row for each step of the trade, read by everything that knows a step."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import mixclock
from mixclock.job.stepkinds import STAGE_ORDER
from mixclock.job.steps import CLOSING_STAGES, STEPS, WINDOWS, Rank, Stage, comes_after, row_of

HOUSE = Path(mixclock.__file__).parent

QUOTED_IN = {
    "job/steps.py",
    "words/steptable.py",
    "job/sheetquestions.py",
    "job/windowreading.py",
    "job/sitereading.py",
}
"""The table with its words, and the readers of profiles and job files."""

EVERYDAY = {
    "broadcast": (
        "decide/plan/",
        "job/jobquestions.py",
        "job/stepkinds.py",
        "words/cautions.py",
        "words/plan/",
        "words/nextkit.py",
        "words/record/jobtables.py",
    ),
    "scrape": ("decide/plan/", "job/stepkinds.py", "words/plan/", "words/nextkit.py"),
    "dry": ("decide/plan/", "job/naming.py", "words/plan/"),
    "hot": (
        "decide/bucketmodel.py",
        "decide/hot.py",
        "decide/kitshapes.py",
        "formulas/",
        "job/cups.py",
        "job/naming.py",
        "job/statements/seen.py",
    ),
    "short": ("decide/why/causes/mix.py", "job/tradefacts.py", "board/static/when.js"),
    "stand": ("words/alerting.py",),
    "trouble": ("board/",),
}
"""Step names that are also a sign, a word of English, or a task of the plan and the job file, and where they are."""

PIECES = re.compile(r"[.|:+/,]")
"""What may stand between the parts of an id: a step told by a part of it is quoted too."""


def quoted(file: Path) -> Iterator[tuple[int, str]]:
    """Every step name that stands quoted in a file, but in its docstrings."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            parts = PIECES.split(node.value) if " " not in node.value and "windows" not in node.value else [node.value]
            yield from ((node.lineno, part) for part in parts if part in STEPS)


def is_everyday(step: str, name: str) -> bool:
    """Whether the step's name is another word in this file."""
    return name.startswith(EVERYDAY.get(step, ()))


def test_no_step_is_quoted_outside_the_table_and_the_readers() -> None:
    found = [
        f"{name}:{line}: {step!r}"
        for file in sorted(HOUSE.rglob("*.py"))
        if (name := file.relative_to(HOUSE).as_posix()) not in QUOTED_IN
        for line, step in quoted(file)
        if not is_everyday(step, name)
    ]
    assert found == []


def test_the_page_names_no_step_and_no_statement_of_one_by_itself() -> None:
    statements = {row.verb for row in STEPS.values() if row.verb}
    files = sorted((HOUSE / "board" / "static").glob("*.js"))
    assert len(files) > 3
    for file in files:
        text = file.read_text(encoding="utf-8")
        here = file.relative_to(HOUSE).as_posix()
        names = {step for step in STEPS if not is_everyday(step, here)} | statements
        assert [each for each in names if re.search(rf"[\"'`.]{re.escape(each)}[\"'`]", text)] == [], file.name


@pytest.mark.parametrize(
    ("window", "statement"),
    [
        ("pour-out", "poured"),
        ("back-roll", "rolled"),
        ("broadcast", "flaked"),
        ("scrape", "did scrape"),
        ("neutralise", "did neutralise"),
        ("second sanding", "did second sanding"),
        ("foot-traffic", None),
        ("recoat", None),
        ("wet-edge", None),
    ],
)
def test_a_step_is_finished_by_what_a_person_says(window: str, statement: str | None) -> None:
    assert row_of(window).statement == statement
    assert row_of(window).is_stated is (statement is not None)


def test_resin_in_a_bucket_flake_a_joint_and_acid_that_dries_cannot_be_mended_tomorrow() -> None:
    critical = {row.name for row in STEPS.values() if row.rank is Rank.CRITICAL}
    assert critical == {"pour-out", "broadcast", "wet-edge", "dwell", "neutralise", "hot", "next-kit", "check-in"}


def test_a_window_that_closes_has_four_stages_and_what_opens_is_told_once() -> None:
    assert row_of("back-roll").stages == CLOSING_STAGES
    assert row_of("foot-traffic").stages == (Stage.OPENED,)
    assert row_of("tack-free").stages == ()  # read, never called out
    assert row_of("recoat").stages == (Stage.HEADS_UP, Stage.OPENED, Stage.NOW, Stage.LATE, Stage.LOST)
    assert list(STAGE_ORDER) == list(Stage)


def test_what_a_step_waits_for_goes_back_to_the_bucket_and_never_in_a_circle() -> None:
    assert comes_after("broadcast") == ("back-roll", "pour-out", "induction")
    for name in WINDOWS:
        assert name not in comes_after(name)
        assert all(before in WINDOWS for before in row_of(name).waits_for)


def test_every_statement_that_ends_another_step_is_one_that_somebody_makes() -> None:
    for row in WINDOWS.values():
        others = [name for name in row.ended_by if name != row.name]
        assert all(row_of(name).is_stated for name in others)
