"""The commands. Only what the command at hand needs is imported: a statement is made with a bucket in the other hand.

To add a command: write a function named as the command in a module of this package and name both in `COMMANDS`. A
statement needs no function: its module is `STATING`.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from importlib import import_module
from types import MappingProxyType
from typing import Annotated, Any, NamedTuple

import typer
from typer.core import TyperGroup


class CommandEntry(NamedTuple):
    """A command as the help lists it: the module that holds it, when it is used, and an example."""

    module: str
    moment: str
    example: str


STATING = "statement"
"""The module that makes the command of each verb of its statement."""

MOMENTS = ("Before", "During", "Between coats", "After", "Always")

COMMANDS: Mapping[str, CommandEntry] = MappingProxyType(
    {
        "plan": CommandEntry("plan", "Before", "plan shed.toml"),
        "air": CommandEntry("air", "Before", "air --air '18 °C' --rh 62 --slab '16 °C'"),
        "ready": CommandEntry("rounds", "Before", "ready moisture '3.5 lb'"),
        "forecast": CommandEntry("forecast", "Before", "forecast --near 38.72,-9.14"),
        "cup": CommandEntry("cup", "Before", "cup 'Slow epoxy base' '150 g' --lot 7A --material '21 °C'"),
        "reading": CommandEntry(STATING, "Before", "reading --air '18 °C' --rh 62 --slab '16 °C'"),
        "measured": CommandEntry(STATING, "Before", "measured moisture '75 %' --on 'bay 1'"),
        "next": CommandEntry("next", "During", "next"),
        "mixing": CommandEntry(STATING, "During", "mixing 'Slow epoxy base' '6 L' --on 'bay 1'"),
        "spot": CommandEntry(STATING, "During", "spot 'Slow epoxy base' '300 mL' --for patch --on 'bay 1'"),
        "stopped": CommandEntry(STATING, "During", "stopped telephone"),
        "back": CommandEntry(STATING, "During", "back"),
        "mixed": CommandEntry(STATING, "During", "mixed 3"),
        "poured": CommandEntry(STATING, "During", "poured 3"),
        "dumped": CommandEntry(STATING, "During", "dumped 3"),
        "rolled": CommandEntry(STATING, "During", "rolled 3 --ago '5 min'"),
        "flaked": CommandEntry(STATING, "During", "flaked 3 --on 'bay 1'"),
        "taped": CommandEntry(STATING, "During", "taped 3 --on 'bay 2'"),
        "did": CommandEntry(STATING, "During", "did rinse 2"),
        "began": CommandEntry(STATING, "During", "began back-roll 3"),
        "saw": CommandEntry(STATING, "During", "saw 3 stringy"),
        "heard": CommandEntry(STATING, "During", "heard"),
        "withdraw": CommandEntry(STATING, "During", "withdraw 12"),
        "noted": CommandEntry(STATING, "During", "noted 'heater: fuel' --on 'bay 2'"),
        "ticks": CommandEntry("ticks", "During", "ticks"),
        "photo": CommandEntry(STATING, "During", "photo bay2.jpg --on 'bay 2'"),
        "now": CommandEntry("now", "During", "now"),
        "evening": CommandEntry("rounds", "Between coats", "evening"),
        "morning": CommandEntry("rounds", "Between coats", "morning thumb 'no mark'"),
        "visit": CommandEntry(STATING, "After", "visit 'edge has lifted'"),
        "fixed": CommandEntry(STATING, "After", "fixed 'bay 1' 'edge cut back, primed, coated with lot 7A'"),
        "traffic": CommandEntry(STATING, "Between coats", "traffic 'bay 1' foot"),
        "calendar": CommandEntry("calendar", "Between coats", "calendar --to floor.ics"),
        "found": CommandEntry(STATING, "After", "found 'bay 2' dull --shape batch-edge"),
        "why": CommandEntry("why", "After", "why 'bay 2'"),
        "record": CommandEntry("record", "After", "record --to record.html"),
        "jobs": CommandEntry("jobs", "Always", "jobs"),
        "watch": CommandEntry("watch", "Always", "watch --lan"),
        "rehearse": CommandEntry("rehearse", "Always", "rehearse"),
        "selfcheck": CommandEntry("selfcheck", "Always", "selfcheck"),
        "where": CommandEntry("where", "Always", "where"),
        "settings": CommandEntry("settings", "Always", "settings"),
        "manual": CommandEntry("manual", "Always", "manual plan"),
    }
)
"""Each command with the module that holds its function."""

GROUPS: Mapping[str, CommandEntry] = MappingProxyType(
    {
        "profile": CommandEntry("profile", "Before", "profile write"),
        "job": CommandEntry("job", "Before", "job start shed.toml"),
        "logger": CommandEntry("logger", "Before", "logger read shed.csv"),
        "book": CommandEntry("book", "Always", "book check"),
    }
)
"""Each group of commands with the module that holds its `app`."""

_COMPLETING = "_MIXCLOCK_COMPLETE"


def main(args: Sequence[str] | None = None) -> int:
    """Run a command; gives the exit code: 0 done, 1 the answer is no, 2 the input is wrong, 130 stopped by Ctrl-C."""
    from mixclock.cli.mistaken import STOPPED_BY_HAND, WRONG_INPUT, WrongInputError
    from mixclock.cli.streams import make_streams_bear_everything

    make_streams_bear_everything()
    words = [_as_typed(word) for word in (sys.argv[1:] if args is None else args)]
    try:
        return _run(words)
    except (typer.Abort, KeyboardInterrupt):
        return STOPPED_BY_HAND
    except WrongInputError as error:
        _say_wrong(error.lines, as_json="--json" in words)
        return WRONG_INPUT


def _as_typed(word: str) -> str:
    """A word whose letters a terminal of plain ASCII handed over as bytes, read as the UTF-8 that they are."""
    try:
        return word if word.isascii() else os.fsencode(word).decode("utf-8")
    except UnicodeError:
        return word


def _run(words: list[str]) -> int:
    if not words and _COMPLETING not in os.environ:
        from mixclock.cli.firststeps import say_first_steps

        say_first_steps()
        return 0
    from mixclock.cli.dashnotes import with_dash_notes
    from mixclock.cli.mistaken import WrongInputError

    command = typer.main.get_command(_app(_needed(words)))
    words = with_dash_notes(words, command)
    _tell_whole(command)
    try:
        done = command.main(args=words, prog_name="mixclock", standalone_mode=False)
    except Exception as error:
        # typer carries its own copy of click, whose errors are known by what they can do
        if not hasattr(error, "format_message"):
            raise
        raise WrongInputError([_usage_line(error)]) from error
    return done if isinstance(done, int) else 0


def _say_wrong(lines: Sequence[str], as_json: bool) -> None:
    """One line for each mistake on stderr; where JSON was asked for, one object that holds them."""
    if as_json:
        import json

        from mixclock.cli.mistaken import WRONG_INPUT

        lines = [json.dumps({"errors": list(lines), "exit_code": WRONG_INPUT}, ensure_ascii=False)]
    for line in lines:
        typer.echo(line, err=True)


def _needed(words: Sequence[str]) -> Iterable[str]:
    """The commands to be known: the one that was typed, all where help or completion is asked for."""
    if words and words[0] in {**COMMANDS, **GROUPS} and _COMPLETING not in os.environ:
        return (words[0],)
    return (*COMMANDS, *GROUPS)


def all_commands() -> Mapping[str, Any]:
    """Every command and group as the library knows them, for the manual."""
    found: Mapping[str, Any] = getattr(typer.main.get_command(_app((*COMMANDS, *GROUPS))), "commands")  # noqa: B009
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
    """The list of commands by when they are used."""

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002 - as the library calls it
        """One section for each moment of a job."""
        moments = {name: listed.moment for name, listed in (*COMMANDS.items(), *GROUPS.items())}
        for moment in MOMENTS:
            named = [(name, command) for name, command in self.commands.items() if moments.get(name) == moment]
            if named:
                with formatter.section(moment):
                    formatter.write_dl([(name, command.get_short_help_str(limit=200)) for name, command in named])


def _tell_whole(command: object) -> None:
    """In a list of commands each one's first sentence, wrapped instead of cut."""
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
