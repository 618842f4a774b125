"""The command that breaks core modules: what it breaks, that each module's tests reach it, that its list is true."""

from __future__ import annotations

import ast
import importlib
import sys
import threading
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.mutants.breaking import mutants_of
from tests.mutants.covering import CORES, ROOT, Core
from tests.mutants.inplace import put_in
from tests.mutants.known import known
from tests.mutants.reaching import Watching, reach_in

SAMPLE = '''
"""A text with 3 numbers."""
def late(now: int = 5, early: bool = True) -> str:
    """Is it later than 4?"""
    if now >= 7 and early:
        told.append(now)
    raise ValueError(f"{now + 1} is late")
'''


def test_comparisons_numbers_and_lines_are_broken_and_texts_are_not() -> None:
    assert {(one.was, one.becomes) for one in mutants_of(SAMPLE)} == {
        ("def late(now: int=5, early: bool=True) -> str:", "def late(now: int=6, early: bool=True) -> str:"),
        ("def late(now: int=5, early: bool=True) -> str:", "def late(now: int=5, early: bool=False) -> str:"),
        ("if now >= 7 and early:", "if now > 7 and early:"),
        ("if now >= 7 and early:", "if now < 7 and early:"),
        ("if now >= 7 and early:", "if now >= 8 and early:"),
        ("if now >= 7 and early:", "if now >= 7 or early:"),
        ("told.append(now)", "pass"),
    }


@pytest.mark.parametrize("core", CORES, ids=[core.name for core in CORES])
def test_a_mutant_differs_from_its_module_in_one_statement(core: Core) -> None:
    source, every = core.source, mutants_of(core.source)
    assert len(every) > 15
    for one in every[:: len(every) // 5]:
        broken, whole = ast.unparse(one.put_into(source)).splitlines(), ast.unparse(ast.parse(source)).splitlines()
        assert len(broken) == len(whole)
        assert sum(there != here for there, here in zip(broken, whole, strict=True)) == 1, one


@pytest.fixture
def sample(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """A module of its own that can be broken."""
    (tmp_path / "brokenhere.py").write_text("def double(of):\n    return of + of\n\ndef once(of):\n    return of\n")
    monkeypatch.syspath_prepend(tmp_path)
    yield importlib.import_module("brokenhere")
    del sys.modules["brokenhere"]


def test_a_fault_is_put_into_the_function_that_others_hold_already(sample: Any, tmp_path: Path) -> None:
    file, held = tmp_path / "brokenhere.py", sample.double
    [minus] = [one for one in mutants_of(file.read_text()) if one.becomes == "return of - of"]
    assert minus.in_function
    assert put_in(compile(minus.put_into(file.read_text()), str(file), "exec", dont_inherit=True), file) == 1
    assert (held(4), sample.once(4)) == (0, 4)


def test_the_tests_that_run_a_line_are_asked_about_it_the_quickest_first(sample: Any, tmp_path: Path) -> None:
    watching = Watching(tmp_path / "brokenhere.py", tmp_path / "reach.json")
    before = sys.gettrace()
    for name, took_s, function in (
        ("slow", 2.0, sample.double),
        ("quick", 0.1, sample.double),
        ("other", 0, sample.once),
    ):
        watching.begin()
        function(1)
        sys.settrace(before)
        watching.note(name, took_s)
    threading.settrace(before)  # type: ignore[arg-type]
    watching.pytest_sessionfinish()
    sys.settrace(before)
    reach = reach_in(tmp_path / "reach.json")
    assert [reach.asked([line]) for line in (2, 5, 99)] == [("quick", "slow"), ("other",), ()]


@pytest.mark.parametrize("core", CORES, ids=[core.name for core in CORES])
def test_the_tests_that_are_asked_about_a_module_reach_it(core: Core) -> None:
    assert core.tests
    for name in core.tests:
        assert (ROOT / name).is_file(), name
        assert core.file in reached(ROOT / name), f"{name} never imports {core.path}"


def test_what_is_known_to_live_still_stands_in_its_module_and_none_is_unsafe() -> None:
    there = {(core.name, *one.place) for core in CORES for one in mutants_of(core.source)}
    assert len(there) > 1000
    assert [place for place in known() if place not in there] == []
    assert {what.kind for what in known().values()} <= {"equivalent", "S2"}
    assert [place for place, what in known().items() if len(what.reason) < 20] == []


def reached(file: Path) -> set[Path]:
    """Every file of ours that is imported when this one is, at its top or later."""
    found, ahead = set[Path](), [file]
    while ahead:
        here = ahead.pop()
        if here not in found:
            found.add(here)
            ahead += imported(here)
            ahead += [place / "conftest.py" for place in here.parents if (place / "conftest.py").is_file()]
    return found


@cache
def imported(file: Path) -> tuple[Path, ...]:
    """The files of ours that a file names in its imports."""
    names: list[str] = []
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
    ours = [ROOT / name.replace(".", "/") for name in names if name.split(".")[0] in ("mixclock", "tests")]
    places = [place for one in ours for place in (one.with_suffix(".py"), one / "__init__.py")]
    return tuple(place for place in places if place.is_file())
