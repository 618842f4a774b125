"""One entry as the book stores it, and the hash that chains it to the entry before."""

from __future__ import annotations

import json
from collections.abc import Iterable
from hashlib import sha256
from typing import Any

from mixclock.job.entry import KINDS, Entry
from mixclock.job.instants import utc_from, utc_text
from mixclock.job.wherewritten import Origin
from mixclock.values import dataclass

COLUMNS = "number, job, kind, happened, written, facts, by_whom, note, boot_id, boot_s, origin, hash"
INSERT = f"INSERT INTO entries ({COLUMNS}) VALUES ({', '.join('?' * len(COLUMNS.split(',')))})"
FIRST_HASH = "0" * 64


@dataclass(frozen=True)
class Row:
    """A row of the log. `origin` tells where an imported entry was written; of an own entry it is empty."""

    number: int
    job: str
    kind: str
    happened: str
    written: str
    facts: str
    by_whom: str | None
    note: str | None
    boot_id: str
    boot_s: float
    origin: str
    hash: str

    def values(self) -> tuple[int | str | float | None, ...]:
        """The values in the order of `COLUMNS`."""
        return tuple(vars(self).values())

    def chained_to(self, before: str) -> str:
        """SHA-256 over the hash before and this row's canonical JSON."""
        return sha256(f"{before}\n{canonical(self.values()[:-1])}".encode()).hexdigest()


def canonical(value: Any) -> str:
    """JSON in its one canonical spelling, so that its hash can be compared."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"), allow_nan=False)


def as_lines(rows: Iterable[Row]) -> str:
    """Rows as text, a line each."""
    return "".join(f"{canonical(list(row.values()))}\n" for row in rows)


def row_of(entry: Entry, before: str, origin: str = "") -> Row:
    """The row of an entry, chained to the hash of the row before it."""
    row = Row(
        number=entry.number,
        job=entry.job,
        kind=entry.facts.kind,
        happened=utc_text(entry.happened),
        written=utc_text(entry.written),
        facts=canonical(entry.facts.as_stored()),
        by_whom=entry.by,
        note=entry.note,
        boot_id=entry.boot_id,
        boot_s=float(entry.boot_s),
        origin=origin,
        hash="",
    )
    return Row(**{**vars(row), "hash": row.chained_to(before)})


def entry_of(row: Row) -> Entry:
    """The entry that a row holds."""
    if row.kind not in KINDS:
        raise ValueError(f"an entry of kind '{row.kind}' is unknown here; the book was written by a newer mixclock")
    return Entry(
        number=row.number,
        job=row.job,
        happened=utc_from(row.happened),
        written=utc_from(row.written),
        facts=KINDS[row.kind].of_stored(json.loads(row.facts)),
        by=row.by_whom,
        note=row.note,
        boot_id=row.boot_id,
        boot_s=row.boot_s,
        origin=origin_in(row.origin),
        mark=mark_in(row.origin) if row.origin else row.hash,
    )


def mark_in(origin: str) -> str:
    """The hash that an imported entry had where it was written."""
    return str(json.loads(origin)["mark"]) if origin.startswith("{") else origin


def is_own(origin: str) -> bool:
    """Whether this book wrote the entry, also if a repair of the book chained it anew."""
    return not origin or (origin.startswith('{"mark":') and origin.endswith('"own":true}'))


def own_again(mark: str) -> str:
    """The origin of an own entry that a repair chained anew: its first hash, by which other books know it."""
    return canonical({"mark": mark, "own": True})


FOR_READING = "for reading"
"""The book of entries from which names were taken: no book has that id."""


def is_for_reading(origin: str) -> bool:
    """Whether an entry stands in a copy that is read only, told by its origin."""
    return f'"book":"{FOR_READING}"' in origin


def reading_mark(key: str, mark: str) -> str:
    """The mark of an entry in a copy without names. With the entry's own hash anybody could prove a guessed name.

    `key` is the id of the book that began the job. It is drawn by lot, and no copy holds it.
    """
    return sha256(f"{FOR_READING}\n{key}\n{mark}".encode()).hexdigest()


def origin_in(origin: str) -> Origin | None:
    """Where an imported entry was written. If an older mixclock took it over, only the hash is known."""
    if is_own(origin):
        return None
    if not origin.startswith("{"):
        return Origin("unknown", "another book", 0, None)
    told = json.loads(origin)
    instant, count = told["stamp"]
    return Origin(told["book"], told["van"], told["number"], (utc_from(instant), count), told.get("batch"))
