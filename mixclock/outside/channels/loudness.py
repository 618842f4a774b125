"""Tells whether the speaker is muted, turned right down, or missing. A player's exit code does not tell."""

import os
import re
import shutil
import subprocess
import sys

ASK_S = 1.0
LOWEST_HEARD_PCT = 5
"""Judgement: below this nobody across a room hears anything."""

_ASK_WINDOWS = (
    "from pycaw.pycaw import AudioUtilities; volume = AudioUtilities.GetSpeakers().EndpointVolume; "
    "print(volume.GetMute(), round(100 * volume.GetMasterVolumeLevelScalar()))"
)
"""Asked in a program of its own: COM in the daemon's threads would have to be set up in each."""

_DUMMY_SINKS = ("auto_null", "auto_null.monitor")


def obstacle(player: str) -> str | None:
    """What keeps people from hearing what `player` just played; None where nothing is known."""
    if player in ("pw-play", "paplay"):
        return _sink_obstacle()
    if player == "aplay":
        return mixer_obstacle(_answer("amixer", "sget", "Master"))
    if player == "afplay":
        return mac_obstacle(_answer("osascript", "-e", "get volume settings"))
    if player == "winsound":
        return windows_obstacle(_answer(sys.executable, "-c", _ASK_WINDOWS))
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


def mac_obstacle(settings: str) -> str | None:
    """From AppleScript's `get volume settings`: "output volume:44, ..., output muted:false".

    >>> mac_obstacle("output volume:44, input volume:75, alert volume:100, output muted:true")
    'the speaker is muted: unmute it'
    """
    if "output muted:true" in settings:
        return "the speaker is muted: unmute it"
    return _too_low(re.findall(r"output volume:(\d+)", settings))


def windows_obstacle(mute_and_level: str) -> str | None:
    """From the endpoint's volume: "1 40" is muted, "0 3" is too low.

    >>> windows_obstacle("0 3")
    'the speaker is turned down to 3 %: turn it up'
    """
    mute, _, level = mute_and_level.strip().partition(" ")
    if mute == "1":
        return "the speaker is muted: unmute it"
    return _too_low(re.findall(r"^\d+$", level))


def _too_low(volumes_pct: list[str]) -> str | None:
    if volumes_pct and max(map(int, volumes_pct)) < LOWEST_HEARD_PCT:
        return f"the speaker is turned down to {max(map(int, volumes_pct))} %: turn it up"
    return None


def _answer(program: str, *arguments: str) -> str:
    """What the program prints; empty where it is missing or fails, since then nothing is known."""
    path = shutil.which(program)
    if path is None:
        return ""
    plain = {**os.environ, "LC_ALL": "C"}
    try:
        done = subprocess.run([path, *arguments], capture_output=True, timeout=ASK_S, env=plain, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return done.stdout.decode("utf-8", "replace") if done.returncode == 0 else ""
