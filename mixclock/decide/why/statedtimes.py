"""How sure a stated time is: tapped as it happened, written later, or tapped in a row with others when all was over."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import timedelta

from mixclock.decide.why.layers import LayerPiece
from mixclock.job.progress import StatedFact

TAPPED_SIGMA_S = 180.0 / math.sqrt(12.0)
"""A tapped step lies 0 to 3 minutes before its tap, each as likely as the other: 52 s."""

WRITTEN_SIGMA_S = 300.0
"""A time that was written later, however late: 5 minutes, since written times are rounded to 5, 15 or 30 minutes
(J Transp Stat 5(1), 2002; doi 10.1177/0361198120935435)."""

TAPPED_WITHIN = timedelta(minutes=2)
"""If a fact was written within this after it happened, it counts as tapped; else somebody gave its time (judgement)."""

IN_A_ROW = timedelta(seconds=90)
"""If two steps of one bucket are tapped within this span, they were not both done just then: nobody rolls a floor so
fast (judgement)."""


def was_tapped(stated: StatedFact) -> bool:
    """Whether a step was stated as it happened, without a time of its own."""
    return stated.written - stated.at < TAPPED_WITHIN


def sigma_s(stated: StatedFact) -> float:
    """The doubt of a stated time."""
    return TAPPED_SIGMA_S if was_tapped(stated) else WRITTEN_SIGMA_S


def span_sigma_s(start: StatedFact | None, end: StatedFact) -> float:
    """The doubt of the span between two stated times. A start that follows from another statement adds none.

    >>> from datetime import UTC, datetime
    >>> noon = datetime(2026, 4, 13, 12, tzinfo=UTC)
    >>> tap, note = StatedFact(noon, None, 1, noon), StatedFact(noon, None, 2, noon + timedelta(hours=6))
    >>> round(span_sigma_s(tap, tap)), round(span_sigma_s(tap, note))
    (73, 304)
    """
    return math.hypot(sigma_s(start) if start is not None else 0.0, sigma_s(end))


def is_doubtful(piece: LayerPiece, stated: StatedFact) -> bool:
    """Whether a step was tapped in a row with another of the same bucket. It was then stated late, and its time is
    unknown."""
    if not was_tapped(stated):
        return False
    return any(
        other.entry != stated.entry and was_tapped(other) and abs(other.at - stated.at) <= IN_A_ROW
        for other in _steps(piece)
    )


def _steps(piece: LayerPiece) -> Iterator[StatedFact]:
    for portion in piece.batch.portions:
        if portion.assumed is None:
            yield portion.poured
        yield from portion.steps.values()
