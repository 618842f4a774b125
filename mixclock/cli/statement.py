"""How a statement goes: read what was typed, put it durably into the book, answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import typer

from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import Extra

if TYPE_CHECKING:
    from mixclock.job.keptstatement import KeptStatement
    from mixclock.job.statements import Statement
    from mixclock.wiring import House
    from mixclock.words.answers import Answer


def state(extra: Extra, understand: Callable[[House], Statement]) -> None:
    """State a fact. `understand` makes the statement of what was typed."""
    from mixclock.cli.typed import when
    from mixclock.wiring import open_house

    with one_line_errors(), open_house(job=extra.job) as house:
        stated = house.state(understand(house), at=when(house, extra), by=extra.by, note=extra.note)
        say(house, stated, extra.as_json)


def say(house: House, stated: KeptStatement, as_json: bool) -> None:
    """Answer a statement that is in the book."""
    from mixclock.words.answers import answer_json

    job = stated.entry.job
    answer = replace(_answer(house, stated), job=job if house.which.others_live(job) else "")
    if as_json:
        print_json(answer_json(answer, stated.entry))
    else:
        for line in answer.lines():
            typer.echo(line)
    if house.book.reserve_used:
        typer.echo("the disk is full: the last reserve is in use, free some space now", err=True)


def others_live_lines(house: House) -> list[str]:
    """Which job an answer is about, where more than one is under way."""
    job = house.job()
    others = ", ".join(f"'{each}'" for each in house.which.others_live(job))
    return [f"This is job '{job}'; under way beside it: {others}. Say --job NAME for another."] if others else []


def _answer(house: House, stated: KeptStatement) -> Answer:
    """The answer; where a defect keeps it from being worked out, that the statement is safe all the same."""
    from mixclock.words.answers import Answer

    try:
        return house.answer(stated)
    except Exception as defect:
        said = f"'{stated.entry.facts.kind}' is in the book"
        sorry = f"what comes next could not be worked out, a defect of mixclock ({type(defect).__name__}: {defect})"
        return Answer(stated.entry.number, said, warnings=(" ".join(sorry.split()),))


def print_json(value: Any) -> None:
    """Print a value as JSON."""
    import json

    typer.echo(json.dumps(value, ensure_ascii=False, indent=2))
