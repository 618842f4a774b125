"""The folder of the book, the settings and the user's own profiles."""

from __future__ import annotations

import os
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
