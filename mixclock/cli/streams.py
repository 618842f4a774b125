"""What is printed arrives: a pipe of Windows and an old terminal know few signs, and must not end a command."""

from __future__ import annotations

import codecs
import sys
from collections.abc import Mapping
from types import MappingProxyType

PLAIN: Mapping[str, str] = MappingProxyType(
    {
        "\u2212": "-", "–": "-", "—": "-", "≥": ">=", "≤": "<=", "…": "...", "“": '"', "”": '"', "’": "'", "‘": "'",
        "→": "->", "×": "x", "±": "+/-", "·": "-", "°": "", "µ": "u", "²": "2", "³": "3", "½": "1/2", "¼": "1/4",
        "¾": "3/4", "é": "e", "•": "*", "✓": "x", "│": "|", "─": "-", "█": "#", "▀": "#", "▄": "#",
    }
)  # fmt: skip
"""How a sign is written where it can't be."""

_HANDLER = "mixclock.plain"


def make_streams_bear_everything() -> None:
    """Let stdout and stderr write any text: as UTF-8 into a file or a pipe of Windows, else with plain signs.

    What the user set with PYTHONIOENCODING stays; only what it can't write is written plainly.
    """
    codecs.register_error(_HANDLER, _plainly)
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is None:
            continue
        if sys.platform == "win32" and not stream.isatty():
            reconfigure(encoding="utf-8", errors=_HANDLER)
        else:
            reconfigure(errors=_HANDLER)


def _plainly(error: UnicodeError) -> tuple[str | bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    unwritten = error.object[error.start : error.end]
    return "".join(PLAIN.get(sign, "?") for sign in unwritten), error.end
