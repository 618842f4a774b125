"""The real parts that tests ask for, which of them this machine lacks, and a PATH on which none is found.

python -m tests.realparts.parts FOLDER    # fills a folder to be the whole PATH: what is here without the parts
"""

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

PARTS = (
    *("notify-send", "dbus-daemon", "dbus-launch", "dbus-run-session", "dbus-send", "gdbus", "dunst", "dunstctl"),
    *("Xvfb", "xvfb-run", "xauth", "chromium", "chromium-headless-shell", "chromium-browser", "google-chrome"),
    *("aplay", "paplay", "pw-play", "pw-cat", "pactl", "wpctl", "amixer", "afplay", "play", "ffplay", "mpv"),
    *("espeak-ng", "espeak", "spd-say", "say", "pico2wave", "flite"),
    *("soffice", "libreoffice", "localc", "pdftotext", "pdfinfo", "pdftoppm"),
    *("node", "nodejs", "npm", "npx", "faketime", "strace", "systemd-analyze", "systemd-inhibit", "loginctl"),
)
"""Programs that a newcomer's machine may lack."""


def missing(*programs: str) -> str | None:
    """Which of these programs this machine lacks, as the reason of a skip; None where all are there."""
    absent = [name for name in programs if shutil.which(name) is None]
    return f"not installed: {', '.join(absent)}" if absent else None


def without_parts(folder: Path, path: str) -> Path:
    """Fill a folder with links to every program on a PATH except the real parts."""
    folder.mkdir(parents=True)
    for program in _programs(path):
        link = folder / program.name
        if program.name not in PARTS and not link.is_symlink():
            link.symlink_to(program)
    return folder


def _programs(path: str) -> Iterator[Path]:
    for place in filter(None, path.split(os.pathsep)):
        if Path(place).is_dir():
            yield from (program for program in sorted(Path(place).iterdir()) if os.access(program, os.X_OK))


if __name__ == "__main__":
    without_parts(Path(sys.argv[1]).absolute(), os.environ["PATH"])
