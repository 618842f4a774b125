"""What cannot be meant is one line and changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.studio import STUDIO

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(STUDIO)
    assert said(tmp_path, "job", "start", "job.toml").returncode == 0
    return tmp_path


def said(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {**os.environ, "MIXCLOCK_HOME": str(home / "home"), "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        [sys.executable, "-m", "mixclock.cli", *words], env=env, cwd=home, capture_output=True, text=True, timeout=60
    )


@pytest.mark.parametrize("ago", ["1e30 d", "999999999 d", "4000000 d"])
def test_longer_ago_than_anything_is_refused_in_one_line(studio: Path, ago: str) -> None:
    done = said(studio, "noted", "heater lit", "--ago", ago)
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1
    assert "Traceback" not in done.stderr


def test_a_file_that_never_ends_is_no_picture(studio: Path) -> None:
    os.mkfifo(studio / "pipe")
    for path in ("/dev/zero", "pipe", "."):
        done = said(studio, "photo", path)
        assert done.returncode == 2
        assert len(done.stderr.splitlines()) == 1
