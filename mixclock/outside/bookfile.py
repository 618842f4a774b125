"""A whole job as a file of its own, and back into another book.

The file is JSON, one line each: a head, the entries, the small pictures. Every line carries a seal, SHA-256 over the
seal before and the line's canonical JSON, and the head counts the lines; so a line that was changed, dropped, added or
cut off is found. A seal shows accidents and careless edits; it is no signature.
"""

from __future__ import annotations

import base64
import dataclasses
import json
import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from mixclock.job.entry import Delivered, Entry, Facts, PhotoTaken, Withdrawn
from mixclock.job.folding import fold
from mixclock.job.instants import utc_text
from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcheck import verify
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.bookrows import FIRST_HASH, Row, canonical, entry_of

FORMAT = 1
_LARGEST_FILE = 1 << 30


def export_job(book: Book, job: str, path: Path) -> int:
    """Write a job with its pictures to a new file; gives the number of entries. Nothing half is ever left there."""
    if path.exists():
        raise BookError(f"{path} is already there; give another name")
    broken = verify(book)
    if broken is not None:
        raise BookError(f"{broken}; a damaged job is not exported, keep the book file itself")
    rows = list(book.rows(job))
    if not rows:
        raise BookError(f"'{job}' is no job of this book; `mixclock job list` shows them")
    _write_whole(path, _sealed([_head(book, job, rows), *_entry_lines(rows), *_picture_lines(book, rows)]))
    return len(rows)


def import_job(book: Book, path: Path, name: str | None = None) -> tuple[str, int]:
    """Take a job from a file into the book; gives its name and the number of entries.

    The entries are numbered anew and chained to this book's; what refers to an entry's number follows. Each keeps the
    hash that it had where it was written.
    """
    head, entries, pictures = _read_whole(path)
    job = name or str(head["job"])
    _check_that_it_stands(path, job, entries)
    if any(line.name == job for line in book.all_jobs()):
        raise BookError(f"{path}: a job '{job}' is in this book already; import it under another name with --as NAME")
    for picture in pictures:
        book.drawers.keep_picture(picture)
    count = book.take_over(lambda first: _renumbered(entries, job, first))
    return job, count


def _is_typed(row: Row) -> bool:
    texts = (row.job, row.kind, row.happened, row.written, row.facts, row.boot_id, row.origin, row.hash)
    if type(row.number) is not int or not all(isinstance(text, str) for text in texts):
        return False
    return isinstance(row.boot_s, float | int) and all(isinstance(t, str | None) for t in (row.by_whom, row.note))


def _check_that_it_stands(path: Path, job: str, rows: Sequence[Row]) -> None:
    """Take nothing over that could not be worked out: its windows would stand in the book and be called by nobody."""
    try:
        renumbered = [entry for entry, _ in _renumbered(rows, job, 1)]
        if not all(_is_typed(row) for row in rows):
            raise TypeError("an entry with a value of the wrong kind")
        fold(job, renumbered)
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, RecursionError) as error:
        said = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise BookError(f"{path}: its entries make no job ({said[:120]}); nothing was imported") from error


def _head(book: Book, job: str, rows: list[Row]) -> dict[str, Any]:
    exported = utc_text(book.clock.now())
    return {"mixclock_job": FORMAT, "job": job, "exported": exported, "entries": len(rows), "pictures": None}


def _entry_lines(rows: Iterable[Row]) -> Iterator[dict[str, Any]]:
    for row in rows:
        yield {**vars(row), "facts": json.loads(row.facts)}


def _picture_lines(book: Book, rows: Iterable[Row]) -> Iterator[dict[str, Any]]:
    seen: set[str] = set()
    for row in rows:
        facts = entry_of(row).facts
        if isinstance(facts, PhotoTaken) and facts.sha256 not in seen:
            seen.add(facts.sha256)
            picture = book.drawers.picture(facts.sha256)
            if picture is not None:
                yield {**vars(picture), "small": base64.b64encode(picture.small).decode("ascii")}


def _sealed(lines: list[dict[str, Any]]) -> Iterator[str]:
    head = {**lines[0], "pictures": len(lines) - 1 - lines[0]["entries"]}
    seal = FIRST_HASH
    for line in (head, *lines[1:]):
        seal = _seal(seal, line)
        yield canonical({**line, "seal": seal})


