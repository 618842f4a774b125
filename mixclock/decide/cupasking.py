"""When somebody must read the warmth of a running test cup: often enough to see it turn, and no oftener.

A cup tells most shortly before its end, and nobody knows when that is. So it is asked at even steps: an eighth of the
shortest pot life that its sheet states, held between two and ten minutes (judgement).
"""

from __future__ import annotations

from datetime import datetime, timedelta

from mixclock.job.cups import Cup
from mixclock.job.profile import Profile

ASKS = 8
EVERY = (timedelta(minutes=2), timedelta(minutes=10))
UNKNOWN_SHEET = timedelta(minutes=5)
END_ASKED_FROM = 0.6
"""From this share of the sheet's shortest pot life on, the crew is also asked whether the cup draws strings
(judgement)."""


def asked_every(profile: Profile | None) -> timedelta:
    """How often a cup of this product is asked."""
    shortest = _shortest(profile)
    if shortest is None:
        return UNKNOWN_SHEET
    return min(max(shortest / ASKS, EVERY[0]), EVERY[1])


def asked_next(cup: Cup, profile: Profile | None, asked: datetime | None, now: datetime) -> datetime | None:
    """When a cup is asked next: a step after it was begun, read or last asked; None once it has ended.

    >>> from datetime import UTC
    >>> began = datetime(2026, 4, 12, 18, 0, tzinfo=UTC)
    >>> cup = Cup("Shed base", "7A", 0.15, began, 21.0, 20.0, read=((240.0, 23.0),))
    >>> f"{asked_next(cup, None, None, began + timedelta(minutes=6)):%H:%M}"
    '18:09'
    >>> asked_next(cup.but(end="gel", end_s=2400.0), None, None, began + timedelta(minutes=41)) is None
    True
    """
    if not cup.runs(now):
        return None
    read = cup.began + timedelta(seconds=cup.read[-1][0] if cup.read else 0.0)
    return max(read, asked or cup.began) + asked_every(profile)


def end_is_asked(cup: Cup, profile: Profile | None, now: datetime) -> bool:
    """Whether it may draw strings by now."""
    shortest = _shortest(profile)
    return shortest is not None and now >= cup.began + END_ASKED_FROM * shortest


def _shortest(profile: Profile | None) -> timedelta | None:
    if profile is None or profile.pot_life is None:
        return None
    return timedelta(seconds=min(point.span_s for point in profile.pot_life.span.points))
