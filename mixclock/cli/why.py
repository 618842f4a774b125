"""Why an area failed, what to set differently, and what comes back from job to job."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.answering import say_answer
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson, AsOf, JobName, Known, completes

if TYPE_CHECKING:
    from mixclock.decide.why import Case
    from mixclock.decide.why.whatif import TimeChange
    from mixclock.wiring import House


SymptomWord = Annotated[
    str | None,
    typer.Option(
        "--symptom",
        metavar="WORD",
        help="What is wrong, if it is not what `found` stated.",
        autocompletion=completes("symptoms"),
    ),
]
ShapeWord = Annotated[
    str | None,
    typer.Option(
        "--shape",
        metavar="SHAPE",
        help="batch-edge, door, shade, cut-in, drips or all-over.",
        autocompletion=completes("shapes"),
    ),
]


def why(
    area: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[AREA]", help="The area. Without it, all areas are compared.", autocompletion=completes("areas")
        ),
    ] = None,
    symptom: SymptomWord = None,
    shape: ShapeWord = None,
    every: Annotated[bool, typer.Option("--all", help="Look across all jobs for faults that come back.")] = False,
    everything: Annotated[
        bool, typer.Option("--everything", help="With --all: leave no job out, however long it takes.")
    ] = False,
    had: Annotated[
        str | None,
        typer.Option(
            "--had", metavar="CHANGE", help="Ask what one change would have saved, such as 'poured 3 at 9:50'."
        ),
    ] = None,
    at: AsOf = None,
    known: Known = False,
    more: Annotated[
        bool, typer.Option("--more", help="Tell all: how each cause works, what is ruled out, every fact.")
    ] = False,
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Write the answer as a page.")] = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Why an area failed: causes with their numbers, what speaks against them, and what nobody recorded."""
    from mixclock.cli.statement import others_live_lines

    with at_house(job=job) as house:
        if area and not every:
            _settle(house, " ".join(area))
        if to is not None:
            _write_reading(house, area, at, to)
            return
        beside = [] if every else others_live_lines(house)
        if every:
            answer, lines = _across(house, everything)
        else:
            case = _case(house, at, known)
            if had is not None:
                answer, lines = _what_if(case, had)
            elif area:
                answer, lines = _why_area(case, " ".join(area), symptom, shape, more)
            else:
                answer, lines = _compare(case)
    say_answer(as_json, answer, (*beside, *lines))


def _settle(house: House, area: str) -> None:
    """The job that has this area. If several have it, mixclock refuses to guess."""
    plain = area.strip().casefold()
    house.which.settle(lambda job: any(each.name.casefold() == plain for each in house.site(job).areas))


def _write_reading(house: House, area: list[str] | None, at: str | None, to: Path) -> None:
    """Write the answer as a page of its own, apart from the record: it is a program's opinion."""
    from mixclock.cli.record import record_of, write_page
    from mixclock.cli.typed import past_instant
    from mixclock.words.record import reading_page

    made = record_of(house, None, past_instant(house, at))
    areas = [_area_named(made.case, " ".join(area))] if area else []
    write_page(to, reading_page(made, areas), "a reading of the record, no inspection")


def _case(house: House, at: str | None, known: bool) -> Case:
    from mixclock.cli.typed import past_instant
    from mixclock.decide.why import Case
    from mixclock.job.saying import CannotTellError

    moment = past_instant(house, at)
    if known and moment is None:
        raise CannotTellError("--known asks what was known at a past instant; say which with --at TIME")
    now = moment or house.clock.now()
    return Case(house.standing(at=moment, known=moment if known else None), now, house.bucket_model)


def _why_area(
    case: Case, area: str, symptom: str | None, shape: str | None, more: bool
) -> tuple[dict[str, Any], list[str]]:
    from mixclock.decide.why import diagnose, shape_named, symptom_named
    from mixclock.decide.why.diagnosis import next_time
    from mixclock.words.whyjson import why_json
    from mixclock.words.whytext import why_lines

    name = _area_named(case, area)
    meant = symptom_named(symptom) if symptom is not None else None
    where = shape_named(shape) if shape is not None else None
    found = diagnose(case, name, meant, where)
    settings = list(next_time(case, name, found.shown))
    return why_json(found, case.at, settings, case.units), why_lines(found, case.units, settings, more)


