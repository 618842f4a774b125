"""`mixclock profile`: shows the products that mixclock knows, and takes in a new one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from mixclock.cli.answering import print_json, say_answer, write_file
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson, completes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from mixclock.decide.clocks import LearnedFactor
    from mixclock.decide.learn import EdgeObservation
    from mixclock.job.profile import Profile
    from mixclock.outside.profiledrafts import ProfileDraft
    from mixclock.outside.profilefiles import FoundProfile, ProfileFileError
    from mixclock.wiring import House
    from mixclock.words.profilepage import EdgeRow
    from mixclock.words.sheettalk import Talk

app = typer.Typer(no_args_is_help=True, help="Products: type in their data sheets, show them, check them.")


@app.command()
def check(
    file: Annotated[Path, typer.Argument(help="A profile in TOML.")],
    as_json: AsJson = False,
) -> None:
    """Check a profile: list all its mistakes at once, and what it leaves out."""
    from mixclock.cli.profilemending import left_out, left_out_lines
    from mixclock.outside.profilefiles import ProfileFileError, read

    try:
        profile = read(file).profile
    except ProfileFileError as error:
        if as_json:
            print_json({"file": str(file), "ok": False, "mistakes": list(error.lines)})
        _refuse(error)
    told = left_out(profile)
    head = {"file": str(file), "ok": True, "name": profile.name, "family": profile.family.value}
    fine = f"{file}: no mistakes. {profile.name}, {profile.family.value}, {len(profile.windows)} windows."
    say_answer(as_json, {**head, **told}, [fine, *left_out_lines(told)])


@app.command(name="list")
def list_(as_json: AsJson = False) -> None:
    """List every product that a job can name, your own first."""
    from mixclock.outside.profilefiles import ProfileFileError, listed, read

    rows = []
    for entry in listed():
        try:
            family, wrong = read(entry.path).profile.family.value, 0
        except ProfileFileError as error:
            family, wrong = None, len(error.lines)
        rows.append(
            {"name": entry.name, "family": family, "own": entry.own, "file": str(entry.path), "mistakes": wrong}
        )
    width = max((len(str(row["name"])) for row in rows), default=0)
    lines = []
    for row in rows:
        kind = row["family"] or f"mistakes: mixclock profile check {row['file']}"
        lines.append(f"{row['name']:<{width}}  {kind}{'  (yours)' if row['own'] else ''}")
    say_answer(as_json, rows, lines)


@app.command()
def show(
    name: Annotated[str, typer.Argument(help="The product's name.", autocompletion=completes("products"))],
    picture: Annotated[
        Path | None, typer.Option("--picture", metavar="FILE.svg", help="Draw its windows and pot life into a file.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show a product: the sheet's figures, its windows by temperature, and what was learned on the floor."""
    from mixclock.cli.mistaken import one_line_errors
    from mixclock.outside.profilefiles import find
    from mixclock.wiring import house_if_any
    from mixclock.words.lessons import lessons_json, lessons_of
    from mixclock.words.profilepage import edge_rows, page

    with one_line_errors(), house_if_any() as house:
        if picture is not None:
            _refuse_other_ending(picture)
        found = find(name)
        lessons = lessons_of(found.profile, _seen_by_the_wall(house, found) if house else ())
        learned = {lesson.window: lesson.learned for lesson in lessons}
        if picture is not None:
            _draw(picture, found.profile, learned, house)
    rows = edge_rows(found.profile, learned)
    told = {**_shown(found, rows), "learned": lessons_json(lessons)}
    say_answer(as_json, told, page(found.profile, found.origin, rows, lessons))


def _seen_by_the_wall(house: House, found: FoundProfile) -> Sequence[EdgeObservation]:
    """The signs seen of a product, each with the day in the zone of its own floor."""
    from mixclock.outside.jobs import walls_of_jobs
    from mixclock.values import replace

    seen = house.lessons.of(found)
    walls = walls_of_jobs(house.book) if seen else {}
    return [replace(each, at=each.at.astimezone(walls[each.job])) if each.job in walls else each for each in seen]


def _refuse_other_ending(file: Path) -> None:
    """A picture is drawn in one way only."""
    from mixclock.job.saying import CannotTellError

    if file.suffix.casefold() != ".svg":
        raise CannotTellError(f"{file}: a product is drawn as SVG; name the file {file.stem or 'product'}.svg")


def _draw(file: Path, profile: Profile, learned: Mapping[str, LearnedFactor], house: House | None) -> None:
    """Draw a product into a file, in the units of the crew whose job is under way."""
    from mixclock.decide.bucketmodel import bucket_model
    from mixclock.decide.clocks import NOTHING_LEARNED
    from mixclock.job.steps import POUR_OUT
    from mixclock.outside.calibrations import kept_calibrations
    from mixclock.units import METRIC_CREW
    from mixclock.words.picture import cups_drawn, mass_curves, product_picture

    units = house.units() if house is not None else METRIC_CREW
    model = bucket_model(kept_calibrations(house.book.drawers) if house else None)
    masses = mass_curves(profile, model, learned.get(POUR_OUT, NOTHING_LEARNED), units)
    cups = cups_drawn(profile, model, house.cups.all() if house else ())
    drawn = product_picture(profile, units, masses, learned, cups)
    write_file(file, drawn)
    typer.echo(f"Drawn into {file}.", err=True)


