"""Reads a command with typer, in every form. It also gives help and completion, and answers a slip."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from mixclock.cli import COMMANDS, GROUPS, MOMENTS, STATING
from mixclock.cli.dashnotes import with_dash_notes
from mixclock.cli.mistaken import StoppedByHandError, WrongInputError


def run(words: Sequence[str], names: Iterable[str]) -> int:
    """Run the command that the words name. Only the commands in `names` are loaded."""
    command = typer.main.get_command(_app(names))
    _tell_whole(command)
    try:
        done = command.main(args=with_dash_notes(words, command), prog_name="mixclock", standalone_mode=False)
    except typer.Abort as stopped:
        raise StoppedByHandError from stopped
    except Exception as error:
        # typer carries its own copy of click, so its errors are told by their methods, not by their class
        if not hasattr(error, "format_message"):
            raise
        raise WrongInputError([_usage_line(error)]) from error
    return done if isinstance(done, int) else 0


def all_commands() -> Mapping[str, Any]:
    """Every command and group as the library knows them, for the manual."""
    return commands_of((*COMMANDS, *GROUPS))


def commands_of(names: Iterable[str]) -> Mapping[str, Any]:
    """Some of them."""
    found: Mapping[str, Any] = getattr(typer.main.get_command(_app(names)), "commands")  # noqa: B009
    return found


def _app(names: Iterable[str]) -> typer.Typer:
    app = typer.Typer(
        name="mixclock",
        cls=_ByMoment,
        help="Deadlines that are true for this bucket and this slab.",
        epilog="`mixclock` alone says what to do next. The book lies where MIXCLOCK_HOME names a folder, else where "
        "`mixclock where` says.",
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_root)
    for name in names:
        if name in COMMANDS:
            listed = COMMANDS[name]
            module = import_module(f"mixclock.cli.{listed.module}")
            command = module.command(name) if listed.module == STATING else getattr(module, name.replace("-", "_"))
            app.command(name, epilog=f"For example: mixclock {listed.example}")(command)
        else:
            app.add_typer(import_module(f"mixclock.cli.{GROUPS[name].module}").app, name=name)
    return app


class _ByMoment(TyperGroup):
    """Lists the commands by the moment of a job at which they are used."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002 - as the library calls it
        """One section for each moment of a job."""
        moments = {name: listed.moment for name, listed in (*COMMANDS.items(), *GROUPS.items())}
        for moment in MOMENTS:
            named = [(name, command) for name, command in self.commands.items() if moments.get(name) == moment]
            if named:
                with formatter.section(moment):
                    formatter.write_dl([(name, command.get_short_help_str(limit=200)) for name, command in named])


def _tell_whole(command: object) -> None:
    """Give each command its first sentence for the list, wrapped instead of cut."""
    for each in getattr(command, "commands", {}).values():
        sentence = " ".join((each.help or "").split()).partition(". ")[0].removesuffix(".")
        each.short_help = each.short_help or f"{sentence}."
        _tell_whole(each)


def _root(
    version: Annotated[
        bool,
        typer.Option("--version", is_eager=True, callback=lambda asked: _say_version(asked), help="Print the version."),
    ] = False,
) -> None:
    """Deadlines that are true for this bucket and this slab."""


def _say_version(asked: bool) -> None:
    if asked:
        from mixclock import __version__

        typer.echo(f"mixclock {__version__}")
        raise typer.Exit


def _usage_line(error: Exception) -> str:
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "mixclock"
    message = " ".join(str(getattr(error, "format_message")()).split()).rstrip(".")  # noqa: B009
    return f"{path}: {message}; `{path} --help` shows how"
