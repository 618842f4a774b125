"""The far end of the captured loudspeaker: writes down what is played, at the speed at which it would be heard.

ALSA starts it with the sound on its standard input. Arguments: folder, bytes a second, and how many times faster than
real time. Beside the sound it writes when each piece of it was "heard", on the monotonic clock.
"""

import sys
import time
from pathlib import Path


def main(folder: str, bytes_per_s: int, speed: float) -> None:
    """Swallow the standard input at the pace of a loudspeaker."""
    began_ns = time.monotonic_ns()
    stem = Path(folder) / f"{began_ns:020d}"
    piece = bytes_per_s // 50
    heard = 0
    with stem.with_suffix(".raw").open("wb", 0) as sound, stem.with_suffix(".times").open("w", buffering=1) as times:
        times.write(f"{began_ns} 0\n")
        while part := sys.stdin.buffer.read(piece):
            heard += len(part)
            wait_s = began_ns / 1e9 + heard / bytes_per_s / speed - time.monotonic_ns() / 1e9
            if wait_s > 0:
                time.sleep(wait_s)  # noqa: TID251 — this is a loudspeaker: it takes its time
            sound.write(part)
            times.write(f"{time.monotonic_ns()} {heard}\n")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]), float(sys.argv[3]))
