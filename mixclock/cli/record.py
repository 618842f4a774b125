"""The record of a job: a page, CSV files, JSON, and the sheet for the owner."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.mistaken import one_line_errors
from mixclock.cli.options import AsJson

if TYPE_CHECKING:
    from mixclock.wiring import House
    from mixclock.words.record import Record


def record(
    to: Annotated[Path | None, typer.Option("--to", metavar="FILE", help="Where the page goes.")] = None,
    owner: Annotated[bool, typer.Option("--owner", help="The sheet to hand over instead.")] = False,
    csv: Annotated[Path | None, typer.Option("--csv", metavar="FOLDER", help="The tables as CSV files too.")] = None,
    job: Annotated[str | None, typer.Option("--job", metavar="NAME", help="Another job than the one in use.")] = None,
    at: Annotated[str | None, typer.Option("--at", metavar="TIME", help="As it stood at a past instant.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over files that are there.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write the job down: one page that prints, with everything that was stated."""
    from mixclock.cli.typed import instant
    from mixclock.wiring import open_house

    with one_line_errors(), open_house() as house:
        made = record_of(house, job, instant(house, at, "--at"))
        if csv is not None:
            _write_csv(made, csv, replace)
        if as_json:
            _print_json(made)
        elif to is not None or csv is None:
            _write_page(made, to or Path(_file_name(made, owner)), owner, replace)


def record_of(house: House, job: str | None, at: datetime | None) -> Record:
    """What the record of a job is made from."""
    from mixclock import __version__
    from mixclock.job.entry import PhotoTaken
    from mixclock.outside.photos import page_copy
    from mixclock.words.record import Record, SmallCopy

    standing = house.standing(job, at)
    hashes = {entry.facts.sha256 for entry in standing.live() if isinstance(entry.facts, PhotoTaken)}
    kept = [picture for sha256 in hashes if (picture := house.book.drawers.picture(sha256)) is not None]
    copies = {picture.sha256: page_copy(picture, len(kept)) for picture in kept}
    small = {sha256: SmallCopy(copy.media, copy.small, copy.why_not) for sha256, copy in copies.items()}
    return Record(standing, at or house.clock.now(), house.bucket_model, small, __version__)


def _file_name(made: Record, owner: bool) -> str:
    plain = "".join(letter if letter.isalnum() else "-" for letter in made.standing.site.name.casefold())
    return f"{'-'.join(part for part in plain.split('-') if part)}-{'owner' if owner else 'record'}.html"


def _write_page(made: Record, path: Path, owner: bool, replace: bool) -> None:
    from mixclock.words.record import owner_page, record_page

    _write({path: owner_page(made) if owner else record_page(made)}, replace)
    typer.echo(f"{path}: {'the sheet for the owner' if owner else 'the record'}, ready to print")


def _write_csv(made: Record, folder: Path, replace: bool) -> None:
    from mixclock.words.record import csv_files, record_tables

    files = csv_files(record_tables(made), made.zone, made.us_units)
    _write({folder / name: text for name, text in files.items()}, replace)
    typer.echo(f"{folder}: {len(files)} tables as CSV", err=True)


def _write(files: dict[Path, str], replace: bool) -> None:
    """Write all files, or none where one of them is there already."""
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.atomicfile import write_atomically

    there = next((path for path in files if path.exists()), None)
    if there is not None and not replace:
        raise CannotTellError(f"{there}: is there already; name another file with --to, or say --replace")
    for path, text in files.items():
        try:
            write_atomically(path, text)
        except OSError as error:
            raise CannotTellError(
                f"{path}: {error.strerror or error}; name another place with --to or --csv"
            ) from error


def _print_json(made: Record) -> None:
    from mixclock.cli.statement import print_json
    from mixclock.words.record import record_json, record_tables

    print_json(record_json(made.standing.job, made.at, record_tables(made)))
