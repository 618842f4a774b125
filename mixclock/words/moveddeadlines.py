"""The deadlines that a reading moved, said at once: "back-roll on bay 2 closes 6 min sooner"."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from mixclock.decide.edgemoves import WORTH_SAYING
from mixclock.decide.tracks import Track
from mixclock.job.steps import POUR_OUT, TACK_FREE, WET_EDGE
from mixclock.units import write_span
from mixclock.words.stepwords import words_of

MOVES_AT_MOST = 3
SHARE_WORTH_SAYING = 0.02
"""A move of less than a fiftieth of what is left is within what anybody reads off a clock (judgement)."""

LIVE_FOR = timedelta(days=14)
"""What was mixed longer ago has nothing left that a crew races (judgement)."""

_Place = tuple[str, str]
_Edges = Mapping[_Place, tuple[datetime | None, datetime | None]]


def moved_deadlines(before: Iterable[Track], after: Iterable[Track], now: datetime) -> tuple[str, ...]:
    """What moved between two looks at the same windows, the soonest deadline first.

    Only what is still to come is spoken of: nobody mends an edge that is past.
    """
    was, found = _edges(before), []
    for place, (opens, closes) in _edges(after).items():
        opened, closed = was.get(place, (None, None))
        parts = [
            (edge, f"{verb} {_said(edge - then)}")
            for edge, then, verb in ((opens, opened, "opens"), (closes, closed, "closes"))
            if edge is not None and then is not None and _is_worth_saying(edge, then, now)
        ]
        if parts:
            soonest = min(edge for edge, _ in parts)
            found.append((soonest, f"{_named(place)} {' and '.join(words for _, words in parts)}"))
    lines = [line for _, line in sorted(found)]
    more = len(lines) - MOVES_AT_MOST
    return (*lines[:MOVES_AT_MOST], *([f"{more} more; `mixclock now` shows all"] if more > 0 else []))


def _edges(tracks: Iterable[Track]) -> _Edges:
    """The edges that a crew goes by, by step and place: the latest opening and the earliest closing there."""
    found: dict[_Place, tuple[datetime | None, datetime | None]] = {}
    for track in tracks:
        if track.stated is not None or track.name == TACK_FREE or (track.name == WET_EDGE and not track.neighbours):
            continue
        place = (track.name, f"of batch {track.batch.id}" if track.area is None else f"on {track.area}")
        opens = track.opening.safe_open if track.opening else None
        closes = track.closing.early if track.closing else None
        known = found.get(place, (None, None))
        found[place] = (
            max(filter(None, (known[0], opens)), default=None),
            min(filter(None, (known[1], closes)), default=None),
        )
    return found


def _is_worth_saying(edge: datetime, then: datetime, now: datetime) -> bool:
    """Whether the move changes what a crew does. An edge that was past before and is past now changes nothing."""
    left = max(edge, then) - now
    return left > timedelta() and abs(edge - then) >= max(WORTH_SAYING, SHARE_WORTH_SAYING * left)


def _named(place: _Place) -> str:
    step, where = place
    called = POUR_OUT if step == POUR_OUT else words_of(step).window.removesuffix(" on it")
    return f"{called} {where}"


def _said(moved: timedelta) -> str:
    return f"{write_span(abs(moved.total_seconds()))} {'sooner' if moved < timedelta() else 'later'}"
