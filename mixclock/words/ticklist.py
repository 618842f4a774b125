"""Every trade fact that can be ticked: those that decide a cause, where it broke, and those of a claim."""

from __future__ import annotations

from mixclock.job.ticks import tick_of
from mixclock.job.tradefacts import ALL_TICKS


def tick_lines() -> list[str]:
    """The list, one fact a line."""
    return [f"{' | '.join(tick.choices)}   ({tick.ask})" for tick in ALL_TICKS]


def tick_choices() -> list[str]:
    """What may be typed, for completion: a fact that takes words of its own only begins."""
    return [said for tick in ALL_TICKS for said in (tick.choices if tick.answers else (f"{tick.fact}:",))]


def tick_rows() -> list[dict[str, object]]:
    """The facts with their answers, for a page."""
    return [{"fact": tick.fact, "ask": tick.ask, "answers": list(tick.answers)} for tick in ALL_TICKS if tick.answers]


def half_ticked(text: str) -> str | None:
    """What to say to a note that begins like a tick and is none: it is quoted, and counts for nothing.

    >>> half_ticked("heater: feul")
    'quoted, not counted: to be counted, say heater: fuel, heater: electric or heater: none'
    >>> half_ticked("heater: fuel"), half_ticked("door opened")
    (None, None)
    """
    meant = next((tick for tick in ALL_TICKS if tick.begun(text)), None)
    if meant is None or tick_of(text, ALL_TICKS) is not None:
        return None
    *first, last = meant.choices
    said = f"{', '.join(first)} or {last}" if first else last
    return f"quoted, not counted: to be counted, say {said}"
