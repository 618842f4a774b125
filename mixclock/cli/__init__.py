"""The commands. Only what the command at hand needs is imported: a statement is made with a bucket in the other hand.

To add a command: write a function named as the command in a module of this package and name both in `COMMANDS`. A
statement needs no function: its module is `STATING`.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from mixclock.cli.commandwords import CommandWord


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

_PLAIN_MODULES = MappingProxyType({"now": "standing"})
"""The module that reads the plain form of a command, for each such command that is no statement."""


def main(args: Sequence[str] | None = None) -> int:
    """Run a command; gives the exit code: 0 done, 1 the answer is no, 2 the input is wrong, 130 stopped by Ctrl-C."""
    from mixclock.cli.mistaken import STOPPED_BY_HAND, WRONG_INPUT, StoppedByHandError, WrongInputError
    from mixclock.cli.streams import make_streams_bear_everything

    make_streams_bear_everything()
    words = [_as_typed(word) for word in (sys.argv[1:] if args is None else args)]
    tidies = gc.isenabled()
    if is_brief(words):
        gc.disable()  # it ends before there is anything to tidy
    try:
        return _run(words)
    except (StoppedByHandError, KeyboardInterrupt):
        return STOPPED_BY_HAND
    except WrongInputError as error:
        _say_wrong(error.lines, as_json="--json" in words)
        return WRONG_INPUT
    finally:
        if tidies:
            gc.enable()


def is_brief(words: Sequence[str]) -> bool:
    """Whether it is a statement or a question that is answered at once."""
    return bool(words) and (
        words[0] in _PLAIN_MODULES or (words[0] in COMMANDS and COMMANDS[words[0]].module == STATING)
    )


def _as_typed(word: str) -> str:
    """Read a word as UTF-8: a terminal of plain ASCII hands its letters over as bytes."""
    try:
        return word if word.isascii() else os.fsencode(word).decode("utf-8")
    except UnicodeError:
        return word


def _run(words: list[str]) -> int:
    if _COMPLETING not in os.environ:
        if not words:
            from mixclock.cli.firststeps import say_first_steps

            say_first_steps()
            return 0
        plainly = plain_form(words)
        if plainly is not None:
            return _run_plainly(plainly)
    from mixclock.cli.bytyper import run

    return run(words, (words[0],) if _is_command(words) and _COMPLETING not in os.environ else (*COMMANDS, *GROUPS))


def _is_command(words: Sequence[str]) -> bool:
    return bool(words) and words[0] in {**COMMANDS, **GROUPS}


def plain_form(words: Sequence[str]) -> Callable[[], int] | None:
    """The command, if it was typed in its plain form; None if typer has to read the line.

    Loading typer takes as long as two rows of the book. Words in their places and known options with their values are
    read here, by the same description that typer is given. Everything else (help, completion, a slip, a value that
    begins with a dash, an option said twice) is left to typer, whose answer then stands.
    """
    if not is_brief(words):
        return None
    module = import_module(f"mixclock.cli.{_PLAIN_MODULES.get(words[0], STATING)}")
    typed = _read(module.takes(words[0]), words[1:])
    return None if typed is None else partial(module.run, words[0], typed)


def _read(takes: Sequence[CommandWord], typed: Sequence[str]) -> dict[str, Any] | None:
    """The value of each word and option by its name; None if the line is not plain."""
    placed = [word for word in takes if not word.flag]
    said = _sorted({word.flag: word for word in takes if word.flag}, typed)
    if said is None or not all(said[""]) or not _fit(placed, len(said[""])):
        return None
    for place, word in enumerate(placed):
        said[word.name] = said[""][place:] if word.many else said[""][place : place + 1]
    found: dict[str, Any] = {}
    for word in takes:
        values = said.get(word.name) or [each for each in (os.environ.get(word.variable),) if each]
        if word.needed and not values:
            return None
        one = values[0] if values else None
        found[word.name] = bool(values) if word.is_switch else (values or None) if word.many else one
    return found


def _sorted(known: Mapping[str, CommandWord], typed: Sequence[str]) -> dict[str, list[str]] | None:
    """What was said for each option by its name, the words in their places under ""; None where something is odd."""
    said: dict[str, list[str]] = {"": []}
    left = list(typed)  # `next` is a command in this package, and takes nothing from an iterator
    while left:
        word = left.pop(0)
        if not word.startswith("-"):
            said[""].append(word)
            continue
        flag, given, value = word.partition("=")
        option = known.get(flag)
        if option is None or (option.is_switch and given) or (option.name in said and not option.many):
            return None
        if not option.is_switch:
            value = value if given else left.pop(0) if left else ""
            if not value or value.startswith("-"):
                return None
        said.setdefault(option.name, []).append(value or flag)
    return said


def _fit(placed: Sequence[CommandWord], count: int) -> bool:
    most = count if placed and placed[-1].many else len(placed)
    return sum(word.needed for word in placed) <= count <= most and not any(word.many for word in placed[:-1])


def _run_plainly(command: Callable[[], int]) -> int:
    from mixclock.cli.streams import ended_by_a_shut_pipe

    with ended_by_a_shut_pipe():
        return command()


def _say_wrong(lines: Sequence[str], as_json: bool) -> None:
    """One line for each mistake on stderr; where JSON was asked for, one object that holds them."""
    from mixclock.cli.streams import tell

    if as_json:
        import json

        from mixclock.cli.mistaken import WRONG_INPUT

        lines = [json.dumps({"errors": list(lines), "exit_code": WRONG_INPUT}, ensure_ascii=False)]
    for line in lines:
        tell(line, err=True)
