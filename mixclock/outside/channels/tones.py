"""The sound patterns of the calls, made with the standard library: the rhythm tells the kind, the speed the urgency.

A drill, a vacuum and fans hide pitch but not rhythm, so each kind of call has its own grouping of pulses.
Every pulse is a chord of at least four harmonics between 500 and 3,000 Hz, where a small speaker is strong and an
ear behind muffs still hears. Medical alarms (IEC 60601-1-8, known from secondary sources only) are the model for many
pulses when high and few when medium, and for several harmonics; the rhythms are our own.
"""

import array
import io
import math
import sys
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from mixclock.job.stepkinds import CallKind
from mixclock.outside.channels.message import RANKS, Rank
from mixclock.values import dataclass

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


@dataclass(frozen=True)
class Beat:
    """One pulse of a rhythm and the silence after it, in beats: the shortest pulse of the rhythm is one."""

    on: float
    gap: float


RHYTHMS: Mapping[CallKind, tuple[Beat, ...]] = MappingProxyType(
    {
        # four hurried ones, then a pause
        CallKind.BUCKET: (Beat(1.0, 0.7), Beat(1.0, 0.7), Beat(1.0, 0.7), Beat(1.0, 3.2)),
        # short, long
        CallKind.FLOOR: (Beat(1.0, 1.2), Beat(3.5, 2.8)),
        # single ones, as from far away
        CallKind.SLAB: (Beat(1.0, 2.2),),
    }
)
"""What a call is about: told apart by the grouping alone, at any speed."""

BEAT_S: Mapping[CallKind, Mapping[Rank, float]] = MappingProxyType(
    {
        CallKind.BUCKET: {"critical": 0.095, "timely": 0.13, "notice": 0.18},
        CallKind.FLOOR: {"critical": 0.085, "timely": 0.12, "notice": 0.17},
        CallKind.SLAB: {"critical": 0.13, "timely": 0.18, "notice": 0.25},
    }
)
"""How fast: three speeds, the more urgent the faster, each a third slower than the one before."""

TIMES: Mapping[CallKind, Mapping[Rank, int]] = MappingProxyType(
    {
        CallKind.BUCKET: {"critical": 3, "timely": 2, "notice": 1},
        CallKind.FLOOR: {"critical": 3, "timely": 2, "notice": 1},
        CallKind.SLAB: {"critical": 5, "timely": 3, "notice": 2},
    }
)
LATE_TIMES = 1.6
"""How often a rhythm is played, and how much oftener where the step is overdue: the same, longer, as loud as can be."""

BASE_HZ: Mapping[Rank, float] = MappingProxyType({"critical": 730.0, "timely": 590.0, "notice": 520.0})
_LOUDNESS: Mapping[Rank, float] = MappingProxyType({"critical": 0.95, "timely": 0.8, "notice": 0.5})
USUAL_KIND: Mapping[Rank, CallKind] = MappingProxyType(
    {"critical": CallKind.BUCKET, "timely": CallKind.FLOOR, "notice": CallKind.SLAB}
)
"""What a message of a rank is about where it does not say."""


def sounds_told() -> dict[str, Any]:
    """The rhythms, speeds, counts and pitches of the calls for a phone, so that its calls sound like the laptop's."""
    return {
        "rhythms": {kind.value: [[beat.on, beat.gap] for beat in beats] for kind, beats in RHYTHMS.items()},
        "beat_s": {kind.value: dict(speeds) for kind, speeds in BEAT_S.items()},
        "times": {kind.value: dict(times) for kind, times in TIMES.items()},
        "late_times": LATE_TIMES,
        "pitch_hz": dict(BASE_HZ),
    }


@cache
def pattern_of(rank: Rank, kind: str = "", late: bool = False) -> Pattern:
    """The sound of a call: its rhythm tells what it is about, its speed how urgent it is."""
    about = CallKind(kind) if kind else USUAL_KIND[rank]
    beat_s = BEAT_S[about][rank]
    loudness = 0.95 if late and rank != "notice" else _LOUDNESS[rank]
    times = TIMES[about][rank]
    times = math.ceil(times * LATE_TIMES) if late and rank != "notice" else times
    pulses = [Pulse(beat.on * beat_s, beat.gap * beat_s, loudness) for beat in RHYTHMS[about]] * times
    return Pattern(f"{'late ' if late else ''}{rank} {about}", BASE_HZ[rank], tuple(pulses))


PATTERNS: Mapping[Rank, Pattern] = MappingProxyType({rank: pattern_of(rank) for rank in RANKS})

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
    import wave  # a watch plays what it wrote long ago

    whole = io.BytesIO()
    with wave.open(whole, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(FRAMES_PER_S)
        file.writeframes(frames)
    return whole.getvalue()
