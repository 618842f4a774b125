"""Wrong input is one line on stderr and exit code 2, never a traceback; nothing was changed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mixclock.wiring import House

WRONG_INPUT = 2
ANSWER_IS_NO = 1
STOPPED_BY_HAND = 130
"""Ctrl-C, as shells count it: 128 and the number of the signal."""


class WrongInputError(Exception):
    """What a person can mend: one line each. `mixclock.cli.main` says it and ends with `WRONG_INPUT`."""

    def __init__(self, lines: Sequence[str]) -> None:
        """Keep the lines, each fit to be shown as it is."""
        self.lines = tuple(lines)
        super().__init__("\n".join(self.lines))


@contextmanager
def one_line_errors() -> Iterator[None]:
    """Turn an error that a person can mend into lines for that person. A defect of ours passes through unchanged."""
    try:
        yield
    except Exception as error:
        lines = _lines(error)
        if lines is None:
            raise
        raise WrongInputError(lines) from error


@contextmanager
def at_house(**how: Any) -> Iterator[House]:
    """Open the house for one command, as `open_house` does. An error that a person can mend becomes lines."""
    with one_line_errors():
        from mixclock.wiring import open_house

        with open_house(**how) as house:
            yield house


class StoppedByHandError(Exception):
    """Somebody stopped the command, or left its question."""


def wrong(line: str) -> WrongInputError:
    """One mistake to be raised."""
    return WrongInputError([line])


def _lines(error: Exception) -> list[str] | None:
    """The lines for a person, None for a defect. The kinds are imported only now: most commands go well."""
    from mixclock.job.mistakes import Mistakes
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.bookerrors import BookError
    from mixclock.outside.profilefiles import ProfileFileError
    from mixclock.units import UnitError

    if isinstance(error, ProfileFileError):
        return list(error.lines)
    if isinstance(error, Mistakes):
        return [str(mistake) for mistake in error.found]
    if isinstance(error, CannotTellError | BookError | UnitError):
        return str(error).splitlines() or [type(error).__name__]
    return None
