"""Wrong input is one line on stderr and exit code 2, never a traceback; nothing was changed."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import typer

WRONG_INPUT = 2
ANSWER_IS_NO = 1


@contextmanager
def one_line_errors() -> Iterator[None]:
    """Say what a person can mend in one line each; let a defect of ours through as it is."""
    try:
        yield
    except Exception as error:
        lines = _lines(error)
        if lines is None:
            raise
        for line in lines:
            typer.echo(line, err=True)
        raise typer.Exit(WRONG_INPUT) from error


def wrong(line: str) -> typer.Exit:
    """Say a line on stderr; raise what this gives."""
    typer.echo(line, err=True)
    return typer.Exit(WRONG_INPUT)


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
        return [str(error)]
    return None
