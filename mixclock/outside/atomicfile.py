"""Writing a file so that it is either the old one or the whole new one, whatever happens in between."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def write_atomically(path: Path, text: str) -> None:
    """Replace a file's text in one step; folders that are missing are made. Raises OSError and leaves the old file."""
    import tempfile  # not at the top: only the few commands that write a file pay for it

    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with open(number, "w", encoding="utf-8", newline="\n") as part:  # noqa: PTH123 - it is a number, not a path
            part.write(text)
            part.flush()
            os.fsync(part.fileno())
        os.replace(name, path)  # noqa: PTH105 - a name as mkstemp gave it
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)  # noqa: PTH108 - likewise
        raise
