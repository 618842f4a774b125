"""The rounds of a day: before any kit, going home, coming back. Short questions; Enter leaves one unanswered."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import typer

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.commandwords import OF_STATEMENTS, CommandWord, Extra
from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import as_command
from mixclock.job.statements import VERBS

if TYPE_CHECKING:
    from mixclock.job.rounds import RoundName
    from mixclock.wiring import House
    from mixclock.words.rounds import RoundQuestion


def _command(name: str) -> Callable[..., None]:
    """The command of a round: an item and its answer, or neither, and what every statement takes."""

    def run(**typed: Any) -> None:
        asked = {word.name: typed.pop(word.name) for word in _TAKES}
        _go_through(name, asked["item"], asked["answer"], asked["on"], asked["coat"], asked["aloud"], Extra(**typed))

    as_command(run, name, VERBS[name].__doc__, (*_TAKES, *OF_STATEMENTS))
    return run


_TAKES = (
    CommandWord("item", "", "[ITEM]", "Which question you answer. Without it, all are asked in turn."),
    CommandWord("answer", "", "[ANSWER]", "Yes, no, or in your own words.", many=True),
    CommandWord("on", "--on", "AREA", "The area."),
    CommandWord("coat", "--coat", "NAME", "The coat, if it is not the next one."),
    CommandWord("aloud", "--aloud", "", "Say each question by voice, too."),
)


def _go_through(
    name: str, item: str | None, answer: list[str] | None, on: str | None, coat: str | None, aloud: bool, extra: Extra
) -> None:
    from mixclock.cli.statement import others_live_lines
    from mixclock.job.rounds import RoundName
    from mixclock.outside.coatshelf import with_sheets
    from mixclock.words.rounds import question_lines, questions, round_json

    meant = RoundName(name)
    with one_line_errors(), _open(extra) as house:
        if item is not None and answer:
            _state(house, meant, item, " ".join(answer), on, coat, extra)
            return
        if item is not None:
            _state(house, meant, item, "yes", on, coat, extra)
            return
        house.which.settle()
        standing, now = with_sheets(house.standing()), house.time().now
        asked = questions(standing, house.tracks(standing), meant, now)
        if extra.as_json:
            print_json(round_json(asked, meant))
            return
        if sys.stdin.isatty():
            _ask_each(house, meant, [each for each in asked if each.answered is None], extra, aloud)
            standing, now = with_sheets(house.standing()), house.time().now
            asked = questions(standing, house.tracks(standing), meant, now)
        say_lines((*others_live_lines(house), *question_lines(asked, standing, now)))
        open_ones = sum(each.answered is None for each in asked)
        if open_ones:
            typer.echo(f"{open_ones} not recorded. Answer one: `mixclock {name} {_first_open(asked)}`")


def _first_open(asked: list[RoundQuestion]) -> str:
    """A question that nobody answered, with an answer as it is typed: one for a plain yes, if there is any."""
    left = [each.item for each in asked if each.answered is None]
    plain = next((item for item in left if item.takes is None), None)
    return f"'{plain.name}' yes" if plain is not None else f"'{left[0].name}' ANSWER"


def _open(extra: Extra) -> House:
    from mixclock.wiring import open_house

    return open_house(job=extra.job)


def _ask_each(house: House, name: RoundName, asked: list[RoundQuestion], extra: Extra, aloud: bool) -> None:
    """One question after the other: Enter leaves it, Ctrl-C ends; what was answered is in the book already."""
    from mixclock.cli.mistaken import WrongInputError
    from mixclock.words.rounds import typed_kind

    units = house.standing().site.units
    typer.echo("Enter leaves a question unanswered: the record then says 'not recorded'. Ctrl-C ends.")
    for each in asked:
        if aloud:
            _say(each.ask)
        typed = typer.prompt(f"{each.ask} [{typed_kind(each.item, units)}]", default="", show_default=False)
        if not typed.strip():
            continue
        try:
            with one_line_errors():
                _state(house, name, each.item.name, typed, None, None, extra, quiet=True)
        except WrongInputError as wrong:
            typer.echo("; ".join(wrong.lines))


def _state(
    house: House,
    name: RoundName,
    item: str,
    answer: str,
    on: str | None,
    coat: str | None,
    extra: Extra,
    quiet: bool = False,
) -> None:
    from mixclock.cli.statement import say
    from mixclock.cli.typed import when
    from mixclock.job.dayentries import Answered
    from mixclock.job.statements.rounds import item_of
    from mixclock.words.rounds import warning_of

    statement = VERBS[name.value].told(
        {"item": item, "answer": answer, **({"area": on} if on else {}), **({"coat": coat} if coat else {})}
    )
    stated = house.state(statement, at=when(house, extra), by=extra.by, note=extra.note)
    facts = stated.entry.facts
    if not quiet:
        say(house, stated, extra.as_json)
    elif isinstance(facts, Answered) and (warned := warning_of(facts, item_of(facts))) is not None:
        typer.echo(f"  Look out: {warned}")


def _say(words: str) -> None:
    """Speak with the machine's voice if it has one. Without a voice the questions go on in writing."""
    from mixclock.outside.channels.message import Message
    from mixclock.outside.channels.soundqueue import SoundQueue
    from mixclock.outside.channels.voice import VoiceChannel, voice_here

    if voice_here() is not None:
        VoiceChannel(SoundQueue()).send(Message("round", "timely", words, words, words))


ready, evening, morning = _command("ready"), _command("evening"), _command("morning")
