"""Looks, while the watch runs, into the folders of loggers' exports, and takes in each file once it is whole."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import asdict
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from mixclock.job.loggertable import LoggerWish
from mixclock.job.loggertimes import TimeOrder
from mixclock.job.mistakes import first_line
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.loggers import read_export, take_export
from mixclock.values import dataclass

_KEY = "logger folders"
ENDINGS = (".csv", ".txt", ".tsv")
WHOLE_AFTER = timedelta(seconds=10)
"""A file that was written to this lately may be half of one."""


@dataclass(frozen=True)
class LoggerFolder:
    """A folder, and what a person said about the exports in it."""

    path: str
    job: str
    area: str | None = None
    slab: bool = False
    zone: str | None = None
    degrees: str | None = None
    order: str | None = None
    temperature: str | None = None
    humidity: str | None = None

    @property
    def wish(self) -> LoggerWish:
        """What a person said about the exports."""
        order = TimeOrder(self.order) if self.order else None
        return LoggerWish(self.temperature, self.humidity, self.degrees, self.zone, order)


def followed(book: Book) -> tuple[LoggerFolder, ...]:
    """The folders that are followed."""
    kept: Any = book.drawers.kept("settings", _KEY)
    return tuple(LoggerFolder(**each) for each in kept or ())


def follow(book: Book, folder: LoggerFolder) -> None:
    """Follow a folder from now on, with these words about its exports."""
    others = [each for each in followed(book) if each.path != folder.path]
    book.drawers.keep("settings", _KEY, [asdict(each) for each in (*others, folder)])


def leave(book: Book, path: str) -> bool:
    """Follow a folder no more. False where nobody followed it."""
    kept = followed(book)
    rest = [asdict(each) for each in kept if each.path != path]
    book.drawers.keep("settings", _KEY, rest)
    return len(rest) < len(kept)


class FolderWatch:
    """Looks into the followed folders. The log knows what was taken, so a restart takes nothing twice."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._done: Mapping[Path, tuple[int, int]] = {}

    def look(self, now: datetime) -> tuple[str, ...]:
        """Take in new files. Gives a line for each file that has something to say."""
        return tuple(line for folder in followed(self._book) for line in self._look_into(folder, now))

    def _look_into(self, folder: LoggerFolder, now: datetime) -> Iterator[str]:
        try:
            files = sorted(path for path in Path(folder.path).iterdir() if path.suffix.lower() in ENDINGS)
        except OSError as error:
            yield f"logger folder {folder.path}: {error.strerror or error}"
            return
        for path in files:
            line = self._take(path, folder, now)
            if line:
                yield line

    def _take(self, path: Path, folder: LoggerFolder, now: datetime) -> str | None:
        try:
            found = path.stat()
        except OSError:
            return None  # it was there a moment ago: its writer is about to put it back
        state = (found.st_size, found.st_mtime_ns)
        written = datetime.fromtimestamp(found.st_mtime, tz=now.tzinfo)
        if self._done.get(path) == state or timedelta() <= now - written < WHOLE_AFTER:
            return None
        self._done = {**self._done, path: state}
        try:
            table = read_export(path, folder.wish)
            taken = take_export(self._book, folder.job, table, path.stem, area=folder.area, slab=folder.slab, now=now)
        except CannotTellError as error:
            return first_line(error)
        held = f"; {len(taken.held_back)} held back, the first: {taken.held_back[0].why}" if taken.held_back else ""
        return f"{path.name}: {len(taken.new)} readings taken{held}" if taken.new or held else None
