"""The book: check, restore, where, and the word that the clock is right."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from mixclock.cli.answering import say_answer, say_lines
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house
from mixclock.cli.options import AsJson

app = typer.Typer(help="The book of all jobs: check it, restore it, see where it lies.", rich_markup_mode=None)


@app.command()
def check(as_json: AsJson = False) -> None:
    """Check every entry against its hash, and look for contradictions; exit code 1 where anything is wrong."""
    from mixclock.outside.bookcheck import checked

    with at_house() as house:
        found = checked(house.book)
        verdict = "all as they were written" if not found.wrong else "look at the lines above"
        last = f"{found.entries} entries, {verdict}; {found.copies} copies. `mixclock book where` lists them"
        told = {"entries": found.entries, "wrong": list(found.wrong), "copies": found.copies}
        say_answer(as_json, told, [*found.wrong, last])
    if found.wrong:
        raise typer.Exit(ANSWER_IS_NO)


@app.command()
def restore(
    copy: Annotated[Path | None, typer.Argument(metavar="COPY", help="Go back to this copy.")] = None,
    as_json: AsJson = False,
) -> None:
    """Build the book again from its copies and from all that was written since, or go back to one copy."""
    from mixclock.cli.mistaken import wrong
    from mixclock.outside.bookidentity import draw_anew

    with at_house() as house:
        if copy is not None and not copy.is_file():
            raise wrong(f"{copy}: there is no such copy; `mixclock book where` lists them")
        line = house.book.restore(copy)
        if copy is not None:
            draw_anew(house.book)  # it gives numbers a second time, and others may know them from the first
        say_answer(as_json, {"told": line}, [line])


@app.command()
def name(
    name: Annotated[
        str | None, typer.Argument(metavar="[NAME]", help="Such as 'van 2'; left out, it is shown.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """What others call this book where they hold its jobs: "van 2's batch 3"."""
    from mixclock.outside.bookidentity import identity_of, name_book

    with at_house() as house:
        known = name_book(house.book, name) if name is not None else identity_of(house.book)
        say_answer(as_json, {"id": known.id, "name": known.name}, [f"This book is {known.name}."])


@app.command()
def export(
    parquet: Annotated[Path, typer.Option("--parquet", metavar="FOLDER", help="A new folder for Parquet files.")],
    as_json: AsJson = False,
) -> None:
    """Write the book for other programs: jobs, batches, steps, readings, alerts, findings, lessons."""
    from mixclock.outside.bookparquet import export_parquet

    with at_house() as house:
        written = export_parquet(house.book, parquet)
    lines = [f"{parquet / view}: {count} rows" for view, count in written.items()]
    lines.append("`mixclock book dictionary` says what the columns mean, with five questions worked out.")
    say_answer(as_json, {"folder": str(parquet), "rows": dict(written)}, lines)


@app.command()
def dictionary() -> None:
    """What the book's views and their columns mean, with five questions worked out in SQL."""
    from mixclock.outside.bookviews import dictionary_lines

    say_lines(dictionary_lines())


@app.command()
def where(as_json: AsJson = False) -> None:
    """Where the book and its copies lie."""
    from mixclock.outside.bookcopies import copies_folder, copies_of, how_often_lines, left_behind
    from mixclock.outside.home import home
    from mixclock.wiring import BOOK_NAME

    book = home() / BOOK_NAME
    copies = copies_of(book)
    left = left_behind(book)
    lines = [
        f"{book}{'' if book.exists() else '  (not there yet)'}",
        f"{len(copies)} copies in {copies_folder(book)}, the newest first:",
        *(f"  {each.name}  {each.stat().st_size / 1e6:.1f} MB" for each in copies),
        *_left_lines(left),
        *how_often_lines(),
    ]
    told = {"book": str(book), "there": book.exists(), "copies": [str(each) for each in copies]}
    say_answer(as_json, {**told, "left_behind": [str(each) for each in left]}, lines)


def _left_lines(left: Sequence[Path]) -> Iterator[str]:
    """What nobody else counts or deletes."""
    if left:
        said = "1 file was" if len(left) == 1 else f"{len(left)} files were"
        took = sum(each.stat().st_size for each in left) / 1e6
        yield f"{said} set aside by a restore or an update, {took:.1f} MB; delete what you no longer want:"
        yield from (f"  {each.name}" for each in left)


@app.command("clock-is-right")
def clock_is_right(as_json: AsJson = False) -> None:
    """Say that the machine's clock is right, although the log holds later times."""
    from mixclock.job.entry import WatchEvent
    from mixclock.job.steppedclock import CLOCK_IS_RIGHT

    with at_house() as house:
        jobs = [line.name for line in house.book.open_jobs() if not house.book.is_for_reading(line.name)]
        for job in jobs:
            house.book.append(job, WatchEvent(CLOCK_IS_RIGHT, "a person said so"))
        taken = (
            "Taken. What was stated before counts as if the machine had been off for no time. "
            "It was longer: withdraw what still runs, and state it again with --at."
        )
        say_answer(as_json, {"jobs": jobs}, [taken])
