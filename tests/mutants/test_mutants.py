"""The command that breaks core modules: what it breaks, that each module's tests reach it, that its list is true."""

from __future__ import annotations

import ast
import gc
import importlib
import json
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from tests.mutants.breaking import mutants_of
from tests.mutants.covering import CORES, ROOT, Core, source_of
from tests.mutants.inplace import NO_TIME, Outcome, put_in
from tests.mutants.kept import Kept
from tests.mutants.known import known
from tests.mutants.reaching import AT_IMPORT, Reach, reach_in

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


def test_each_comparison_of_a_chain_is_broken_by_itself() -> None:
    assert {one.becomes for one in mutants_of("def fits(of):\n    return least <= of < most")} == {
        "return least < of < most",
        "return least > of < most",
        "return least <= of <= most",
        "return least <= of >= most",
    }


@pytest.mark.parametrize("core", CORES, ids=[core.name for core in CORES])
def test_a_mutant_differs_from_its_module_in_one_statement(core: Core) -> None:
    every = core.mutants
    assert len(every) > 15
    assert {one.path for one in every} == set(core.paths)
    wholes = {path: ast.unparse(ast.parse(source_of(path))).splitlines() for path in core.paths}
    for one in every[:: len(every) // 5]:
        broken, whole = ast.unparse(one.put_into(source_of(one.path))).splitlines(), wholes[one.path]
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


def test_a_line_without_which_a_function_closes_over_nothing_any_more_is_left_out_of_its_whole_module() -> None:
    text = "class Kit(Pail):\n    def __init__(self, litres):\n        super().__init__(litres)\n        told(litres)\n"
    inside = {one.was: one.in_function for one in mutants_of(text)}
    assert inside == {"super().__init__(litres)": False, "told(litres)": True}


def test_the_tests_that_run_a_line_are_asked_about_it_file_by_file_and_no_longer_than_was_said() -> None:
    file = Path("/floor.py")
    lines = {
        AT_IMPORT: {1},
        "slow.py::one": {2, 3},
        "quick.py::far": {4},
        "quick.py::near": {2},
        "other.py::one": {4},
    }
    reach = Reach(
        {"slow.py::one": 9.0, "quick.py::far": 0.5, "quick.py::near": 0.1, "other.py::one": 0.1},
        {name: {"/floor.py": frozenset(of)} for name, of in lines.items()},
    )
    assert reach.asked(file, [2], 100.0) == ("quick.py::near", "slow.py::one", "quick.py::far")
    assert reach.asked(file, [2], 1.0) == ("quick.py::near",)
    assert reach.asked(file, [3], 1.0) == ("slow.py::one",), "one at least"
    assert reach.asked(file, [99], 100.0) == ()
    assert set(reach.asked(file, [1], 100.0)) == set(reach.took_s)
    assert reach.asked(Path("/elsewhere.py"), [2], 100.0) == ()
    assert reach_in(reach.written()) == reach


TESTED = {
    "double": """
@pytest.fixture(scope="module")
def doubled():
    return brokenhere.double(4)

def test_nothing_of_it(doubled):
    assert doubled

def test_how_much(doubled):
    assert doubled == 8
""",
    "once": """
def test_once():
    assert brokenhere.once(4) == 4
""",
    "down": """
def test_down():
    assert brokenhere.down(4) == 0
""",
    "burn": """
@pytest.mark.parametrize("again", range(4))
def test_burning(again):
    brokenhere.burn(0.4)
""",
}
"""What is tested of each function, where it is there."""
TRYING = """
import sys, json
from pathlib import Path
from tests.mutants.breaking import mutants_of
from tests.mutants import inplace
from tests.mutants.inplace import Fault, Forking
from tests.mutants.trying import Trial, survivals
folder = Path(sys.argv[1])
file = folder / "brokenhere.py"
faults = [Fault(file, one) for one in mutants_of(file.read_text())]
reach = folder / "reach.json"
out = open(folder / "told", "w")
told = lambda place, one: print(
    json.dumps([faults[place].mutant.becomes, one.lives, one.by.replace(str(folder), "")]), file=out, flush=True)
inplace.LEAST_S = 0.5
forking = Forking(faults, [file], reach, 60.0, 2, told)
trial = Trial((str(folder / "test_here.py"),), 60.0, forking=forking)
assert [passed for _, passed, _ in survivals([trial], 1)] == [True]
"""


def told_of(folder: Path, broken: str) -> dict[str, tuple[bool, str]]:
    """What becomes of each fault of a text, by what stands there: whether it lives, and the test that found it."""
    (folder / "brokenhere.py").write_text(broken)
    tested = [TESTED[name] for name in TESTED if f"def {name}(" in broken]
    (folder / "test_here.py").write_text("import brokenhere, pytest\n" + "".join(tested))
    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(folder)))}
    done = subprocess.run(
        [sys.executable, "-c", TRYING, str(folder)], env=env, cwd=ROOT, capture_output=True, text=True, timeout=240
    )
    assert done.returncode == 0, done.stderr
    read = map(json.loads, (folder / "told").read_text().splitlines())
    return {becomes: (lives, re.sub(r"\S*::", "", by)) for becomes, lives, by in read}