@app.command(name="drop-learned")
def drop_learned(
    name: Annotated[str, typer.Argument(help="The product's name.", autocompletion=completes("products"))],
    window: Annotated[
        str | None, typer.Argument(help="The window, such as tack-free. Without it, all windows.")
    ] = None,
    by: Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who says so.")] = None,
    as_json: AsJson = False,
) -> None:
    """Forget what signs on the floor taught of a product: the sheet alone counts again."""
    from mixclock.outside.profilefiles import find
    from mixclock.words.lessons import dropped_line

    with at_house() as house:
        found = find(name)
        dropped = house.lessons.drop(found, window, by)
    told = {"product": found.profile.name, "dropped": {each: len(gone) for each, gone in dropped.items()}}
    say_answer(as_json, told, (dropped_line(found.profile.name, each, gone) for each, gone in dropped.items()))


@app.command()
def write(
    name: Annotated[
        str | None, typer.Argument(help="The product: begin it, go on with its draft, or change one figure.")
    ] = None,
) -> None:
    """Type in a data sheet, question by question; you can stop at any time and go on later.

    Open a finished product again to change one figure.
    """
    from mixclock.cli.profilemending import finished_product, mend, one_answer, say_goodbye, say_what_is_left_out
    from mixclock.job.sheetquestions import profile_text
    from mixclock.outside import profiledrafts, profilefiles
    from mixclock.words import sheettalk

    try:
        if name is not None and (finished := finished_product(name)) is not None:
            mend(finished)
            return
        talk, draft = _begun(name)
        _say_hello(talk)
        while talk.state is sheettalk.TalkState.ASKING:
            talk, draft = one_answer(talk, draft, sheettalk.prompt, sheettalk.hear, profiledrafts.path_of_draft)
        if talk.state is sheettalk.TalkState.LEFT or not _may_replace(talk.answers["name"]):
            say_goodbye(draft, f'mixclock profile write "{draft.name if draft else ""}"')
            return
        path = profilefiles.save(profile_text(talk.answers))
        if draft is not None:
            profiledrafts.drop(draft)
    except profilefiles.ProfileFileError as error:
        _refuse(error)
    typer.echo(f"Kept as {path}.")
    say_what_is_left_out(path)


def _begun(name: str | None) -> tuple[Talk, ProfileDraft | None]:
    """The talk as it was left, or a new one."""
    from mixclock.cli.profilemending import draft_meant
    from mixclock.job.sheetquestions import QUESTIONS
    from mixclock.outside.profiledrafts import drafts
    from mixclock.words.sheettalk import KEEP, Talk, hear

    wanted = [draft for draft in drafts() if name is None or draft.name.casefold() == name.casefold()]
    names = [draft.name for draft in wanted]
    draft = draft_meant(wanted, name is not None, names, "mixclock profile write NAME")
    if draft is None:
        return (hear(Talk(), name)[0] if name else Talk()), None
    is_known = draft.at == KEEP or draft.at in {question.key for question in QUESTIONS}
    return Talk(draft.answers, draft.at if is_known else QUESTIONS[0].key), draft


def _may_replace(name: str) -> bool:
    """Ask whether the new product replaces the user's own product of that name: nothing is overwritten by accident."""
    from mixclock.outside.profilefiles import own_path

    path = own_path(name)
    if path is None:
        return True
    typer.echo(f"{path} holds {name} already. Type replace to put this one in its place; anything else leaves a draft.")
    try:
        return input("> ").strip().casefold() == "replace"
    except (EOFError, KeyboardInterrupt, UnicodeDecodeError):
        typer.echo("")
        return False


def _say_hello(talk: Talk) -> None:
    from mixclock.job.sheetquestions import asked

    typer.echo(f"{len(asked(talk.answers))} questions, in the order of a data sheet. back, later and ? always work.")


def _refuse(error: ProfileFileError) -> NoReturn:
    from mixclock.cli.mistaken import WrongInputError

    raise WrongInputError(error.lines) from error


def _shown(found: FoundProfile, rows: list[EdgeRow]) -> dict[str, object]:
    profile: Profile = found.profile
    return {
        "name": profile.name,
        "family": profile.family.value,
        "source": profile.source,
        "origin": found.origin,
        "windows": [
            {
                "name": row.window,
                "edge": row.edge,
                "after": row.after,
                "stated": row.stated,
                "factor": row.factor,
                "at": [
                    {
                        "slab_c": at.temp_c,
                        "early_s": round(at.early_s, 1),
                        "likely_s": round(at.likely_s, 1),
                        "late_s": round(at.late_s, 1),
                        "outside_sheet": at.outside_sheet,
                    }
                    for at in row.at
                ],
            }
            for row in rows
        ],
        "cautions": list(profile.cautions),
    }
