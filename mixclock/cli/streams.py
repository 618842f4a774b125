"""Printing always works: a pipe of Windows or an old terminal knows few signs, and must not end a command."""

from __future__ import annotations

import codecs
import errno
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
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


def tell(line: str, err: bool = False) -> None:
    """Print a line at once, as typer does. A stream that needs more care is left to typer."""
    stream = sys.stderr if err else sys.stdout
    encoding = (getattr(stream, "encoding", None) or "ascii").lower()
    if sys.platform == "win32" or "\x1b" in line or encoding in ("ascii", "us-ascii", "ansi_x3.4-1968"):
        import typer

        typer.echo(line, err=err)
        return
    stream.write(f"{line}\n")
    stream.flush()


def columns() -> int | None:
    """How wide the terminal is; None where nobody looks at one."""
    import shutil

    return shutil.get_terminal_size().columns if sys.stdout.isatty() else None


def fitting_lines(lines: Iterable[str]) -> Iterator[str]:
    """Lines broken where the terminal ends, each further piece a little in from the first; an address stays whole."""
    import textwrap

    width = columns()
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip()) + 2)
        parts = textwrap.wrap(
            line, width or 80, subsequent_indent=indent, break_on_hyphens=False, break_long_words=False
        )
        yield from [line] if width is None or not parts else parts


@contextmanager
def ended_by_a_shut_pipe() -> Iterator[None]:
    """End the command quietly with 1 once nobody reads its output, as behind `head`: typer does so too."""
    try:
        yield
    except OSError as error:
        if error.errno != errno.EPIPE:
            raise
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (sys.stdout, sys.stderr):
            os.dup2(nowhere, stream.fileno())
        raise SystemExit(1) from error
