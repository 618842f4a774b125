"""What every test may ask for: a home of its own, and the commands, run inside this process or in one of their own."""

from __future__ import annotations

import os
from collections.abc import Callable, Generator, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

from tests.running import Ran, Runner

IN_CI = os.environ.get("CI") == "true"

# the gate says the same of the same commit; everywhere else every run looks at other examples
settings.register_profile("gate", derandomize=True, deadline=None)
if IN_CI:
    settings.load_profile("gate")


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
        code = main(words)
        out, err = capfd.readouterr()
        return Ran(code, out, err)

    return run_here


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium, once for all tests: two of its drivers in one process get in each other's way."""
    chromium = Path("/usr/bin/chromium")
    if not chromium.exists():
        pytest.skip(f"{chromium} is missing: apt-get install chromium")
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is missing: pip install playwright")
    with playwright.sync_playwright() as running:
        launched = running.chromium.launch(
            executable_path=str(chromium), args=["--no-sandbox", "--autoplay-policy=user-gesture-required"]
        )
        yield launched
        launched.close()
