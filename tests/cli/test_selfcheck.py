"""selfcheck says what truly arrived, and 1 where nothing would reach anybody."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.realparts.alsa import Loudspeaker, missing_speaker
from tests.realparts.bus import RecordingServer, SessionBus, missing_bus
from tests.running import Runner

NOWHERE = {"DBUS_SESSION_BUS_ADDRESS": "unix:path=/nowhere", "XDG_RUNTIME_DIR": "/nowhere"}
DEAF = {**NOWHERE, "ALSA_CONFIG_PATH": "/nowhere", "PULSE_SERVER": "/nowhere", "PIPEWIRE_REMOTE": "/nowhere"}


@pytest.fixture
def bus() -> Iterator[SessionBus]:
    if missing := missing_bus():
        pytest.skip(missing)
    with tempfile.TemporaryDirectory(prefix="bus-", dir="/tmp") as folder, SessionBus(Path(folder)) as session:
        yield session


def test_on_a_bare_machine_it_answers_no_and_says_what_to_mend(run_process: Runner) -> None:
    ran = replace(run_process, env=DEAF)("selfcheck")
    assert ran.code == 1
    assert "desktop: does not work" in ran.out
    assert "sleep: " in ran.out
    assert "Nothing here would reach somebody" in ran.out.splitlines()[-1]


def test_with_a_desktop_it_answers_yes_and_the_notification_truly_arrived(run_process: Runner, bus: SessionBus) -> None:
    with RecordingServer(bus) as server:
        ran = replace(run_process, env={**DEAF, **bus.env})("selfcheck", "--json")
        assert ran.code == 0, ran.err
        assert len(server.notes) == 1
    desktop = next(one for one in ran.json["channels"] if one["name"] == "desktop")
    assert desktop == {
        "name": "desktop",
        "outcome": "sent",
        "shown": True,
        "detail": desktop["detail"],
        "reaches": True,
    }
    assert ran.json["reaches"] is True
    assert ran.json["volume_test"] is None


def test_with_a_speaker_the_volume_test_plays_five_pulses(run_process: Runner, tmp_path: Path) -> None:
    if missing := missing_speaker():
        pytest.skip(missing)
    speaker = Loudspeaker(tmp_path / "speaker", speed=20)
    ran = replace(run_process, env={**NOWHERE, **speaker.env})("selfcheck")
    assert ran.code == 0, ran.out
    assert "Count the pulses from the far corner" in ran.out
    assert "A critical alert reaches you here by" in ran.out
    spans = sorted(round(clip.span_s, 1) for clip in speaker.clips())
    assert spans[-1] >= 4.5, "the volume test was not played"
