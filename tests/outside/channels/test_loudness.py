"""What the mixers of three sound systems say.

The answers of `pactl` are recorded from pulseaudio 16.1 (a real run: no speaker, muted, turned down). Those of `wpctl`
and `amixer` are from memory.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.outside.channels.loudness import (
    dummy_obstacle,
    graph_obstacle,
    mixer_obstacle,
    obstacle,
    volume_obstacle,
)

VOLUME = (
    "Volume: front-left: {raw} / {pct:3d}% / {db} dB,   front-right: {raw} / {pct:3d}% / {db} dB\n"
    "        balance 0.00\n"
)
MASTER = (
    "Simple mixer control 'Master',0\n  Capabilities: pvolume pswitch\n  Playback channels: Front Left - Front Right\n"
    "  Limits: Playback 0 - 65536\n  Mono:\n"
    "  Front Left: Playback {raw} [{pct}%] [{switch}]\n  Front Right: Playback {raw} [{pct}%] [{switch}]\n"
)


def test_a_sound_server_without_a_speaker_plays_into_a_dummy() -> None:
    assert "no speaker is connected" in str(dummy_obstacle("auto_null\n"))
    assert dummy_obstacle("alsa_output.pci-0000_00_1f.3.analog-stereo\n") is None


@pytest.mark.parametrize(
    ("mute", "pct", "words"),
    [("Mute: yes\n", 80, "muted"), ("Mute: no\n", 80, None), ("Mute: no\n", 2, "turned down to 2 %"), ("", 100, None)],
)
def test_a_muted_or_turned_down_speaker_is_seen(mute: str, pct: int, words: str | None) -> None:
    found = volume_obstacle(mute, VOLUME.format(raw=pct * 655, pct=pct, db="-5.00"))
    assert (words in str(found)) if words else found is None


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Volume: 0.40\n", None),
        ("Volume: 0.40 [MUTED]\n", "muted"),
        ("Volume: 0.02\n", "turned down to 2 %"),
        ("", None),
    ],
)
def test_a_machine_with_pipewire_alone_is_understood(said: str, words: str | None) -> None:
    found = graph_obstacle(said)
    assert (words in str(found)) if words else found is None


@pytest.mark.parametrize(
    ("pct", "switch", "words"), [(70, "on", None), (70, "off", "muted"), (0, "on", "turned down to 0 %")]
)
def test_the_plain_mixer_is_understood(pct: int, switch: str, words: str | None) -> None:
    found = mixer_obstacle(MASTER.format(raw=pct * 655, pct=pct, switch=switch))
    assert (words in str(found)) if words else found is None


def test_where_no_mixer_answers_nothing_is_claimed(empty_path: None) -> None:
    assert [obstacle(player) for player in ("pw-play", "paplay", "aplay", "afplay")] == [None] * 4


def test_the_mixer_is_asked_in_plain_english(program: Callable[[str, str], Path], tmp_path: Path) -> None:
    asked = tmp_path / "asked"
    program(
        "pactl", f'echo "$LC_ALL $@" >>{asked}; case $1 in get-sink-mute) echo "Mute: yes";; *) echo speaker;; esac'
    )
    assert "muted" in str(obstacle("paplay"))
    assert "C get-sink-mute @DEFAULT_SINK@" in asked.read_text()
