"""The sound patterns of the ranks, told apart by rhythm, made with the standard library.

A drill, a vacuum and fans hide pitch but not rhythm, so each rank has its own count, length and grouping of pulses.
Every pulse is a chord of at least four harmonics between 500 and 3,000 Hz, where a small speaker is strong and an
ear behind muffs still hears. Medical alarms (IEC 60601-1-8, known from secondary sources only) are the model for many
pulses when high and few when medium, and for several harmonics; the rhythms are our own.
"""

import array
import io
import math
import sys
import wave
from dataclasses import dataclass
from functools import cache

from mixclock.outside.channels.message import Rank

FRAMES_PER_S = 44_100
RAMP_S = 0.006
"""A pulse that begins at once clicks; one that begins slowly does not stand out."""
TAIL_S = 0.15
"""Silence at the end, so that speech does not stick to the pattern and no player swallows the last pulse."""
FULL_SCALE = 32_767


@dataclass(frozen=True)
class Pulse:
    """Sound for `on_s`, then silence for `gap_s`, at `loudness` of full scale."""

    on_s: float
    gap_s: float
    loudness: float


@dataclass(frozen=True)
class Pattern:
    """A rhythm of pulses on one chord."""

    name: str
    base_hz: float
    pulses: tuple[Pulse, ...]

    @property
    def span_s(self) -> float:
        """From the first pulse to the end of the file."""
        return sum(pulse.on_s + pulse.gap_s for pulse in self.pulses) + TAIL_S

    def __str__(self) -> str:
        return f"{self.name} pattern ({len(self.pulses)} pulses, {self.span_s:.1f} s)"


def _volleys(count: int, size: int, on_s: float, gap_s: float, pause_s: float) -> tuple[Pulse, ...]:
    volley = [Pulse(on_s, gap_s, 0.95)] * (size - 1) + [Pulse(on_s, pause_s, 0.95)]
    return tuple(volley * count)


PATTERNS: dict[Rank, Pattern] = {
    # three hurried volleys of four
    "critical": Pattern("critical", 730.0, _volleys(3, 4, on_s=0.095, gap_s=0.065, pause_s=0.30)),
    # short, long; short, long
    "timely": Pattern("timely", 590.0, (Pulse(0.12, 0.14, 0.8), Pulse(0.42, 0.34, 0.8)) * 2),
    # two unhurried ones
    "notice": Pattern("notice", 520.0, (Pulse(0.25, 0.55, 0.5), Pulse(0.25, 0.0, 0.5))),
}

LATE_PATTERNS: dict[Rank, Pattern] = {
    # the same rhythms, so that the rank stays known, and more of them, as loud as can be
    "critical": Pattern("late critical", 730.0, _volleys(5, 4, on_s=0.095, gap_s=0.065, pause_s=0.22)),
    "timely": Pattern("late timely", 590.0, (Pulse(0.12, 0.14, 0.95), Pulse(0.42, 0.34, 0.95)) * 3),
    "notice": PATTERNS["notice"],
}

VOLUME_TEST_STEP_DB = 6.0
VOLUME_TEST = Pattern(
    "volume test",
    PATTERNS["critical"].base_hz,
    tuple(Pulse(0.35, 0.65, 0.95 * 10 ** (-VOLUME_TEST_STEP_DB * step / 20)) for step in (4, 3, 2, 1, 0)),
)
"""Five pulses, each twice the sound pressure of the one before; the last is as loud as a critical alert. Who counts all
five at the far corner has 24 dB in hand for the drill; who counts one has none."""


@cache
def wav_bytes(pattern: Pattern) -> bytes:
    """The pattern as a WAV file: 16 bit, one channel."""
    frames = array.array("h")
    for pulse in pattern.pulses:
        frames.extend(_pulse_frames(pattern.base_hz, pulse))
        frames.extend(_silence(pulse.gap_s))
    frames.extend(_silence(TAIL_S))
    if sys.byteorder == "big":
        frames.byteswap()
    return _wav(frames.tobytes())


def seconds(wav: bytes) -> float:
    """How long a WAV file plays."""
    with wave.open(io.BytesIO(wav)) as file:
        span_s: float = file.getnframes() / file.getframerate()
        return span_s


@cache
def _pulse_frames(base_hz: float, pulse: Pulse) -> "array.array[int]":
    count = round(pulse.on_s * FRAMES_PER_S)
    ramp = round(RAMP_S * FRAMES_PER_S)
    chord = _chord(base_hz, count)
    scale = pulse.loudness * FULL_SCALE / max(map(abs, chord))
    return array.array(
        "h", (round(scale * level * min(1.0, at / ramp, (count - at) / ramp)) for at, level in enumerate(chord))
    )


def _chord(base_hz: float, count: int) -> list[float]:
    """Every harmonic up to 3,000 Hz, equally strong, with Schroeder's phases: the loudest sound for a given peak."""
    harmonics = range(1, int(3000 // base_hz) + 1)
    total = len(harmonics)
    steps = [(math.tau * base_hz * n / FRAMES_PER_S, -math.pi * n * (n - 1) / total) for n in harmonics]
    return [sum(math.sin(step * at + phase) for step, phase in steps) for at in range(count)]


def _silence(span_s: float) -> "array.array[int]":
    return array.array("h", bytes(2 * round(span_s * FRAMES_PER_S)))


def _wav(frames: bytes) -> bytes:
    whole = io.BytesIO()
    with wave.open(whole, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(FRAMES_PER_S)
        file.writeframes(frames)
    return whole.getvalue()
