"""No figure reaches a person but in the crew's own units: not in Python's words, and not on the page."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import mixclock

HOUSE = Path(mixclock.__file__).parent
UNIT = re.compile(r"\s?(°|K\b|µm|um\b|mils?\b|m²|m2\b|m\b|ft|L\b|mL\b|gal|kg\b|g\b|oz\b|lb\b|MPa|psi|mm\b|cm\b)")
ON_THE_PAGE = re.compile(r"\$\{[^}]*\} ?(?:°|K\b|L\b|mL\b|kg\b|g\b|µm|m²|gal\b|lb\b|mil\b|ft)")

NOT_THE_CREWS = {
    "cli/cup.py": "turns what the crew typed into what a unit reader takes",
    "job/cups.py": "a test cup stands on scales that show grams",
    "words/saidback.py": "a test cup stands on scales that show grams",
    "words/gritwords.py": "writes both systems itself: nobody weighs grit in pounds",
    "job/forecastreading.py": "the figures of a service, in the degrees of its own file",
    "job/sensorreading.py": "the figures of a sensor, told to the program that sent them",
    "job/loggertable.py": "the figures of an export, in the degrees of its own file",
}
"""Files that write a figure with a unit, and why that is not the crew's."""


def written_out(file: Path) -> Iterator[int]:
    """The lines on which a unit stands right behind a figure."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.JoinedStr):
            for figure, text in zip(node.values, node.values[1:], strict=False):
                behind = text.value if isinstance(text, ast.Constant) else ""
                if isinstance(figure, ast.FormattedValue) and UNIT.match(str(behind)):
                    yield node.lineno


def test_no_sentence_writes_a_unit_behind_a_figure_by_itself() -> None:
    files = {file.relative_to(HOUSE).as_posix(): list(written_out(file)) for file in sorted(HOUSE.rglob("*.py"))}
    assert len(files) > 400
    outside = {name: lines for name, lines in files.items() if lines and not name.startswith(("units/", "formulas/"))}
    assert {name: lines for name, lines in outside.items() if name not in NOT_THE_CREWS} == {}
    assert set(NOT_THE_CREWS) <= set(outside), "a file that writes none any more is struck off"


def test_the_page_writes_no_unit_behind_a_figure() -> None:
    files = sorted((HOUSE / "board" / "static").glob("*.js"))
    assert len(files) > 20
    found = [(file.name, each[0]) for file in files for each in ON_THE_PAGE.finditer(file.read_text(encoding="utf-8"))]
    assert found == []
