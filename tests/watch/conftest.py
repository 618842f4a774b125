"""Sheds with a daemon, and a desktop to see what it sends."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from mixclock.wiring import open_house
from tests.realparts.bus import RecordingServer, SessionBus, missing_bus
from tests.watch.sheds import CLOCK, JOB, QUICK, ROOT, Shed


@pytest.fixture
def make_shed(tmp_path: Path) -> Iterator[Callable[..., Shed]]:
    """Makes a shed whose product has the pot life that is asked for."""
    made: list[Shed] = []

    def make(pot_life: str = "10 s", mixing: str = "2 s", env: dict[str, str] | None = None) -> Shed:
        home = tmp_path / "home"
        (home / "profiles").mkdir(parents=True)
        (home / "profiles" / "quick.toml").write_text(QUICK.format(pot_life=pot_life, mixing=mixing))
        kept = {name: os.environ[name] for name in ("PATH", "LANG", "HOME") if name in os.environ}
        around = {**kept, "MIXCLOCK_HOME": str(home), "PYTHONPATH": str(ROOT), "TZ": "UTC", **(env or {})}
        house = open_house(home, CLOCK)
        house.start(JOB)
        made.append(Shed(home, house, around))
        return made[-1]

    yield make
    for shed in made:
        for watching in shed.watches:
            if watching.process.poll() is None:
                watching.process.kill()
            watching.process.wait()
            assert watching.process.stdout is not None
            watching.process.stdout.close()
        shed.house.close()


@pytest.fixture
def profiles_of_home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Statements made in this process find the shed's products."""
    monkeypatch.setenv("MIXCLOCK_HOME", str(tmp_path / "home"))


@pytest.fixture
def bus() -> Iterator[SessionBus]:
    """A session bus without any server on it."""
    if missing := missing_bus():
        pytest.skip(missing)
    # not below tmp_path: a socket's path has 107 characters at most
    with tempfile.TemporaryDirectory(prefix="bus-", dir="/tmp") as folder, SessionBus(Path(folder)) as session:
        yield session


@pytest.fixture
def server(bus: SessionBus) -> Iterator[RecordingServer]:
    """A notification server that writes down what arrives."""
    with RecordingServer(bus) as recording:
        yield recording
