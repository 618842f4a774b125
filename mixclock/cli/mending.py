"""Heard, and the withdrawal of a mistake."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.options import Ago, AsJson, At, By, Extra, Note
from mixclock.cli.statement import state

if TYPE_CHECKING:
    from mixclock.wiring import House


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
    extra = Extra(at, ago, by, note, as_json)

    def understood(house: House) -> dict[str, list[str]]:
        if not alerts:
            _refuse_silence(house, extra)
        return {"alerts": alerts or []}

    state("heard", extra, understood)


def _refuse_silence(house: House, extra: Extra) -> None:
    """Nobody hears what nobody called out."""
    from mixclock.cli.typed import when
    from mixclock.job.saying import CannotTellError

    at = when(house, extra)
    if not house.snapshot(house.clock.now(), at=at)["alerts"]:
        stood = "nothing is called out now" if at is None else "nothing was called out then"
        raise CannotTellError(f"{stood}, so there is nothing to have heard; `mixclock now` shows what runs")


def withdraw(
    entry: Annotated[
        str | None, typer.Argument(metavar="[N]", help="The entry that was a mistake; left out for the last one.")
    ] = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """A statement was a mistake: it stays visible and does not count any more."""
    state("withdraw", Extra(at, ago, by, note, as_json), lambda _: {"entry": _entry_number(entry)})


def _entry_number(typed: str | None) -> int | None:
    from mixclock.job.mistakes import quoted
    from mixclock.job.saying import CannotTellError

    if typed is None:
        return None
    digits = typed.strip().removeprefix("#")
    if not (digits.isascii() and digits.isdigit() and len(digits) < 10):
        raise CannotTellError(
            f"withdraw: {quoted(typed)} is no entry's number; write the number that the statement answered with, "
            "such as 12, or none for the last statement"
        )
    return int(digits)
