"""The folder of the book, the settings and the user's own profiles."""

from __future__ import annotations

import os
import sys
from hashlib import sha256
from pathlib import Path

HOME_VARIABLE = "MIXCLOCK_HOME"


def home() -> Path:
    """`MIXCLOCK_HOME`, else the platform's usual data folder. It need not exist yet."""
    named = os.environ.get(HOME_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser().absolute()
    import platformdirs

    return Path(platformdirs.user_data_dir("mixclock", appauthor=False))


def profiles_home() -> Path:
    """Where the user's own profiles lie."""
    return home() / "profiles"


def drafts_home() -> Path:
    """Where profiles that are half written lie."""
    return profiles_home() / "drafts"


def beside_the_disk(home: Path, ending: str) -> Path:
    """A file of this home that outlives a process but no reboot, on no disk where the machine has such a place.

    There a watch keeps what its disk refuses.
    """
    import tempfile

    places = (os.environ.get("XDG_RUNTIME_DIR", ""), "/dev/shm" if sys.platform == "linux" else "")
    folder = next((place for place in places if place and os.access(place, os.W_OK)), tempfile.gettempdir())
    return Path(folder) / f"mixclock-{sha256(str(home.absolute()).encode()).hexdigest()[:16]}.{ending}"
