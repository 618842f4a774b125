"""Reads one line for each job of the book, as a list shows it. Each new entry keeps the table of lines true."""

from __future__ import annotations

import sqlite3
from collections.abc import Collection
from datetime import datetime

from mixclock.outside.bookreading import LONG_AGO, end_of_job, instant_or_long_ago
from mixclock.values import dataclass

_JOBS = (
    "SELECT job, started, finished, entries, last, own, stated, doubtful, findings, "
    "EXISTS (SELECT 1 FROM entries WHERE entries.job = joblines.job) FROM joblines"
)
FILES_OF_JOBS = (
    "SELECT l.job, json_extract(coalesce((SELECT m.facts FROM entries m WHERE m.job = l.job AND m.kind = 'job mended' "
    "AND l.finished IS NULL ORDER BY m.number DESC LIMIT 1), e.facts), '$.text') "
    "FROM joblines l JOIN entries e ON e.number = l.first"
)
_OPEN = "WHERE finished IS NULL OR doubtful"
_ENDS = (
    "SELECT number, kind, happened, facts FROM entries "
    "WHERE job = ? AND kind IN ('job finished', 'withdrawn') ORDER BY number DESC"
)

_OF_LOG = "SELECT job, min(written), max(written), count(*) FROM entries GROUP BY job ORDER BY min(number)"


@dataclass(frozen=True)
class JobLine:
    """One job of the book, as a list shows it. `own` counts the entries that this book wrote itself.

    `last` is when anything was written, `stated` when a person stated something.
    """

    name: str
    started: datetime
    finished: datetime | None
    entries: int
    last: datetime
    own: int
    stated: datetime
    findings: int = 0


def read_lines(
    connection: sqlite3.Connection, now: datetime, every: bool, besides: Collection[str] | None = None
) -> list[JobLine]:
    """The jobs, the one started last at the end: all of them, or those that may be under way.

    With `besides`, these jobs too, and whatever was stated in after its end.
    """
    lines, is_wrong, named = [], False, tuple(besides or ())
    more = f" OR stated > finished OR job IN ({', '.join('?' * len(named))})" if besides is not None else ""
    for job, started, finished, entries, last, own, stated, doubtful, findings, is_in_log in connection.execute(
        f"{_JOBS} {'' if every else _OPEN + more} ORDER BY first", named
    ).fetchall():
        if not is_in_log:
            is_wrong = True
            continue
        end = end_of_job(connection.execute(_ENDS, (job,))) if doubtful else finished
        ended = instant_or_long_ago(end) if end is not None else None
        begun, latest, said = map(instant_or_long_ago, (started, last, stated))
        said = now if said == LONG_AGO else said  # a damaged line must not hide a job
        lines.append(JobLine(job, begun, ended, entries, latest, own, said, findings))
    return [*lines, *_unlisted(connection, {line.name for line in lines})] if is_wrong else lines


def _unlisted(connection: sqlite3.Connection, listed: set[str]) -> list[JobLine]:
    """Jobs of the log that the list does not name, because damage changed a name in the list."""
    unlisted = []
    for job, first, last, count in connection.execute(_OF_LOG).fetchall():
        if job not in listed and isinstance(job, str):
            end = end_of_job(connection.execute(_ENDS, (job,)))
            begun, latest = instant_or_long_ago(first), instant_or_long_ago(last)
            ended = None if end is None else instant_or_long_ago(end)
            unlisted.append(JobLine(job, begun, ended, count, latest, count, latest))
    return unlisted
