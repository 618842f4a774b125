"""Takes in the files that temperature loggers export: each reading enters the log once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from pathlib import Path

from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE, Entry, JobStarted, Reading
from mixclock.job.loggertable import HeldBack, LoggerRow, LoggerTable, LoggerWish, logger_table
from mixclock.job.mistakes import Mistakes
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.values import dataclass

LARGEST_BYTES = 32 * 1024 * 1024

BEFORE_START = timedelta(hours=48)
"""A floor keeps what it was for two days before the work: earlier rows of an export say nothing of this job."""

EVERY = timedelta(minutes=10)
MOVED_K = 0.5
MOVED_PCT = 2.0
"""A row counts where ten minutes went by or something moved; between two rows a reading is linear anyway."""


@dataclass(frozen=True)
class LoggerIntake:
    """What an import did: how many readings are new, known already, left out, held back."""

    table: LoggerTable
    new: tuple[Entry, ...]
    known: int
    too_early: int
    held_back: tuple[HeldBack, ...]


def read_export(path: Path, wish: LoggerWish) -> LoggerTable:
    """The table in a file. Raises `CannotTellError` with one line for each mistake."""
    text = text_of_export(path)
    try:
        return logger_table(text, wish)
    except Mistakes as mistakes:
        raise CannotTellError("\n".join(mistakes.lines(str(path)))) from mistakes


def text_of_export(path: Path) -> str:
    """The text of a file that another program wrote. Raises `CannotTellError`, one line, where it can't be read."""
    try:
        if not path.is_file():
            raise CannotTellError(f"{path}: is no file; name the file that was exported")
        if path.stat().st_size > LARGEST_BYTES:
            raise CannotTellError(f"{path}: is larger than {LARGEST_BYTES // 2**20} MB; export fewer days")
        return _text(path.read_bytes())
    except OSError as error:
        raise CannotTellError(f"{path}: {error.strerror or error}; name the file that was exported") from error


def take_export(
    book: Book, job: str, table: LoggerTable, logger: str, *, area: str | None, slab: bool, now: datetime
) -> LoggerIntake:
    """Put the readings of a table into a job's log. One of the same logger and instant is known, and not taken again.

    With `slab` the temperature is the slab's surface, else the air's.
    """
    counted = {"known": 0, "early": 0}
    ahead = [HeldBack(row.line, "lies in the future: the logger's clock or the zone is off")
             for row in table.rows if row.at > now]  # fmt: skip

    def build(entries: Sequence[Entry]) -> Iterator[Draft]:
        if not entries or not isinstance(entries[0].facts, JobStarted):
            raise CannotTellError(f"no job '{job}' in the book; start one with `mixclock job start FILE`")
        first = entries[0].happened - BEFORE_START
        before = {entry.happened for entry in entries if is_by(entry, logger)}
        counted["early"] = sum(row.at < first for row in table.rows)
        due = [row for row in table.rows if first <= row.at <= now]
        counted["known"] = sum(row.at in before for row in due)
        for row in thinned(row for row in due if row.at not in before):
            yield Draft(_facts(row, logger, area, slab), row.at)

    new = book.append_within(job, build, skip=TOLD_BY_MACHINE)
    held = tuple(sorted((*table.held_back, *ahead), key=lambda each: each.line))
    return LoggerIntake(table, new, counted["known"], counted["early"], held)


def thinned(rows: Iterable[LoggerRow]) -> Iterator[LoggerRow]:
    """The rows without those that say nothing new. The last row stays, since a reading ages from there."""
    last: LoggerRow | None = None
    waiting: LoggerRow | None = None
    for row in rows:
        if last is None or row.at - last.at >= EVERY or _moved(last, row):
            yield row
            last, waiting = row, None
        else:
            waiting = row
    if waiting is not None:
        yield waiting


def _moved(last: LoggerRow, row: LoggerRow) -> bool:
    pairs = ((last.temp_c, row.temp_c, MOVED_K), (last.rh_pct, row.rh_pct, MOVED_PCT))
    return any(one is not None and other is not None and abs(one - other) >= limit for one, other, limit in pairs)


def _facts(row: LoggerRow, logger: str, area: str | None, slab: bool) -> Reading:
    air_c, slab_c = (None, row.temp_c) if slab else (row.temp_c, None)
    return Reading(air_c=air_c, rh_pct=row.rh_pct, slab_c=slab_c, area=area, logger=logger)


def is_by(entry: Entry, logger: str) -> bool:
    """Whether a logger or a sensor of that name took this reading."""
    return isinstance(entry.facts, Reading) and entry.facts.logger == logger


def _text(raw: bytes) -> str:
    """UTF-8 with or without its mark, UTF-16 with one, else the code page of western Windows."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")
