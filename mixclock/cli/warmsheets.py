"""Sheets and job files that every fork of the warm process would read anew: the watch tells them, it reads them once.

What is kept is what pure functions give for a text. A fork still reads the book itself, and takes from here only what
it would have made of the same text. Texts travel one a line over the helper's stdin.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from mixclock.decide.edges import edge_of
from mixclock.decide.weather import steady
from mixclock.job.batchbuilding import cached_profile
from mixclock.job.entry import Entry, JobMended, JobStarted, ProfileUsed
from mixclock.job.folding import cached_site

if TYPE_CHECKING:
    from mixclock.outside.followedjob import FollowedJob

_ANY_TIME = datetime(2000, 1, 1, tzinfo=UTC)
_A_MILD_SLAB_C = 20.0
SHEET, JOB_FILE = "sheet", "job file"


def lines_of(entries: Iterable[Entry]) -> Iterator[bytes]:
    """A line for each sheet and job file that a log holds."""
    for entry in entries:
        facts = entry.facts
        if isinstance(facts, ProfileUsed):
            yield _line(SHEET, facts.text)
        elif isinstance(facts, JobStarted | JobMended):
            yield _line(JOB_FILE, facts.text)


def _line(kind: str, text: str) -> bytes:
    return json.dumps([kind, text]).encode() + b"\n"


class TextTeller:
    """The watch's end: it sends each text once. A helper that does not take a whole line at once gets nothing more."""

    def __init__(self, number: int) -> None:
        """`number` of the file to write."""
        os.set_blocking(number, False)
        self._number = number
        self._told: set[bytes] = set()
        self._up_to: dict[str, int] = {}
        self._is_taken = True

    def tell(self, jobs: Iterable[FollowedJob]) -> None:
        """Send the sheets and job files that are new in these jobs."""
        for followed in jobs:
            if followed.standing is None or self._up_to.get(followed.job) == followed.last_number:
                continue
            self._up_to[followed.job] = followed.last_number
            for line in lines_of(followed.standing.entries):
                if self._is_taken and line not in self._told:
                    self._told.add(line)
                    self._is_taken = self._took(line)

    def _took(self, line: bytes) -> bool:
        try:
            return os.write(self._number, line) == len(line)
        except OSError:
            return False


class TextReader:
    """The helper's end: it reads lines as they come. The command that uses a text reports what is wrong with it."""

    def __init__(self, number: int, came: bytes = b"") -> None:
        """`number` of the file to read, which the watch closes at its end; `came` is what was read of it already."""
        self._number, self._rest = number, b""
        self._take(came)

    def read(self) -> bool:
        """Take what came; False where the watch is gone."""
        came = os.read(self._number, 1 << 16)
        self._take(came)
        return bool(came)

    def _take(self, came: bytes) -> None:
        *lines, self._rest = (self._rest + came).split(b"\n")
        for line in lines:
            with contextlib.suppress(ValueError):
                read_ahead(*json.loads(line))


def read_ahead(kind: str, text: str) -> None:
    """Read a text, and of a sheet the clocks of its windows."""
    if kind == JOB_FILE:
        cached_site(text)
        return
    profile = cached_profile(text)
    for rule in profile.windows:
        for span, closing in ((rule.opens, False), (rule.closes, True)):
            if span is not None:
                edge_of(rule.name, span, profile, steady(_A_MILD_SLAB_C), _ANY_TIME, closing=closing)
