"""What a shell offers after Tab, asked as each shell asks."""

from __future__ import annotations

import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.test_interface import at_work
from tests.realparts.parts import missing
from tests.running import Ran, Runner

Run = Callable[..., Ran]
Offered = Callable[..., list[str]]


@pytest.fixture
def offered(run_as: Run, home: Path) -> Offered:
    """What is offered at the end of a line, a word each."""

    def asked(line: str, shell: str = "bash") -> list[str]:
        ran = run_as(Runner(home, asking(line, shell)))
        assert ran.err == ""
        return ran.out.split("\n")[:-1] if ran.out.strip() else []

    return asked


def asking(line: str, shell: str) -> dict[str, str]:
    """What a shell sets before it asks."""
    whom = {"_MIXCLOCK_COMPLETE": f"complete_{shell}"}
    if shell == "bash":
        return whom | {"COMP_WORDS": line, "COMP_CWORD": str(len(line.split(" ")) - 1)}
    return whom | {
        "_TYPER_COMPLETE_ARGS": line,
        "_TYPER_COMPLETE_FISH_ACTION": "get-args",
        "_TYPER_COMPLETE_WORD_TO_COMPLETE": line.rpartition(" ")[2],
    }


def test_the_names_of_this_job_and_this_machine_are_offered(studio: Run, offered: Offered) -> None:
    at_work(studio)
    assert "bay\\ 1" in offered("mixclock found ba")
    assert offered("mixclock poured ") == ["2", "1"], "the newest batch first"
    assert "Slow\\ epoxy\\ base" in offered("mixclock mixing Sl")
    assert "stringy" in offered("mixclock saw 1 st")
    assert "dull" in offered("mixclock why --symptom du")
    assert "scrape" in offered("mixclock did scr")
    assert "base" in offered("mixclock mixing x 3L --coat ba")
    assert any(word.startswith("heater:") for word in offered("mixclock noted heater"))
    assert offered("mixclock now --job Pottery"), "jobs too"


@pytest.mark.parametrize(
    ("shell", "written"),
    [("zsh", "bay 1"), ("fish", "bay 1"), ("powershell", "bay` 1"), ("pwsh", "bay` 1"), ("bash", "bay\\ 1")],
)
def test_a_name_of_two_words_is_written_as_each_shell_wants_it(
    studio: Run, offered: Offered, shell: str, written: str
) -> None:
    assert any(written in line for line in offered("mixclock found ba", shell))


def test_nothing_is_offered_and_nothing_said_where_there_is_no_job(offered: Offered) -> None:
    assert offered("mixclock poured ") == []


def test_a_broken_book_says_nothing_in_the_middle_of_a_line(home: Path, offered: Offered) -> None:
    home.mkdir(parents=True, exist_ok=True)
    (home / "book.sqlite3").write_bytes(b"no book" * 1000)
    assert offered("mixclock found ba") == []


def test_a_real_bash_puts_the_name_in(studio: Run, home: Path, tmp_path: Path) -> None:
    """bash itself, with the script that `--show-completion` prints, and `mixclock` as a program on its path."""
    if absent := missing("bash"):
        pytest.skip(absent)
    named = {"_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"}
    script = Runner(home, named)("--show-completion", "bash").out
    root = Path(__file__).resolve().parents[2]
    program = tmp_path / "mixclock"
    program.write_text(f'#!/bin/sh\nMIXCLOCK_HOME={home} PYTHONPATH={root} exec {sys.executable} -m mixclock "$@"\n')
    program.chmod(0o755)
    asked = f"""{script}
COMP_WORDS=(mixclock found ba) COMP_CWORD=2
_mixclock_completion {program}
printf '%s\\n' "${{COMPREPLY[@]}}"
"""
    bash = shutil.which("bash")
    assert bash is not None
    told = subprocess.run([bash, "--norc"], input=asked, capture_output=True, text=True, timeout=60, check=True)
    assert "bay\\ 1" in told.stdout.splitlines()
