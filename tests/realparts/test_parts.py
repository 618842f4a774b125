"""A machine without real parts, as the gate makes one: nothing of them is found, and everything else is."""

from __future__ import annotations

import os
import re
import shutil
import stat
from pathlib import Path

import pytest

from tests.conftest import IN_ONE_BROWSER
from tests.realparts.parts import PARTS, missing, without_parts


@pytest.fixture
def machine(tmp_path: Path) -> str:
    """A PATH with a program of each part on it, and two that every machine has."""
    place = tmp_path / "bin"
    place.mkdir()
    for name in (*PARTS, "cat", "sh"):
        (place / name).write_text("#!/bin/sh\n")
        (place / name).chmod(stat.S_IRWXU)
    return str(place)


def test_on_the_path_without_parts_no_part_is_found_and_everything_else_is(machine: str, tmp_path: Path) -> None:
    bare = str(without_parts(tmp_path / "bare", machine))
    assert [name for name in PARTS if shutil.which(name, path=machine) is None] == []
    assert [name for name in PARTS if shutil.which(name, path=bare) is not None] == []
    assert [name for name in ("cat", "sh") if shutil.which(name, path=bare) is None] == []


def test_what_is_missing_is_named_so_that_it_can_be_installed(machine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", machine)
    assert missing("dunst", "Xvfb") is None
    assert missing("dunst", "a-voice", "a-screen") == "not installed: a-voice, a-screen"


def test_where_the_gate_says_that_the_parts_are_hidden_they_are() -> None:
    if os.environ.get("MIXCLOCK_PARTS") == "hidden":
        assert [name for name in PARTS if shutil.which(name) is not None] == []
    else:
        assert os.environ.get("MIXCLOCK_PARTS") in (None, "all")


def test_each_file_that_needs_a_browser_shares_one_with_others() -> None:
    tests = Path(__file__).parents[1]
    need = {
        str(file.relative_to(tests))
        for file in tests.rglob("test_*.py")
        if re.search(r"def test_\w+\([^)]*\b(phone|browser|paper)\b", file.read_text(encoding="utf-8"))
    }
    assert len(need) > 15
    assert sorted(need) == sorted(name for names in IN_ONE_BROWSER for name in names if name in need)
    assert sorted(name for names in IN_ONE_BROWSER for name in names if not (tests / name).is_file()) == []
