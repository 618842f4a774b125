"""The times in a logger's export: which layout, which zone, which order of day and month.

A layout is taken only if every row fits it and the times then run forward. If two layouts both fit, the reader asks.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from enum import StrEnum
from itertools import pairwise
from zoneinfo import ZoneInfo

from mixclock.job.mistakes import Mistake, Mistakes, quoted


class TimeOrder(StrEnum):
    """What stands first in a date such as 04/05/26."""

    DAY = "day"
    MONTH = "month"


_YEAR_FIRST = ("%Y-%m-%d", "%Y/%m/%d", "%Y.%m.%d")
_DAY_FIRST = ("%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%d/%m/%y", "%d.%m.%y", "%d-%m-%y")
_MONTH_FIRST = ("%m/%d/%Y", "%m.%d.%Y", "%m-%d-%Y", "%m/%d/%y", "%m.%d.%y", "%m-%d-%y")
_CLOCKS = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p")
_OFFSET = re.compile(r"(?:GMT|UTC)\s*(?P<sign>[+\u2212-])\s*(?P<hours>\d{1,2}):?(?P<minutes>\d{2})?", re.IGNORECASE)
_UTC = re.compile(r"\b(?:UTC|GMT)\b", re.IGNORECASE)
_HALF_DAY = re.compile(r"(?<=\d)\s*([ap])\.?\s*m\.?$", re.IGNORECASE)
_FEWEST_FITTING = 0.9


def zone_in(heading: str) -> tzinfo | None:
    """The zone that a heading names, or None.

    >>> str(zone_in("Date Time, GMT-07:00")), zone_in("Timestamp")
    ('UTC-07:00', None)
    """
    found = _OFFSET.search(heading)
    if found:
        span = timedelta(hours=int(found["hours"]), minutes=int(found["minutes"] or 0))
        return timezone(span if found["sign"] == "+" else -span)
    return UTC if _UTC.search(heading) else None


def instants(
    texts: Sequence[str], headed: tzinfo | None, zone: str | None, order: TimeOrder | None
) -> list[datetime | None]:
    """Each text as an instant, None if it is no time. Raises `Mistakes` if a person must say the zone or the
    order."""
    if not texts:
        return []
    clean = [_cleaned(text) for text in texts]
    iso = [_iso(text) for text in clean]
    if all(at is not None and at.tzinfo is not None for at in iso):
        return [at.astimezone(UTC) if at is not None else None for at in iso]
    local = _local(clean, order)
    if headed is None and zone is None:
        mend = "say --zone with the zone that the logger's clock was set to, such as Europe/Lisbon or UTC"
        raise Mistakes([Mistake("", "its times name no zone", mend)])
    return _placed(local, headed if headed is not None else ZoneInfo(str(zone)))


def _placed(local: Sequence[datetime | None], place: tzinfo) -> list[datetime | None]:
    """Times on the wall as instants. When a clock was put back, an hour that comes again is the later run."""
    placed: list[datetime | None] = []
    last: datetime | None = None
    for at in local:
        if at is None:
            placed.append(None)
            continue
        utc = at.replace(tzinfo=place).astimezone(UTC)
        again = at.replace(tzinfo=place, fold=1).astimezone(UTC)
        if last is not None and utc <= last < again:
            utc = again
        placed.append(utc)
        last = utc
    return placed


def _local(texts: Sequence[str], order: TimeOrder | None) -> list[datetime | None]:
    """The times in the one layout that explains them."""
    fitting = {layout: read for layout in _layouts(order) if _fits(read := [_read(text, layout) for text in texts])}
    if not fitting:
        raise Mistakes(
            [Mistake("", f"{quoted(texts[0])} is no time that is known here", "export it as 2026-04-13 08:00")]
        )
    forward = {layout: read for layout, read in fitting.items() if _runs_forward(read)} or fitting
    different = {tuple(read) for read in forward.values()}
    if len(different) > 1:
        mend = "say --order day or --order month, whichever stands first"
        raise Mistakes([Mistake("", f"{quoted(texts[0])} may be two dates", mend)])
    return list(next(iter(forward.values())))


def _layouts(order: TimeOrder | None) -> list[str]:
    dates = {TimeOrder.DAY: _DAY_FIRST, TimeOrder.MONTH: _MONTH_FIRST, None: (*_DAY_FIRST, *_MONTH_FIRST)}[order]
    return [f"{date}{between}{clock}" for date in (*_YEAR_FIRST, *dates) for clock in _CLOCKS for between in " T"]


def _fits(read: Sequence[datetime | None]) -> bool:
    return sum(at is not None for at in read) >= max(1, round(_FEWEST_FITTING * len(read)))


def _runs_forward(read: Sequence[datetime | None]) -> bool:
    """Whether the times never go back by more than the hour that a clock is put back."""
    known = [at for at in read if at is not None]
    back = timedelta(minutes=61)
    steady = all(later >= earlier - back for earlier, later in pairwise(known))
    return steady and known[-1] - known[0] < timedelta(days=366 * 2)


def _read(text: str, layout: str) -> datetime | None:
    try:
        return datetime.strptime(text, layout)  # noqa: DTZ007 - its zone is told apart
    except ValueError:
        return None


def _iso(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _cleaned(text: str) -> str:
    """One space between date and clock, AM and PM in capitals, no fractions of a second."""
    plain = " ".join(text.replace(",", " ").split())
    plain = _HALF_DAY.sub(lambda found: f" {found[1].upper()}M", plain)
    return re.sub(r"(:\d{2}:\d{2})\.\d+", r"\1", plain)
