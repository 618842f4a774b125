"""Writes a file so that its name always holds either the whole old content or the whole new one."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path


def write_atomically(path: Path, content: str | bytes) -> None:
    """Replace a file's content in one step, and make missing folders. A text is written as UTF-8.

    Raises OSError, and then leaves the old file.
    """
    import tempfile  # not at the top: only the few commands that write a file pay for it

    path.parent.mkdir(parents=True, exist_ok=True)
    number, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".part")
    try:
        with open(number, "wb") as part:  # noqa: PTH123 - it is a number, not a path
            part.write(content.encode("utf-8") if isinstance(content, str) else content)
            part.flush()
            os.fsync(part.fileno())
        os.replace(name, path)  # noqa: PTH105 - a name as mkstemp gave it
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)  # noqa: PTH108 - likewise
        raise
