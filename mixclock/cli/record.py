"""The record of a job: a page, CSV files, JSON, and the sheet for the owner."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.answering import print_json, say_lines, write_file
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson, AsOf, JobName

if TYPE_CHECKING:
    from mixclock.job.progress import Standing
    from mixclock.wiring import House
    from mixclock.words.record import Record


def record(
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="The file to write: a page (.html, .pdf) or tables (.xlsx)."),
    ] = None,
    owner: Annotated[bool, typer.Option("--owner", help="Write the owner's sheet instead.")] = False,
    claim: Annotated[bool, typer.Option("--claim", help="Write the page for a claim instead: facts alone.")] = False,
    names: Annotated[bool, typer.Option("--names", help="Show people by their names, not as crew 1, crew 2.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", metavar="FOLDER", help="Write the tables as CSV files too.")
    ] = None,
    decimal: Annotated[
        str | None, typer.Option("--decimal", metavar="point|comma", help="The decimal sign in CSV files.")
    ] = None,
    job: JobName = None,
    at: AsOf = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite files that are there.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write the job's record: one page to print, with everything that was stated."""
    from mixclock.cli.statement import others_live_lines
    from mixclock.cli.typed import past_instant

    with at_house(job=job) as house:
        house.which.settle()
        moment = past_instant(house, at)
        made = record_of(house, None, moment, names)
        page = "owner" if owner else "claim" if claim else "record"
        if csv is not None:
            _write_csv(made, csv, _decimal_sign(decimal or _usual_sign(house)), replace)
        if as_json:
            # other programs always get the names: only what is printed hides them
            from mixclock.words.record import record_json, record_tables

            whole = record_of(house, None, moment, names=True)
            print_json(record_json(whole.standing.job, whole.at, record_tables(whole)))
        elif to is not None or csv is None:
            say_lines(others_live_lines(house))
            _write_page(made, to or Path(_file_name(made, page)), page, replace)


def record_of(house: House, job: str | None, at: datetime | None, names: bool = False) -> Record:
    """What the record of a job is made from. Of a past instant: what was known then. People have numbers, or names."""
    from mixclock import __version__
    from mixclock.job.entry import PhotoTaken
    from mixclock.outside.photos import page_copy
    from mixclock.words.record import Record, SmallCopy

    standing = house.standing(job, at, known=at)
    if not names:
        standing = _with_crew_numbers(standing, at)
    hashes = {entry.facts.sha256 for entry in standing.live() if isinstance(entry.facts, PhotoTaken)}
    kept = [picture for sha256 in hashes if (picture := house.book.drawers.picture(sha256)) is not None]
    copies = {picture.sha256: page_copy(picture, len(kept)) for picture in kept}
    small = {sha256: SmallCopy(copy.media, copy.small, copy.why_not) for sha256, copy in copies.items()}
    now = house.clock.now()
    return Record(standing, at or now, house.bucket_model, small, __version__, written=now if at else None)


def _with_crew_numbers(standing: Standing, at: datetime | None) -> Standing:
    """The same job with people as crew 1, crew 2: for papers that are handed over."""
    from mixclock.job.crewnumbers import crew_numbers, numbered_entries, numbered_site
    from mixclock.job.folding import fold

    numbers = crew_numbers(standing.site, standing.entries)
    again = fold(standing.job, numbered_entries(standing.entries, numbers), at=at, known=at)
    return numbered_site(again, numbers)


def _file_name(made: Record, page: str) -> str:
    plain = "".join(letter if letter.isalnum() else "-" for letter in made.standing.site.name.casefold())
    return f"{'-'.join(part for part in plain.split('-') if part)}-{page}.html"


def _write_page(made: Record, path: Path, page: str, replace: bool) -> None:
    content, what = _made(made, path, page)
    _write({path: content}, replace)
    typer.echo(f"{path}: {what}")


def _made(made: Record, path: Path, page: str) -> tuple[str | bytes, str]:
    """What goes into a file, by how its name ends, and what it then is."""
    from mixclock.job.saying import CannotTellError
    from mixclock.words.record import claim_page, owner_page, record_page

    kinds = {
        "record": (record_page, "the record"),
        "owner": (owner_page, "the sheet for the owner"),
        "claim": (claim_page, "the page for a claim"),
    }
    write, name = kinds[page]
    ending = path.suffix.casefold()
    if ending == ".xlsx" and page == "record":
        return _workbook(made, path), "the tables of the record"
    what = f"{name}, ready to print"
    if ending in (".html", ".htm"):
        return write(made), what
    if ending == ".pdf":
        return _pdf(write(made), path), what
    endings = ".html, .pdf or .xlsx" if page == "record" else ".html or .pdf"
    raise CannotTellError(f"{path}: '{ending or path.name}' is not written here; name a file that ends with {endings}")


def write_page(path: Path, page: str, what: str) -> None:
    """Write a page as it stands, or printed, by how the name ends."""
    from mixclock.job.saying import CannotTellError

    ending = path.suffix.casefold()
    if ending not in (".html", ".htm", ".pdf"):
        raise CannotTellError(f"{path}: name a file that ends with .html or .pdf")
    _write({path: _pdf(page, path) if ending == ".pdf" else page}, replace=False)
    typer.echo(f"{path}: {what}")


def _workbook(made: Record, path: Path) -> bytes:
    from mixclock.job.saying import CannotTellError
    from mixclock.words.record import record_tables
    from mixclock.words.record.workbook import workbook

    try:
        return workbook(record_tables(made), made.zone, made.units, made.at)
    except ImportError as error:
        raise CannotTellError(
            f"{path}: needs XlsxWriter; `pip install 'mixclock[sheets]'`, or write --csv FOLDER"
        ) from error


def _pdf(page: str, path: Path) -> bytes:
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.printing import NoPrinterError, page_as_pdf

    try:
        return page_as_pdf(page)
    except NoPrinterError as error:
        raise CannotTellError(f"{path}: {error}") from error


def _usual_sign(house: House) -> str:
    from mixclock.watch.setup import settings_of

    sign: str = settings_of(house).get("crew.decimal")
    return sign


def _decimal_sign(said: str) -> str:
    from mixclock.job.saying import CannotTellError

    signs = {"point": ".", "comma": ",", ".": ".", ",": ","}
    if said.casefold() not in signs:
        raise CannotTellError(f"--decimal: '{said}' is no decimal sign; say point or comma")
    return signs[said.casefold()]


def _write_csv(made: Record, folder: Path, decimal: str, replace: bool) -> None:
    from mixclock.words.record import csv_files, record_tables

    files = csv_files(record_tables(made), made.zone, made.units, decimal)
    # the mark at the start tells spreadsheets on Windows that it is UTF-8
    _write({folder / name: f"\ufeff{text}" for name, text in files.items()}, replace)
    typer.echo(f"{folder}: {len(files)} tables as CSV", err=True)


def _write(files: Mapping[Path, str | bytes], replace: bool) -> None:
    """Write all files, or none where one of them is there already."""
    from mixclock.job.saying import CannotTellError

    there = next((path for path in files if path.exists()), None)
    if there is not None and not replace:
        raise CannotTellError(f"{there} is already there; name another file with --to, or say --replace")
    for path, content in files.items():
        write_file(path, content, "name another place with --to or --csv")
