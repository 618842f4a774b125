"""Real far ends for the channels: a bus with a notification server, a loudspeaker that writes down what it plays."""

import os
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from mixclock.outside.channels.message import Message
from tests.realparts.alsa import Loudspeaker, missing_speaker
from tests.realparts.bus import RecordingServer, SessionBus, missing_bus


@pytest.fixture(autouse=True)
def nothing_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Whatever a channel writes to the disk is gone when it has answered."""
    place = tmp_path / "temporary"
    place.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    yield
    assert list(place.iterdir()) == []


@pytest.fixture
def message() -> Callable[..., Message]:
    """An alert of a small floor, with whatever is asked for put in."""

    def written(**parts: object) -> Message:
        usual: dict[str, object] = {
            "alert_id": "batch 3 pour-out",
            "rank": "critical",
            "title": "Batch 3, bay 2: pour it out now",
            "body": "Pour it out by 10:42. Two minutes left.",
            "speech": "Batch 3, bay 2: pour it out now. Two minutes left.",
        }
        return Message(**{**usual, **parts})  # type: ignore[arg-type]

    return written


@pytest.fixture
def bus(monkeypatch: pytest.MonkeyPatch) -> Iterator[SessionBus]:
    """A session bus without any server on it."""
    if missing := missing_bus():
        pytest.skip(missing)
    # not below tmp_path: a socket's path has 107 characters at most
    with tempfile.TemporaryDirectory(prefix="bus-", dir="/tmp") as folder, SessionBus(Path(folder)) as session:
        for name, value in session.env.items():
            monkeypatch.setenv(name, value)
        yield session


@pytest.fixture
def server(bus: SessionBus) -> Iterator[RecordingServer]:
    """A notification server that answers well."""
    with RecordingServer(bus) as recording:
        yield recording


@pytest.fixture
def speaker_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[float], Loudspeaker]:
    """A captured loudspeaker that plays so many times faster than a real one."""
    if missing := missing_speaker():
        pytest.skip(missing)

    def at(speed: float) -> Loudspeaker:
        speaker = Loudspeaker(tmp_path / "speaker", speed)
        for name, value in speaker.env.items():
            monkeypatch.setenv(name, value)
        return speaker

    return at


@pytest.fixture
def speaker(speaker_at: Callable[[float], Loudspeaker]) -> Loudspeaker:
    """A captured loudspeaker for tests to which time does not matter."""
    return speaker_at(50.0)


@pytest.fixture
def program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, str], Path]:
    """Put a program of a given name before all others on the path: what a machine with other parts would have."""
    place = tmp_path / "programs"
    place.mkdir()
    monkeypatch.setenv("PATH", f"{place}{os.pathsep}{os.environ['PATH']}")

    def put(name: str, script: str) -> Path:
        path = place / name
        path.write_text(f"#!/bin/sh\n{script}\n")
        path.chmod(0o755)
        return path

    return put


@pytest.fixture
def empty_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine on which no program is installed."""
    bare = tmp_path / "bare"
    bare.mkdir()
    monkeypatch.setenv("PATH", str(bare))
