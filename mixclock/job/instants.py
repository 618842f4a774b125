"""Instants as they stand in JSON and in the book: ISO 8601 in UTC with `Z`."""

from __future__ import annotations

from datetime import UTC, datetime


def utc_text(instant: datetime) -> str:
    """An instant as ISO 8601 in UTC; microseconds only where there are any.

    >>> utc_text(datetime(2026, 4, 13, 8, 42, 10, tzinfo=UTC))
    '2026-04-13T08:42:10Z'
    """
    return f"{instant.astimezone(UTC).replace(tzinfo=None).isoformat()}Z"


def json_text(instant: datetime) -> str:
    """An instant to the millisecond, cut off and not rounded: a deadline is never told later than it is.

    >>> json_text(datetime(2026, 4, 13, 8, 42, 10, 999_999, tzinfo=UTC))
    '2026-04-13T08:42:10.999Z'
    """
    naive = instant.astimezone(UTC).replace(tzinfo=None)
    return f"{naive.isoformat(timespec='milliseconds' if naive.microsecond else 'seconds')}Z"


def utc_from(text: str) -> datetime:
    """The instant that `utc_text` wrote, or any ISO 8601 text that carries its zone.

    >>> utc_from("2026-04-13T09:42:10+01:00")
    datetime.datetime(2026, 4, 13, 8, 42, 10, tzinfo=datetime.timezone.utc)
    """
    instant = datetime.fromisoformat(text)
    if instant.tzinfo is None:
        raise ValueError(f"'{text}' says no zone; write it with Z or an offset")
    return instant.astimezone(UTC)
