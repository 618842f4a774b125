"""The commands. Only what the command at hand needs is imported: a statement is made with a bucket in the other hand.

To add a command: write a function named as the command in a module of this package and name both in `COMMANDS`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from types import MappingProxyType
from typing import Annotated

import typer

COMMANDS: Mapping[str, str] = MappingProxyType(
    {
        "mixing": "bucket",
        "mixed": "bucket",
        "poured": "bucket",
        "rolled": "floor",
        "flaked": "floor",
        "did": "floor",
        "began": "floor",
        "reading": "seen",
        "measured": "seen",
        "noted": "seen",
        "photo": "seen",
        "traffic": "seen",
        "saw": "seen",
        "found": "seen",
        "heard": "mending",
        "withdraw": "mending",
        "now": "now",
        "plan": "plan",
        "air": "air",
        "why": "why",
        "record": "record",
        "watch": "watch",
        "rehearse": "rehearse",
        "selfcheck": "selfcheck",
    }
)
"""Each command with the module that holds its function."""

GROUPS: Mapping[str, str] = MappingProxyType({"job": "job", "logger": "logger", "profile": "profile"})
"""Each group of commands with the module that holds its `app`."""

_COMPLETING = "_MIXCLOCK_COMPLETE"


def main(args: Sequence[str] | None = None) -> int:
    """Run a command; gives the exit code: 0 done, 1 the answer is no, 2 the input is wrong."""
    words = list(sys.argv[1:] if args is None else args)
    command = typer.main.get_command(_app(_needed(words)))
    _tell_whole(command)
    try:
        done = command.main(args=words or ["--help"], prog_name="mixclock", standalone_mode=False)
    except typer.Abort:
        return 130
    except Exception as error:
        # typer carries its own copy of click, whose errors are known by what they can do
        if not hasattr(error, "format_message"):
            raise
        _say_usage(error)
        return 2
    return done if isinstance(done, int) else 0


def _needed(words: Sequence[str]) -> Iterable[str]:
    """The commands to be known: the one that was typed, all where help or completion is asked for."""
    if words and words[0] in {**COMMANDS, **GROUPS} and _COMPLETING not in os.environ:
        return (words[0],)
    return (*COMMANDS, *GROUPS)


def _app(names: Iterable[str]) -> typer.Typer:
    app = typer.Typer(
        name="mixclock",
        help="Deadlines that are true for this bucket and this slab.",
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_root)
    for name in names:
        if name in COMMANDS:
            module = import_module(f"mixclock.cli.{COMMANDS[name]}")
            app.command(name)(getattr(module, name.replace("-", "_")))
        else:
            app.add_typer(import_module(f"mixclock.cli.{GROUPS[name]}").app, name=name)
    return app


def _tell_whole(command: object) -> None:
    """In a list of commands each one's first sentence, wrapped instead of cut."""
    for each in getattr(command, "commands", {}).values():
        sentence = " ".join((each.help or "").split()).partition(". ")[0].removesuffix(".")
        each.short_help = each.short_help or f"{sentence}."
        _tell_whole(each)


def _root(
    version: Annotated[
        bool, typer.Option("--version", is_eager=True, callback=lambda asked: _say_version(asked), help="Its version.")
    ] = False,
) -> None:
    """Deadlines that are true for this bucket and this slab."""


def _say_version(asked: bool) -> None:
    if asked:
        from mixclock import __version__

        typer.echo(f"mixclock {__version__}")
        raise typer.Exit


def _say_usage(error: Exception) -> None:
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "mixclock"
    message = " ".join(str(getattr(error, "format_message")()).split()).rstrip(".")  # noqa: B009
    typer.echo(f"{path}: {message}; `{path} --help` shows how", err=True)
