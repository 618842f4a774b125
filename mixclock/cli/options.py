"""The options that several commands share, with what their help says."""

from __future__ import annotations

from collections.abc import Callable
from inspect import Parameter
from typing import Annotated, Any

import typer

from mixclock.values import dataclass


def completes(what: str) -> Callable[[str], list[str]]:
    """For typer: offers the words of a kind after Tab. What knows them is imported only then."""

    def offer(incomplete: str) -> list[str]:
        from mixclock.cli.completing import offered

        return offered(what, incomplete)

    return offer


AsOf = Annotated[str | None, typer.Option("--at", metavar="TIME", help="Answer as it stood at a past time.")]
Known = Annotated[bool, typer.Option("--known", help="Count only what had been written by then, too.")]
At = Annotated[str | None, typer.Option("--at", metavar="TIME", help="When it happened, such as 9:42.")]
Ago = Annotated[str | None, typer.Option("--ago", metavar="SPAN", help="How long ago it happened, such as '5 min'.")]
By = Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who did it.", autocompletion=completes("people"))]
Note = Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Anything worth keeping with it.")]
AsJson = Annotated[bool, typer.Option("--json", help="Answer in JSON.")]

JobName = Annotated[
    str | None,
    typer.Option(
        "--job",
        metavar="NAME",
        envvar="MIXCLOCK_JOB",
        show_envvar=False,
        help="Which job; or set MIXCLOCK_JOB.",
        autocompletion=completes("jobs"),
    ),
]
"""Which job is meant, on every command that states or asks."""


@dataclass(frozen=True)
class Extra:
    """What every statement may carry, as it was typed."""

    at: str | None = None
    ago: str | None = None
    by: str | None = None
    note: str | None = None
    as_json: bool = False
    job: str | None = None


def _common(name: str, annotation: Any, default: object) -> Parameter:
    return Parameter(name, Parameter.KEYWORD_ONLY, default=default, annotation=annotation)


COMMON = (
    _common("at", At, None),
    _common("ago", Ago, None),
    _common("by", By, None),
    _common("note", Note, None),
    _common("as_json", AsJson, False),
    _common("job", JobName, None),
)
"""What every statement takes, as typer wants it."""
