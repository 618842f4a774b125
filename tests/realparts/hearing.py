"""Measure what a captured sound would be to an ear: pulses, where its energy is, and whether it says given words."""

import numpy as np
from numpy.typing import NDArray

from tests.realparts.alsa import FRAMES_PER_S, Clip

WINDOW_S = 0.010


def band_share(clip: Clip, low_hz: float, high_hz: float) -> float:
    """The part of the sound's energy that lies between two frequencies."""
    power = np.abs(np.fft.rfft(clip.samples)) ** 2
    at_hz = np.fft.rfftfreq(len(clip.samples), 1 / FRAMES_PER_S)
    return float(power[(at_hz >= low_hz) & (at_hz <= high_hz)].sum() / power.sum())


def harmonics_hz(clip: Clip, floor_db: float = -20.0) -> list[int]:
    """The frequencies of the spectrum's lines that are within `floor_db` of the strongest, to 10 Hz."""
    level = np.abs(np.fft.rfft(clip.samples))
    at_hz = np.fft.rfftfreq(len(clip.samples), 1 / FRAMES_PER_S)
    by_100_hz = {int(bin_hz): level[(at_hz >= bin_hz) & (at_hz < bin_hz + 100)] for bin_hz in range(100, 8000, 100)}
    loud = {
        bin_hz: part.max() for bin_hz, part in by_100_hz.items() if part.max() > level.max() * 10 ** (floor_db / 20)
    }
    return sorted(loud)


def pulses(clip: Clip, part_of_peak: float = 0.05) -> list[tuple[float, float]]:
    """(length, silence after it) of each pulse in seconds, from the loudness in windows of 10 ms."""
    loud = loudness(clip) > part_of_peak * np.abs(clip.samples).max()
    edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(int)))
    starts, ends = edges[::2], edges[1::2]
    silences = np.append(starts[1:], len(loud)) - ends
    return [(float(on) * WINDOW_S, float(off) * WINDOW_S) for on, off in zip(ends - starts, silences, strict=True)]


def loudness(clip: Clip) -> NDArray[np.float64]:
    """Root mean square in windows of 10 ms."""
    size = round(WINDOW_S * FRAMES_PER_S)
    whole = clip.samples[: len(clip.samples) // size * size].reshape(-1, size)
    return np.asarray(np.sqrt((whole**2).mean(axis=1)))


def likeness(clip: Clip, spoken: Clip) -> float:
    """How much two sounds are the same, 1 being alike at every moment: the peak of their normed cross-correlation."""
    size = 1 << (len(clip.samples) + len(spoken.samples)).bit_length()
    together = np.fft.irfft(np.fft.rfft(clip.samples, size) * np.conj(np.fft.rfft(spoken.samples, size)), size)
    energy = np.sqrt((clip.samples**2).sum() * (spoken.samples**2).sum())
    return float(np.abs(together).max() / energy)
