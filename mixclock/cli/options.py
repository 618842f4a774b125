"""The words of a command as typer wants them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from inspect import Parameter, Signature
from typing import Annotated, Any

import typer

from mixclock.cli import commandwords
from mixclock.cli.commandwords import CommandWord


def completes(what: str) -> Callable[[str], list[str]]:
    """A function for typer that offers the words of a kind after Tab. Their module is imported only then."""

    def offer(incomplete: str) -> list[str]:
        from mixclock.cli.completing import offered

        return offered(what, incomplete)

    return offer


def _option(word: CommandWord) -> Any:
    if word.is_switch:
        return typer.Option(word.flag, help=word.help)
    complete = completes(word.words) if word.words else None
    if not word.flag:
        return typer.Argument(metavar=word.metavar, help=word.help, autocompletion=complete)
    return typer.Option(
        word.flag,
        metavar=word.metavar,
        help=word.help,
        envvar=word.variable or None,
        show_envvar=False,
        autocompletion=complete,
    )


AsOf = Annotated[str | None, _option(commandwords.AS_OF)]
Known = Annotated[bool, _option(commandwords.KNOWN)]
At = Annotated[str | None, _option(commandwords.AT)]
Ago = Annotated[str | None, _option(commandwords.AGO)]
By = Annotated[str | None, _option(commandwords.BY)]
Note = Annotated[str | None, _option(commandwords.NOTE)]
AsJson = Annotated[bool, _option(commandwords.AS_JSON)]
JobName = Annotated[str | None, _option(commandwords.JOB)]


def as_command(run: Callable[..., None], name: str, about: str | None, takes: Iterable[CommandWord]) -> None:
    """Give a function the name, the help and the words of a command, as typer looks for them."""
    parameters = [_parameter(word) for word in takes]
    run.__signature__ = Signature(parameters)  # type: ignore[attr-defined]
    run.__annotations__ = {each.name: each.annotation for each in parameters}
    run.__doc__, run.__name__ = about, name


def _parameter(word: CommandWord) -> Parameter:
    """typer takes every value as text: each kind of field then reads its own."""
    shape: Any = bool if word.is_switch else list[str] if word.many else str
    if not word.is_switch and not word.needed:
        shape = shape | None
    default = Parameter.empty if word.needed else False if word.is_switch else None
    return Parameter(word.name, Parameter.KEYWORD_ONLY, default=default, annotation=Annotated[shape, _option(word)])
