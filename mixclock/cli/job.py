"""Jobs: write, start, mend, list, use, finish, export, import."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from mixclock.cli.answering import print_json, say_answer
from mixclock.cli.commandwords import Extra
from mixclock.cli.mistaken import at_house, one_line_errors, wrong
from mixclock.cli.options import Ago, AsJson, At, By, JobName, Note, completes
from mixclock.cli.statement import state

_NAME_IT = "`mixclock book name 'van 2'`"
NOT_WATCHED = "Each laptop calls out only what was stated on it. This one calls nobody for the other's statements."

app = typer.Typer(help="Jobs: write, start, mend, list, use, finish, export, import.", rich_markup_mode=None)


@app.command()
def start(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The job file.")],
    as_json: AsJson = False,
) -> None:
    """Start a job from its file, and use it from now on."""
    from mixclock.outside.jobs import checked_site, products_missing
    from mixclock.outside.jobtexts import job_text_of
    from mixclock.wiring import open_house

    with one_line_errors():
        text = job_text_of(file)
        with open_house() as house:
            checked_site(text, str(file))
            stated = house.start(text, str(file))
            site = house.site(stated.job)
            if as_json:
                print_json({"job": stated.job, "entry": stated.number, "areas": len(site.areas)})
                return
            products = ", ".join(site.products)
            typer.echo(f"Job '{stated.job}' begun: {_areas(len(site.areas))}, {products}.")
            if site.check_in_s is not None:
                from mixclock.decide.alerting.alone import NO_DEVICE
                from mixclock.units import write_span

                typer.echo(f"Who works alone is called after {write_span(site.check_in_s)} of silence. {NO_DEVICE}")
            if others := house.which.others_live(stated.job):
                typer.echo(_which_job([*others, stated.job]))
            for line in products_missing(site.products):
                typer.echo(f"Look out: {line}")


@app.command()
def write(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="[FILE]", help="The file to write. If it is there already, it is opened again."),
    ] = None,
) -> None:
    """Write a job file, question by question. You can stop at any time and go on later."""
    from mixclock.cli.jobwriting import write_job

    with one_line_errors():
        write_job(file)


@app.command()
def mend(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The job file as it is now.")],
    by: By = None,
    note: Note = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Take in a job file that you changed: from now on the job goes by it."""
    from mixclock.job.entry import JobMended
    from mixclock.outside.jobs import checked_site, products_missing
    from mixclock.outside.jobtexts import job_text_of
    from mixclock.wiring import open_house

    with one_line_errors():
        text = job_text_of(file)
        with open_house(job=job) as house:
            site = checked_site(text, str(file))
            house.which.settle(lambda name: name == site.name)  # the file says whose it is
            stated = house.mend(text, str(file), by, note)
            facts = stated.entry.facts
            assert isinstance(facts, JobMended)
            job, number = stated.entry.job, stated.entry.number
            lines = [f"Job '{job}' goes by {file} from now on  (entry {number})"]
            lines += [f"  {line}" for line in facts.changed]
            lines += [f"Look out: {line}" for line in products_missing(stated.standing.site.products)]
            if job in house.book.jobs_with("planned"):
                lines.append("Look out: the plan still goes by the old file; `mixclock plan` makes a new one")
            say_answer(as_json, {"job": job, "entry": number, "changed": list(facts.changed)}, lines)


def _which_job(live: Sequence[str]) -> str:
    named = " and ".join(f"'{name}'" for name in live)
    return f"Under way: {named}. Say --job NAME, or set MIXCLOCK_JOB in each crew's terminal. It does not guess."


def _areas(count: int) -> str:
    return "1 area" if count == 1 else f"{count} areas"


@app.command("list")
def list_jobs(as_json: AsJson = False) -> None:
    """List the jobs of the book; a star marks the one in use."""
    from mixclock.outside.jobs import listed_jobs
    from mixclock.words.nowscreen import job_lines

    with at_house() as house:
        jobs = listed_jobs(house.book)
    say_answer(as_json, {"jobs": jobs}, job_lines(jobs))


@app.command()
def use(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name.", autocompletion=completes("jobs"))],
    as_json: AsJson = False,
) -> None:
    """Use another job: from now on you state and ask about that one."""
    from mixclock.outside.jobs import use_job

    with at_house() as house:
        chosen = use_job(house.book, name)
    say_answer(as_json, {"job": chosen}, [f"Job '{chosen}' is in use."])


