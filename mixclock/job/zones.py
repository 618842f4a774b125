"""The zone in which a crew's clocks, or a logger's, run."""

from __future__ import annotations

import zoneinfo

from mixclock.job.mistakes import Mistake, Mistakes, near, quoted


def zone_named(name: str) -> zoneinfo.ZoneInfo:
    """The zone of that name; `Mistakes` with one line where there is none.

    >>> zone_named("Europe/Lisbn")
    Traceback (most recent call last):
    mixclock.job.mistakes.Mistakes: at 'zone': 'Europe/Lisbn' is no time zone; did you mean 'Europe/Lisbon'?
    """
    try:
        return zoneinfo.ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        is_offset = any(letter.isdigit() for letter in name)  # "UTC" in place of "UTC+2" would be two hours off
        close = None if is_offset else near(name, zoneinfo.available_timezones())
        mend = f"did you mean '{close}'?" if close else "expected a name such as Europe/Lisbon or America/Chicago"
        raise Mistakes([Mistake("zone", f"{quoted(name)} is no time zone", mend)]) from None
