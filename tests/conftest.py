"""What every test may ask for: a home of its own, and the commands, run inside this process or in one of their own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Generator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parent.parent
IN_CI = os.environ.get("CI") == "true"


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI every real component is there, so a test that skips has not shown what it should: it fails."""
    report = yield
    if IN_CI and report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"skipped in CI, where nothing may be missing: {_reason(report.longrepr)}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a file of tests that skips as a whole."""
    report = yield
    if IN_CI and report.skipped:
        report.outcome = "failed"
        report.longrepr = f"skipped in CI, where nothing may be missing: {_reason(report.longrepr)}"
    return report


def _reason(longrepr: object) -> str:
    return str(longrepr[2]) if isinstance(longrepr, tuple) else str(longrepr)


@dataclass(frozen=True)
class Ran:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """The answer as JSON."""
        return json.loads(self.out)


@dataclass(frozen=True)
class Runner:
    """Runs `mixclock` with a home of its own, as a process of its own."""

    home: Path
    env: Mapping[str, str] = field(default_factory=dict)
    cwd: Path | None = None

    def environment(self) -> dict[str, str]:
        """The environment of the command: nothing of the machine's own settings."""
        kept = {name: os.environ[name] for name in ("PATH", "LANG", "TMPDIR", "HOME") if name in os.environ}
        return {**kept, "MIXCLOCK_HOME": str(self.home), "PYTHONPATH": str(ROOT), "TZ": "UTC", **self.env}

    def __call__(self, *words: str, timeout_s: float = 60.0) -> Ran:
        """Run a command to its end."""
        done = subprocess.run(
            [sys.executable, "-m", "mixclock.cli", *words],
            capture_output=True,
            text=True,
            env=self.environment(),
            cwd=self.cwd or self.home,
            timeout=timeout_s,
            check=False,
        )
        return Ran(done.returncode, done.stdout, done.stderr)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty MIXCLOCK_HOME."""
    place = tmp_path / "home"
    place.mkdir()
    monkeypatch.setenv("MIXCLOCK_HOME", str(place))
    return place


@pytest.fixture
def run_process(home: Path) -> Runner:
    """Run commands as processes of their own."""
    return Runner(home)


@pytest.fixture
def run(home: Path, capfd: pytest.CaptureFixture[str]) -> Callable[..., Ran]:
    """Run commands inside this process: fast, and as the entry point does it."""

    def run_here(*words: str) -> Ran:
        from mixclock.cli import main

        capfd.readouterr()
        try:
            main(list(words))
            code = 0
        except SystemExit as done:
            code = done.code if isinstance(done.code, int) else 0 if done.code is None else 1
        out, err = capfd.readouterr()
        return Ran(code, out, err)

    return run_here