@app.command()
def finish(
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Finish the job: you can still ask about it, and it calls nobody any more."""
    from mixclock.job.statements import FinishedStatement

    state(Extra(at, ago, by, note, as_json, job), lambda _: FinishedStatement())


def _entries(count: int) -> str:
    return f"{count} entr{'y' if count == 1 else 'ies'}"


@app.command()
def export(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The new file.")],
    without_names: Annotated[
        bool,
        typer.Option(
            "--without-names",
            help="Call people crew 1, crew 2, and leave photos out. Others can read the copy; no book joins it.",
        ),
    ] = False,
    rename: Annotated[
        list[str] | None,
        typer.Option(
            "--rename",
            metavar="OLD=NEW",
            help="Give a person another name. Others can read the copy; no book joins it.",
        ),
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file if it is there.")] = False,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Write the whole job, with its pictures, into one file for another book. Only your account can read the file."""
    from mixclock.cli.readingcopy import copy_for_reading_lines
    from mixclock.outside.bookidentity import identity_of
    from mixclock.outside.jobexchange import export_job, pictures_missing, state_of
    from mixclock.outside.withoutnames import export_for_reading

    with at_house(job=job) as house:
        house.which.settle()
        name = house.job()
        if without_names or rename:
            if without_names and rename:
                raise wrong("--without-names takes out every name, so --rename has none to change; give one of them")
            copy = export_for_reading(house.book, name, file, None if without_names else rename, replace)
            count, state, lines = copy.entries, copy.state, list(copy_for_reading_lines(copy, without_names))
        else:
            count, own = export_job(house.book, name, file, replace), identity_of(house.book)
            state, lines = state_of(house.book, name), list(_left_out(pictures_missing(house.book, name)))
            if not own.named:
                lines.append(f"Others will know this book as {own.name}; {_NAME_IT} gives it a better name.")
    told = {"job": name, "entries": count, "file": str(file), "state": state}
    say_answer(as_json, told, [f"Job '{name}': {_entries(count)} in {file}, state {state}.", *lines])


def _left_out(missing: int) -> Iterator[str]:
    if missing:
        what = (
            "1 photo goes without its picture, which is" if missing == 1 else f"{missing} photos go without pictures,"
        )
        lost = "missing or damaged in this book" if missing == 1 else "which are missing or damaged in this book"
        yield f"Look out: {what} {lost}; `mixclock photo FILE` with the original puts it back."


@app.command("import")
def import_(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The exported file.")],
    name: Annotated[str | None, typer.Option("--as", metavar="NAME", help="Take it in under another name.")] = None,
    as_json: AsJson = False,
) -> None:
    """Take in a job that another book exported. Do it again later, and only what is new is added."""
    from mixclock.outside.jobexchange import import_job

    with at_house() as house:
        taken = import_job(house.book, file, name)
    told = {"job": taken.job, "entries": taken.new, "known": taken.known, "from": taken.van, "state": taken.state}
    new = f"{_entries(taken.new)} taken over" if taken.new else "nothing new"
    here = f", {taken.known} were here already" if taken.known else ""
    lines = [f"Job '{taken.job}': {new}{here}; state {taken.state}. {NOT_WATCHED}"]
    if taken.for_reading:
        lines.append("This copy is only for reading: no later export joins it.")
    if taken.ahead:
        from mixclock.units import write_span

        lines.append(
            f"Look out: the clock of {taken.van} is {write_span(taken.ahead.total_seconds())} ahead of this one."
        )
    say_answer(as_json, told, lines)


@app.command("take-over")
def take_over(
    van: Annotated[
        str | None, typer.Argument(metavar="[VAN]", help="The lost laptop's name. Without it, all others.")
    ] = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Take over from a lost laptop: from now on this one calls out what was stated there."""
    from mixclock.outside.calledhere import take_over as call_here

    with at_house(job=job) as house:
        house.which.settle()
        name = house.job()
        vans = call_here(house.book, house.entries(name), van)
        house.book.use(name)
    line = f"Job '{name}': what {' and '.join(vans)} stated is called out here."
    say_answer(as_json, {"job": name, "vans": vans}, [line])


@app.command()
def learned(job: JobName = None, as_json: AsJson = False) -> None:
    """Show how fast this crew is: its stated rates, and what its past jobs tell."""
    from mixclock.outside.pastpaces import past_paces
    from mixclock.words.crewpace import pace_json, pace_lines

    with at_house(job=job) as house:
        house.which.settle()
        standing = house.standing(house.job())
        past = past_paces(house.book, standing)
    say_answer(as_json, pace_json(standing.site, past), list(pace_lines(standing.site, past)))


@app.command("drop-learned")
def drop_learned(
    past_job: Annotated[
        str | None, typer.Argument(metavar="[JOB]", help="The past job that misleads. Without it, all past jobs.")
    ] = None,
    job: JobName = None,
    by: By = None,
    as_json: AsJson = False,
) -> None:
    """Forget what past jobs told of this crew: its stated rates count again."""
    from mixclock.outside.pastpaces import drop_pace
    from mixclock.words.crewpace import dropped_said

    with at_house(job=job) as house:
        house.which.settle()
        gone = drop_pace(house.book, house.standing(house.job()), past_job, by)
    say_answer(as_json, {"dropped": [each.job for each in gone]}, [dropped_said(each) for each in gone])
