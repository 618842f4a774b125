"""Whether the speaker is muted, turned right down, or not there at all. A player's exit code does not tell."""

import os
import re
import shutil
import subprocess

ASK_S = 1.0
LOWEST_HEARD_PCT = 5
"""Judgement: below this nobody across a room hears anything."""

_DUMMY_SINKS = ("auto_null", "auto_null.monitor")


def obstacle(player: str) -> str | None:
    """What keeps people from hearing what `player` has just played; None where nothing is known to."""
    if player in ("pw-play", "paplay"):
        return _sink_obstacle()
    if player == "aplay":
        return mixer_obstacle(_answer("amixer", "sget", "Master"))
    return None


def _sink_obstacle() -> str | None:
    if shutil.which("pactl") is None:
        return graph_obstacle(_answer("wpctl", "get-volume", "@DEFAULT_AUDIO_SINK@"))
    return dummy_obstacle(_answer("pactl", "get-default-sink")) or volume_obstacle(
        _answer("pactl", "get-sink-mute", "@DEFAULT_SINK@"), _answer("pactl", "get-sink-volume", "@DEFAULT_SINK@")
    )


def dummy_obstacle(sink: str) -> str | None:
    """From `pactl get-default-sink`: the sound server's stand-in for "no speaker"."""
    if sink.strip() in _DUMMY_SINKS:
        return "no speaker is connected (the sound server plays into a dummy): connect or switch on the speaker"
    return None


def volume_obstacle(mute: str, volume: str) -> str | None:
    """From `pactl get-sink-mute` and `pactl get-sink-volume`."""
    if mute.strip().lower() == "mute: yes":
        return "the speaker is muted: unmute it"
    return _too_low(re.findall(r"(\d+)%", volume))


def graph_obstacle(volume: str) -> str | None:
    """From `wpctl get-volume`: "Volume: 0.40 [MUTED]"."""
    if "[MUTED]" in volume:
        return "the speaker is muted: unmute it"
    return _too_low([str(round(float(part) * 100)) for part in re.findall(r"Volume: (\d+\.\d+)", volume)])


def mixer_obstacle(master: str) -> str | None:
    """From `amixer sget Master`."""
    switches = re.findall(r"\[(on|off)\]", master)
    if switches and "on" not in switches:
        return "the speaker is muted: unmute it"
    return _too_low(re.findall(r"\[(\d+)%\]", master))


def _too_low(volumes_pct: list[str]) -> str | None:
    if volumes_pct and max(map(int, volumes_pct)) < LOWEST_HEARD_PCT:
        return f"the speaker is turned down to {max(map(int, volumes_pct))} %: turn it up"
    return None


def _answer(program: str, *arguments: str) -> str:
    """What the program prints; nothing where it is missing or fails, since then nothing is known."""
    path = shutil.which(program)
    if path is None:
        return ""
    plain = {**os.environ, "LC_ALL": "C"}
    try:
        done = subprocess.run([path, *arguments], capture_output=True, timeout=ASK_S, env=plain, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.decode("utf-8", "replace") if done.returncode == 0 else ""
