"""The commands of the book: check it, restore it, name it, export it, find it, and trust the machine's clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated

import typer

from mixclock.cli.answering import say_answer, say_lines
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house
from mixclock.cli.options import AsJson

app = typer.Typer(help="The book of all jobs: check it, restore it, export it, find it.", rich_markup_mode=None)


@app.command()
def check(as_json: AsJson = False) -> None:
    """Check every entry against its hash, and look for contradictions. Exit code 1: something is wrong."""
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
    copy: Annotated[
        Path | None, typer.Argument(metavar="COPY", help="The copy to go back to; `mixclock book where` lists them.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Build the book again from its copies and from what was written since. With COPY: go back to that copy."""
    from mixclock.cli.mistaken import wrong
    from mixclock.outside.bookidentity import draw_anew

    with at_house() as house:
        if copy is not None and not copy.is_file():
            raise wrong(f"{copy}: there is no such copy; `mixclock book where` lists them")
        line = house.book.restore(copy)
        if copy is not None:
            draw_anew(
                house.book
            )  # entries get numbers that were given before, and another book may know those from the first time
        say_answer(as_json, {"told": line}, [line])


@app.command()
def name(
    name: Annotated[
        str | None,
        typer.Argument(metavar="[NAME]", help="The new name, such as 'van 2'. Without it, the name is shown."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Name this book. Other laptops that took in its jobs then say "van 2's batch 3"."""
    from mixclock.outside.bookidentity import identity_of, name_book

    with at_house() as house:
        before = identity_of(house.book)
        known = name_book(house.book, name) if name is not None else before
        told = [f"This book is {known.name}."]
        if known.name != before.name and house.book.current_job() is not None:
            told.append(
                f"What other books took in before stays with {before.name}; what they take in now has this name."
            )
        say_answer(as_json, {"id": known.id, "name": known.name}, told)


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
    """Explain the book's views and their columns, with five questions worked out in SQL."""
    from mixclock.outside.bookviews import dictionary_lines

    say_lines(dictionary_lines())


@app.command()
def where(as_json: AsJson = False) -> None:
    """Show where the book and its copies lie."""
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
    """The files that a restore or an update set aside: mixclock never deletes them, so a person has to."""
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
            "Taken. mixclock now counts as if this machine was never off. "
            "In truth it was off: withdraw each batch that still runs, and state it again with --at."
        )
        say_answer(as_json, {"jobs": jobs}, [taken])
