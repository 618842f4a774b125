"""Keeps what may change, beside the log: settings, calibrations, phones, lessons and small pictures."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from hashlib import sha256
from typing import Any, Literal

from mixclock.outside.bookconnection import BookConnection
from mixclock.outside.bookerrors import said_plainly
from mixclock.outside.bookrows import canonical
from mixclock.values import dataclass

Drawer = Literal["settings", "calibrations", "phones", "lessons"]


@dataclass(frozen=True)
class Picture:
    """A small copy of a picture, kept under the hash of its original."""

    sha256: str
    media: str
    small: bytes
    small_sha256: str

    @property
    def whole(self) -> bool:
        """Whether the small copy is still what was put in."""
        return sha256(self.small).hexdigest() == self.small_sha256


@dataclass(frozen=True)
class KeptValue:
    """A JSON value under its key, to be kept in the transaction of the entries that it goes with."""

    drawer: Drawer
    key: str
    value: Any


Beside = Picture | KeptValue
"""What is written with entries, in their transaction."""


def put_beside(connection: sqlite3.Connection, beside: Iterable[Beside]) -> None:
    """Keep what goes with entries in their transaction."""
    for each in beside:
        if isinstance(each, KeptValue):
            _put(connection, each.drawer, each.key, each.value)
        else:
            _put_picture(connection, each)


def _put(connection: sqlite3.Connection, drawer: Drawer, key: str, value: Any) -> None:
    connection.execute(f"INSERT OR REPLACE INTO {drawer} (key, value) VALUES (?, ?)", (key, _sealed(key, value)))


def _put_picture(connection: sqlite3.Connection, picture: Picture) -> None:
    """Keep a small copy. One that is there and whole stays."""
    asked = "SELECT small, small_sha256 FROM pictures WHERE sha256 = ?"
    found = connection.execute(asked, (picture.sha256,)).fetchone()
    if found is not None and isinstance(found[0], bytes) and sha256(found[0]).hexdigest() == found[1]:
        return
    connection.execute(
        "INSERT OR REPLACE INTO pictures (sha256, media, small, small_sha256) VALUES (?, ?, ?, ?)",
        (picture.sha256, picture.media, picture.small, picture.small_sha256),
    )


_WORKED_OUT: Drawer = "calibrations"
"""The drawer of what can be worked out again in some milliseconds."""


def _seal(key: str, text: str) -> str:
    return sha256(f"{key}\n{text}".encode()).hexdigest()[:32]


def _sealed(key: str, value: Any) -> str:
    return canonical({"seal": _seal(key, canonical(value)), "value": value})


def _unsealed(drawer: Drawer, key: str, text: str) -> Any:
    """The value as it was put in. Raises `ValueError` or `TypeError` where it was altered. An older mixclock put no
    seal on it: such a value is believed only if it cannot be worked out again.
    """
    kept = json.loads(text)
    if not isinstance(kept, dict) or not {"seal", "value"} & kept.keys():
        if drawer == _WORKED_OUT:
            raise ValueError("without a seal")
        return kept
    if kept.keys() != {"seal", "value"} or kept["seal"] != _seal(key, canonical(kept["value"])):
        raise ValueError("not what was put in")
    return kept["value"]


class Drawers:
    """Values by key, in drawers that do not depend on each other."""

    def __init__(self, connection: BookConnection) -> None:
        self._connection = connection
        self.damaged: frozenset[str] = frozenset()
        """Altered values that somebody asked for, by drawer and key; not calibrations, which are worked out again."""

    def keep(self, drawer: Drawer, key: str, value: Any) -> None:
        """Put a JSON value into a drawer, in place of the one before."""
        with said_plainly(self._connection.path), self._connection.writing() as connection:
            _put(connection, drawer, key, value)
        self.damaged -= {f"{drawer}: {key}"}

    def keep_all(self, drawer: Drawer, values: Mapping[str, Any], at_most: int | None = None) -> None:
        """Put several values into a drawer at once. With `at_most`, only the latest of all its values stay."""
        rows = [(key, _sealed(key, value)) for key, value in values.items()]
        forget = f"DELETE FROM {drawer} WHERE rowid NOT IN (SELECT rowid FROM {drawer} ORDER BY rowid DESC LIMIT ?)"
        with said_plainly(self._connection.path), self._connection.writing() as connection:
            connection.executemany(f"INSERT OR REPLACE INTO {drawer} (key, value) VALUES (?, ?)", rows)
            if at_most is not None:
                connection.execute(forget, (at_most,))

    def kept(self, drawer: Drawer, key: str) -> Any:
        """The value kept under a key; None where there is none, or where it was altered.

        A flipped bit in the kept answer for a bucket must move no deadline.
        """
        with said_plainly(self._connection.path):
            asked = f"SELECT value FROM {drawer} WHERE key = ?"
            found = self._connection.own().execute(asked, (key,)).fetchone()
        if not found:
            return None
        try:
            return _unsealed(drawer, key, found[0])
        except (ValueError, TypeError):
            if drawer != _WORKED_OUT:
                self.damaged |= {f"{drawer}: {key}"}
            return None

    def drop(self, drawer: Drawer, key: str) -> None:
        """Forget what is kept under a key."""
        with said_plainly(self._connection.path), self._connection.writing() as connection:
            connection.execute(f"DELETE FROM {drawer} WHERE key = ?", (key,))
        self.damaged -= {f"{drawer}: {key}"}

    def picture(self, original_sha256: str) -> Picture | None:
        """The small copy of a picture, None where none is kept."""
        asked = "SELECT media, small, small_sha256 FROM pictures WHERE sha256 = ?"
        with said_plainly(self._connection.path):
            found = self._connection.own().execute(asked, (original_sha256,)).fetchone()
        if found is None:
            return None
        media, small, small_hash = found
        return Picture(original_sha256, media, small if isinstance(small, bytes) else b"", small_hash)

    def pictures(self) -> Iterator[Picture]:
        """All small copies, one after the other: those of years would fill a small laptop's memory."""
        with said_plainly(self._connection.path):
            originals = self._connection.own().execute("SELECT sha256 FROM pictures").fetchall()
        return filter(None, (self.picture(original) for (original,) in originals))
