"""How a command answers: line by line or as JSON, or into a file."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any

from mixclock.cli.streams import tell


def say_answer(as_json: bool, told: Any, lines: Iterable[str]) -> None:
    """Print an answer: as JSON where that was asked for, else line by line."""
    if as_json:
        print_json(told)
    else:
        say_lines(lines)


def say_lines(lines: Iterable[str]) -> None:
    """Print line after line."""
    for line in lines:
        tell(line)


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    import json

    tell(json.dumps(value, ensure_ascii=False, indent=2))


def write_file(path: Path, content: str | bytes, mend: str = "give another file") -> None:
    """Write a file whole or not at all. `mend` is what a refusal tells a person to do."""
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.atomicfile import write_atomically

    try:
        write_atomically(path, content)
    except OSError as error:
        raise CannotTellError(f"{path}: {error.strerror or error}; {mend}") from error
