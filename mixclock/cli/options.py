"""The shared options as typer wants them."""

from __future__ import annotations

from collections.abc import Callable
from inspect import Parameter
from typing import Annotated, Any

import typer

from mixclock.cli import shared
from mixclock.cli.shared import SharedOption


def completes(what: str) -> Callable[[str], list[str]]:
    """For typer: offers the words of a kind after Tab. What knows them is imported only then."""

    def offer(incomplete: str) -> list[str]:
        from mixclock.cli.completing import offered

        return offered(what, incomplete)

    return offer


def _option(known: SharedOption) -> Any:
    if not known.metavar:
        return typer.Option(known.flag, help=known.help)
    return typer.Option(
        known.flag,
        metavar=known.metavar,
        help=known.help,
        envvar=known.variable or None,
        show_envvar=False,
        autocompletion=completes(known.words) if known.words else None,
    )


AsOf = Annotated[str | None, _option(shared.AS_OF)]
Known = Annotated[bool, _option(shared.KNOWN)]
At = Annotated[str | None, _option(shared.AT)]
Ago = Annotated[str | None, _option(shared.AGO)]
By = Annotated[str | None, _option(shared.BY)]
Note = Annotated[str | None, _option(shared.NOTE)]
AsJson = Annotated[bool, _option(shared.AS_JSON)]
JobName = Annotated[str | None, _option(shared.JOB)]

COMMON = tuple(
    Parameter(
        known.name,
        Parameter.KEYWORD_ONLY,
        default=None if known.metavar else False,
        annotation=Annotated[str | None if known.metavar else bool, _option(known)],
    )
    for known in shared.OF_STATEMENTS
)
"""What every statement takes."""
