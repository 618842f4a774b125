"""A loudspeaker that writes down what it plays: an ALSA device of type `file` over `null`, paced like a real one.

    speaker = Loudspeaker(tmp_path / "speaker")
    subprocess.Popen([...], env={**os.environ, **speaker.env})
    clips = speaker.clips()

Each clip is one playing: samples between -1 and 1, and when it began and ended on `time.monotonic()`.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.realparts.parts import missing

FRAMES_PER_S = 44_100

_CONFIG = """pcm.!default {{ type plug slave {{ pcm captured format S16_LE rate {rate} channels 1 }} }}
pcm.captured {{ type file slave {{ pcm nothing }} file "| {command}" format raw }}
pcm.nothing {{ type null }}
"""


def missing_speaker() -> str | None:
    """Why nothing can be captured here; None where it can."""
    return missing("aplay")


@dataclass(frozen=True)
class Clip:
    """What was heard in one playing."""

    samples: NDArray[np.float64]
    began_s: float
    ended_s: float

    @property
    def span_s(self) -> float:
        """How long the sound itself is."""
        return len(self.samples) / FRAMES_PER_S

    @property
    def rms(self) -> float:
        """Root mean square, 1 being full scale."""
        return float(np.sqrt(np.mean(self.samples**2))) if len(self.samples) else 0.0


class Loudspeaker:
    """`speed` 1 plays as slowly as a loudspeaker does; 50 is for tests to which time does not matter."""

    def __init__(self, folder: Path, speed: float = 1.0) -> None:
        self._heard = folder / "heard"
        self._heard.mkdir(parents=True)
        capture = Path(__file__).with_name("capture.py")
        command = f"{sys.executable} -S -E {capture} {self._heard} {2 * FRAMES_PER_S} {speed}"
        config = folder / "asound.conf"
        config.write_text(_CONFIG.format(rate=FRAMES_PER_S, command=command))
        # sound servers are told of a place where none is, so that only ALSA plays, and none is started
        nowhere = folder / "no-server"
        self.env = {
            "ALSA_CONFIG_PATH": str(config),
            "PULSE_SERVER": f"unix:{nowhere}",
            "PIPEWIRE_REMOTE": str(nowhere),
        }

    def clips(self) -> list[Clip]:
        """Everything that was played so far, in order; what has just begun has no time yet."""
        begun = [raw for raw in sorted(self._heard.glob("*.raw")) if _times_s(raw)]
        return [_clip(raw) for raw in begun]


def _clip(raw: Path) -> Clip:
    samples = np.frombuffer(raw.read_bytes(), "<i2") / 32768
    times_s = _times_s(raw)
    return Clip(samples, times_s[0], times_s[-1])


def _times_s(raw: Path) -> list[float]:
    """When each piece was heard; a line that is being written does not count."""
    beside = raw.with_suffix(".times")
    whole = beside.read_text().rpartition("\n")[0] if beside.exists() else ""
    return [int(line.split()[0]) / 1e9 for line in whole.splitlines()]
