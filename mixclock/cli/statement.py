"""The commands that state something: made of a statement's fields, put durably into the book, answered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mixclock.cli.answering import say_answer
from mixclock.cli.commandwords import OF_STATEMENTS, CommandWord, Extra
from mixclock.cli.mistaken import at_house
from mixclock.cli.streams import tell
from mixclock.job.frozen import REQUIRED
from mixclock.job.statements import VERBS, HeardStatement, PhotoStatement, Statement
from mixclock.job.statements.fields import Field, Room
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.job.progress import KeptStatement
    from mixclock.outside.bookdrawers import Picture
    from mixclock.wiring import House
    from mixclock.words.answers import Answer


def state(extra: Extra, understand: Callable[[House], Statement]) -> None:
    """State a fact. `understand` makes the statement of what was typed."""
    from mixclock.cli.typed import when

    with at_house(job=extra.job) as house:
        statement, pictures = _with_pictures(understand(house))
        at = when(house, extra)
        stated = house.state(statement, at=at, by=extra.by, note=extra.note, beside=pictures, from_kept=True)
        say(house, stated, extra.as_json)


def say(house: House, stated: KeptStatement, as_json: bool) -> None:
    """Answer a statement that is in the book."""
    from mixclock.words.answers import answer_json

    job = stated.entry.job
    answer = replace(_answer(house, stated), job=job if house.which.others_live(job) else "")
    say_answer(as_json, answer_json(answer, stated.entry), answer.lines())
    if house.book.reserve_used:
        tell("the disk is full: the last reserve is in use, free some space now", err=True)


def others_live_lines(house: House) -> list[str]:
    """Which job an answer is about, where more than one is under way."""
    job = house.job()
    others = ", ".join(f"'{each}'" for each in house.which.others_live(job))
    return [f"This is job '{job}'; under way beside it: {others}. Say --job NAME for another."] if others else []


def _answer(house: House, stated: KeptStatement) -> Answer:
    """The answer. Where a defect of ours spoils it, the crew still learns that the statement is in the book."""
    from mixclock.words.answers import Answer

    try:
        return house.answer(stated)
    except Exception as defect:
        said = f"'{stated.entry.facts.kind}' is in the book"
        sorry = f"what comes next could not be worked out, a defect of mixclock ({type(defect).__name__}: {defect})"
        return Answer(stated.entry.number, said, warnings=(" ".join(sorry.split()),))


def takes(verb: str) -> tuple[CommandWord, ...]:
    """What a statement's command takes: its own fields, then what every statement may carry."""
    return (*(_word(name, field) for name, field in _typed_fields(VERBS[verb]).items()), *OF_STATEMENTS)


def run(verb: str, typed: Mapping[str, Any]) -> int:
    """Make the statement of what was typed for each of its words; gives the exit code."""
    kind = VERBS[verb]
    fields = _typed_fields(kind)
    extra = Extra(**{name: value for name, value in typed.items() if name not in fields})
    state(extra, lambda house: _understood(kind, {name: typed[name] for name in fields}, house, extra))
    return 0


def command(verb: str) -> Callable[..., None]:
    """The command of a verb for typer."""
    from mixclock.cli.options import as_command

    def by_typer(**typed: Any) -> None:
        run(verb, typed)

    as_command(by_typer, verb, VERBS[verb].__doc__, takes(verb))
    return by_typer


def _typed_fields(kind: type[Statement]) -> dict[str, Field]:
    return {name: field for name, field in kind.of_fields().items() if field.typed}


def _word(name: str, field: Field) -> CommandWord:
    needed = field.default is REQUIRED or (field.option is None and not field.metavar.startswith("["))
    offered = _COMPLETED.get(field.option or "") or _COMPLETED.get(field.metavar, "")
    return CommandWord(name, field.option or "", field.metavar, field.help, offered, many=field.many, needed=needed)


_COMPLETED = {
    "AREA": "areas",
    "BATCH": "batches",
    "[BATCH]": "batches",
    "BATCH-OR-AREA": "batches and areas",
    "PRODUCT AMOUNT": "products",
    "--coat": "coats",
    "--vessel": "vessels",
    "--shape": "shapes",
    "SYMPTOM": "symptoms",
    "SIGN": "signs",
    "STEP": "steps",
    "TEXT": "ticks",
    "foot|vehicle": "traffic",
}
"""What a shell offers for a field, by its option or by how it is called."""


def _understood(
    kind: type[Statement], said: Mapping[str, str | Sequence[str] | None], house: House, extra: Extra
) -> Statement:
    """What was typed as a statement, with what only the book or a file can tell."""
    statement = kind.typed(said, Room(lambda: _degrees(house)))
    if isinstance(statement, HeardStatement) and not statement.alerts:
        _refuse_silence(house, extra)
    return statement


def _degrees(house: House) -> str | None:
    """Whether bare degrees mean °C or °F on the floor in question; nothing where it may be two floors that differ."""
    known = {house.site(name).bare_degrees for name in house.which.first_meant()}
    return known.pop() if len(known) == 1 else None


def _with_pictures(statement: Statement) -> tuple[Statement, Sequence[Picture]]:
    """A photo with a small copy of its picture, any other statement without."""
    if not isinstance(statement, PhotoStatement):
        return statement, ()
    from mixclock.outside.pictures import take_picture

    file = Path(statement.name)
    picture = take_picture(file)
    return statement.but(name=file.name, sha256=picture.sha256), (picture,)


def _refuse_silence(house: House, extra: Extra) -> None:
    """Refuse `heard` while nothing is called out: nobody can have heard it."""
    from mixclock.cli.typed import when
    from mixclock.job.saying import CannotTellError

    at, now = when(house, extra), house.clock.now()
    if not any(house.snapshot(now, job, at=at)["alerts"] for job in house.which.candidates()):
        stood = "nothing is called out now" if at is None else "nothing was called out then"
        raise CannotTellError(f"{stood}, so there is nothing to have heard; `mixclock now` shows what runs")