@pytest.mark.long
def test_a_fault_is_found_by_the_tests_that_run_it_also_in_what_they_share(tmp_path: Path) -> None:
    told = told_of(
        tmp_path,
        "def double(of):\n    return of + of\n\n"
        "def once(of):\n    return of * 1 if of >= 0 else 0\n\n"
        "def never(of):\n    return of + 1\n",
    )
    assert told["return of - of"] == (False, "test_nothing_of_it")
    assert told["return of * 2 if of >= 0 else 0"] == (False, "test_once")
    assert told["return of * 1 if of > 0 else 0"] == (True, "")
    assert told["return of - 1"] == (True, "")


@pytest.mark.long
def test_a_fault_is_found_by_a_hang_only_where_one_test_hangs_by_it_alone(tmp_path: Path) -> None:
    told = told_of(
        tmp_path,
        "def down(of):\n    while of > 0:\n        of -= 1\n    return of\n\n"
        "def burn(for_s):\n    until_s = time.process_time() + for_s * 0.0\n"
        "    while time.process_time() < until_s:\n        pass\n\n"
        "import time\n",
    )
    assert told["while of >= 0:"] == (False, "test_down")
    assert told["pass"] == (False, "it hung: test_down")
    assert told["until_s = time.process_time() + for_s * 1.0"] == (True, NO_TIME), "none of the four hangs by itself"


def test_what_was_found_stays_found_and_what_lived_is_asked_about_again_by_other_tests(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    core = CORES[0]
    found, lived, new = core.mutants[:3]
    kept = Kept(tmp_path, 60.0)
    kept.write(core, found, Outcome(False, "a test", 3, 1.0))
    kept.write(core, lived, Outcome(True, "", 3, 1.0))
    again = Kept(tmp_path, 60.0)
    assert (again.outcome(core, found), again.outcome(core, lived)) == (
        Outcome(False, "a test", 3, 1.0),
        Outcome(True, "", 3, 1.0),
    )
    assert again.outcome(core, new) is None
    assert Kept(tmp_path, 90.0).outcome(core, lived) is None, "it was asked for less long"
    monkeypatch.setattr("tests.mutants.kept.as_it_stands", lambda: "another day")
    assert again.outcome(core, found) is not None
    assert again.outcome(core, lived) is None


@pytest.mark.parametrize("core", CORES, ids=[core.name for core in CORES])
def test_the_tests_that_are_asked_about_a_module_reach_it(core: Core) -> None:
    assert core.tests
    of_each = dict.fromkeys(core.files, 0)
    for name in core.tests:
        assert (ROOT / name).is_file(), name
        there = of_each.keys() & reached(ROOT / name)
        assert there, f"{name} never imports {core.paths}"
        of_each.update({file: of_each[file] + 1 for file in there})
    assert all(of_each.values()), of_each


def test_what_is_known_to_live_still_stands_in_its_module_and_none_is_unsafe() -> None:
    there = {(core.name, *one.place) for core in CORES for one in core.mutants}
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
            ahead += conftests_over(here.parent)
    return found


@cache
def conftests_over(folder: Path) -> tuple[Path, ...]:
    """What pytest imports before any test of a folder."""
    return tuple(place / "conftest.py" for place in (folder, *folder.parents) if (place / "conftest.py").is_file())


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


def test_a_fault_is_put_in_also_where_the_session_has_frozen_what_it_holds(tmp_path: Path) -> None:
    file, shed = tmp_path / "shed.py", dict[str, Any]()
    exec(compile("def spare_min():\n    return 5\n", str(file), "exec"), shed)
    gc.freeze()
    assert put_in(compile("def spare_min():\n    return 6\n", str(file), "exec"), file) == 1
    assert shed["spare_min"]() == 6
