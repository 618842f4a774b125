"""Heard, and the withdrawal of a mistake."""

from __future__ import annotations

from typing import Annotated

import typer

from mixclock.cli.options import Ago, AsJson, At, By, Extra, Note
from mixclock.cli.statement import state


def heard(
    alerts: Annotated[
        list[str] | None, typer.Argument(metavar="[ALERT]", help="Its name, such as b3.pour-out; left out for all.")
    ] = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Somebody heard it: its repeats pause for a while."""
    state("heard", Extra(at, ago, by, note, as_json), lambda _: {"alerts": alerts or ()})


def withdraw(
    entry: Annotated[
        int | None, typer.Argument(metavar="[N]", help="The entry that was a mistake; left out for the last one.")
    ] = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """A statement was a mistake: it stays visible and does not count any more."""
    state("withdraw", Extra(at, ago, by, note, as_json), lambda _: {"entry": entry})