def _area_named(case: Case, text: str) -> str:
    from mixclock.job.mistakes import did_you_mean, quoted
    from mixclock.job.saying import CannotTellError

    names = [area.name for area in case.standing.site.areas]
    found = next((name for name in names if name.casefold() == text.strip().casefold()), None)
    if found is None:
        raise CannotTellError(f"no area {quoted(text)} on this job; {did_you_mean(text, names)}")
    return found


def _compare(case: Case) -> tuple[dict[str, Any], list[str]]:
    from mixclock.decide.why.comparison import compare
    from mixclock.words.whyother import compared_json, compared_lines

    rows = compare(case)
    return compared_json(case, rows), compared_lines(rows, case.units)


def _what_if(case: Case, had: str) -> tuple[dict[str, Any], list[str]]:
    from mixclock.decide.why.whatif import what_if
    from mixclock.job.saying import CannotTellError
    from mixclock.words.whyother import change_words, held_json, held_lines

    change = _change(case, had)
    try:
        rows = what_if(case.standing, case.bucket_model, change)
    except ValueError as error:
        raise CannotTellError(f"--had: {error}") from error
    meant = change_words(case.standing, change)
    return held_json(rows, meant, change.at), held_lines(rows, meant)


def _change(case: Case, had: str) -> TimeChange:
    """`poured 3 at 9:50` read into a step, a batch and an instant: on that batch's own day, or on the day named."""
    import re

    from mixclock.decide.why.whatif import TimeChange
    from mixclock.job.mistakes import quoted
    from mixclock.job.saidtimes import instant_on_day_of
    from mixclock.job.saying import CannotTellError
    from mixclock.job.steps import ALIASES
    from mixclock.units import UnitError, clock_time

    read = re.fullmatch(
        r"\s*(?:had\s+)?([a-z-]+)\s+(?:batch\s+)?b?#?(\d{1,6})\s+at\s+(?:(?:on\s+)?([a-z]{3,9})[\s,]+)?(.*\d.*?)\s*",
        had,
        re.I,
    )
    if read is None:
        raise CannotTellError(f"--had: {quoted(had)} is not understood; say it as 'poured 3 at 9:50'")
    words = {**ALIASES, "mixing": "mixed", "combined": "mixed", "poured": "poured"}
    said = read[1].casefold()
    batch = case.standing.batch(int(read[2]))
    if batch is None:
        raise CannotTellError(f"--had: there is no batch {int(read[2])}")
    try:
        typed = clock_time(read[4])
    except UnitError as error:
        raise error.at("--had") from None
    zone = case.standing.site.wall
    at = instant_on_day_of(typed, zone, batch.combined.at, read[3] or "", case.at)
    return TimeChange(batch.id, words.get(said, said), at)


def _across(house: House, everything: bool) -> tuple[dict[str, Any], list[str]]:
    from mixclock.decide.why import Case
    from mixclock.decide.why.acrossjobs import counts, looked_at, paces, patterns
    from mixclock.job.entry import TOLD_BY_MACHINE
    from mixclock.outside.jobslookedat import look_across
    from mixclock.words.whyother import across_json, across_lines

    now = house.clock.now()
    seen = look_across(
        house.book,
        lambda job: looked_at(Case(house.standing(job, skip=TOLD_BY_MACHINE), now, house.bucket_model)),
        everything,
    )
    found = (counts(seen.jobs), patterns(seen.jobs), paces(seen.jobs))
    lines = list(across_lines(*found, house.units()))
    answer = {**across_json(*found), "looked_at": len(seen.jobs), "of": seen.of, "copies": seen.copies}
    return answer, [*lines, *([seen.line] if seen.line else [])]
