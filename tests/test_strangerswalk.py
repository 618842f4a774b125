"""A stranger's walk: an empty home and the front page alone, from nothing to the first alert."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from tests.running import ROOT
from tests.test_readme import JOB_FILE, front_page, part

BLOCK = re.compile(r"```(sh|powershell)\n(.*?)```", re.DOTALL)
ALERT_WITHIN_S = 20.0


def walk(kind: str) -> list[str]:
    """The lines of "Your first alert" in one shell's words, without the remarks."""
    section = front_page().partition("### Your first alert")[2].partition("\n| |")[0]
    (block,) = [text for name, text in BLOCK.findall(section) if name == kind]
    return [line for line in block.splitlines() if line and not line.startswith("#")]


def test_from_nothing_to_the_first_alert_takes_five_steps(tmp_path: Path) -> None:
    """The install apart, which is the first of them, and the copied job file, which is the second."""
    lines = walk("sh")
    assert len(lines) == 4, "two to begin, one that is called out, one that is heard"
    (tmp_path / "shed.toml").write_text(part(JOB_FILE), encoding="utf-8")
    place = tmp_path / ".venv" / "bin" / "mixclock"
    place.parent.mkdir(parents=True)
    place.write_text(f'#!/bin/sh\nexec {sys.executable} -m mixclock "$@"\n')
    place.chmod(0o755)
    kept = {name: os.environ[name] for name in ("PATH", "LANG", "HOME") if name in os.environ}
    around = {**kept, "MIXCLOCK_HOME": str(tmp_path / "home"), "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"}

    def type_in(line: str) -> str:
        done = subprocess.run(
            shlex.split(line), cwd=tmp_path, env=around, capture_output=True, text=True, timeout=60, check=False
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    assert "begun" in type_in(lines[0])
    watching = subprocess.Popen(
        [*shlex.split(lines[1]), "--no-sound", "--port", "0"],
        cwd=tmp_path,
        env=around,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        assert watching.stdout is not None
        told: list[str] = []
        called = threading.Event()

        def read() -> None:
            assert watching.stdout is not None
            for line in watching.stdout:
                told.append(line)
                if "batch 1" in line.lower():
                    called.set()

        reader = threading.Thread(target=read, daemon=True)
        reader.start()
        assert "Batch 1" in type_in(lines[2])
        assert called.wait(ALERT_WITHIN_S), "".join(told)
        assert "heard" in type_in(lines[3]).lower()
    finally:
        watching.terminate()
        watching.wait(30)
        reader.join(10)
        watching.stdout.close()


def test_powershell_reads_the_same_walk_and_the_two_commands_at_the_top() -> None:
    """By the grammar that editors use for PowerShell; no such shell is at hand."""
    tree_sitter = pytest.importorskip("tree_sitter", reason="not installed: tree-sitter")
    powershell = pytest.importorskip("tree_sitter_powershell", reason="not installed: tree-sitter-powershell")
    parser = tree_sitter.Parser(tree_sitter.Language(powershell.language()))
    blocks = [text for name, text in BLOCK.findall(front_page()) if name == "powershell"]
    assert len(blocks) >= 2
    for block in blocks:
        assert not parser.parse(block.encode()).root_node.has_error, block
    plain = [line.replace(".venv\\Scripts\\", ".venv/bin/") for line in walk("powershell")]
    assert plain == walk("sh"), "both shells are told the same steps"


def test_every_shell_line_of_the_front_page_names_commands_that_are_there() -> None:
    from mixclock.cli import COMMANDS, GROUPS

    named = re.findall(r"\.venv[/\\](?:bin|Scripts)[/\\]mixclock ([a-z]+)", front_page())
    assert len(named) >= 6
    assert set(named) <= {*COMMANDS, *GROUPS}