def _seal(before: str, line: Mapping[str, Any]) -> str:
    return sha256(f"{before}\n{canonical(line)}".encode()).hexdigest()


def _write_whole(path: Path, lines: Iterable[str]) -> None:
    half = path.with_name(f".{path.name}.half")
    try:
        half.unlink(missing_ok=True)
        number = os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)  # names and floors are nobody else's
        with os.fdopen(number, "w", encoding="utf-8", newline="\n") as file:
            file.writelines(f"{line}\n" for line in lines)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise BookError(f"{path}: {error.strerror or error}; nothing was exported") from error


def _read_whole(path: Path) -> tuple[dict[str, Any], list[Row], list[Picture]]:
    lines = _checked_lines(path)
    head = lines[0]
    entries, pictures = lines[1 : 1 + head["entries"]], lines[1 + head["entries"] :]
    try:
        rows = [Row(**{**line, "facts": canonical(line["facts"])}) for line in entries]
        for row in rows:
            entry_of(row)
        return head, rows, [Picture(**{**line, "small": base64.b64decode(line["small"])}) for line in pictures]
    except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, RecursionError) as error:
        raise BookError(f"{path}: an entry cannot be read ({error}); nothing was imported") from error


def _checked_lines(path: Path) -> list[dict[str, Any]]:
    """The lines of a file without their seals, once every seal and the count are found right."""
    lines: list[dict[str, Any]] = []
    seal = FIRST_HASH
    for number, text in enumerate(_text_lines(path), start=1):
        if not text:
            continue  # behind the last line
        line = _parsed(path, number, text)
        said = line.pop("seal", None)
        seal = _seal(seal, line)
        if said != seal:
            raise BookError(f"{path}: line {number} is not what was exported: its seal differs; nothing was imported")
        lines.append(line)
    _check_count(path, lines)
    return lines


def _check_count(path: Path, lines: list[dict[str, Any]]) -> None:
    head = lines[0] if lines else {}
    if "mixclock_job" not in head:
        raise BookError(f"{path}: this is no exported job; `mixclock job export FILE` writes one")
    if head["mixclock_job"] != FORMAT:
        raise BookError(f"{path}: written by a newer mixclock (format {head['mixclock_job']}); update mixclock")
    counts = (head.get("entries"), head.get("pictures"))
    if not all(type(count) is int and count >= 0 for count in counts) or not isinstance(head.get("job"), str):
        raise BookError(f"{path}: its first line does not say what it holds; nothing was imported")
    expected = 1 + head["entries"] + head["pictures"]
    if len(lines) != expected:
        raise BookError(f"{path}: {len(lines)} of {expected} lines are there; nothing was imported, copy it again")


def _text_lines(path: Path) -> list[str]:
    try:
        if path.exists() and not path.is_file():
            raise BookError(f"{path}: is no file; nothing was imported")
        if path.stat().st_size > _LARGEST_FILE:
            raise BookError(f"{path}: far too large for an exported job; nothing was imported")
        return path.read_text(encoding="utf-8").split("\n")
    except UnicodeDecodeError as error:
        raise BookError(f"{path}: this is no exported job; `mixclock job export FILE` writes one") from error
    except OSError as error:
        raise BookError(f"{path}: {error.strerror or error}; nothing was imported") from error


def _parsed(path: Path, number: int, text: str) -> dict[str, Any]:
    try:
        line = json.loads(text)
        canonical(line).encode()
    except (ValueError, RecursionError):
        line = None
    if not isinstance(line, dict):
        what = "this is no exported job" if number == 1 else f"line {number} is cut short"
        raise BookError(f"{path}: {what}; nothing was imported, `mixclock job export FILE` writes one")
    return line


def _renumbered(rows: Iterable[Row], job: str, first: int) -> Iterator[tuple[Entry, str]]:
    numbers: dict[int, int] = {}
    for number, row in enumerate(rows, start=first):
        numbers[row.number] = number
        entry = entry_of(row)
        facts = _refer_anew(entry.facts, numbers)
        yield dataclasses.replace(entry, number=number, job=job, facts=facts), row.origin or row.hash


def _refer_anew(facts: Facts, numbers: Mapping[int, int]) -> Facts:
    """Facts that name another entry by its number name it by its new one."""
    if isinstance(facts, Withdrawn):
        return facts.but(entry=numbers[facts.entry])
    if isinstance(facts, Delivered):
        return facts.but(raised=numbers[facts.raised])
    return facts
