"""What the plan asks of the product clocks: how long a window lasts if its clock starts at a given hour."""

from __future__ import annotations

from datetime import datetime
from typing import Protocol

from mixclock.values import dataclass

NEVER_S = 10**9
"""Stands in for a deadline if there is none."""


@dataclass(frozen=True)
class Span:
    """Seconds from a window's start to one of its edges; `late_s` is None where no band may be claimed."""

    early_s: float
    likely_s: float
    late_s: float | None = None

    @property
    def safe_open_s(self) -> float:
        """From when an opening edge may be relied on."""
        return self.likely_s if self.late_s is None else self.late_s


def is_sure_span(opens: Span | None, closes: Span | None) -> bool:
    """Whether a window of these two edges, counted from one start, opens before it shuts, its doubt and all.

    >>> is_sure_span(Span(3.0, 4.0, 5.0), Span(6.0, 8.0)), is_sure_span(Span(3.0, 4.0, 7.0), Span(6.0, 8.0))
    (True, False)
    """
    return opens is None or closes is None or opens.safe_open_s <= closes.early_s


@dataclass(frozen=True)
class Bucketful:
    """The bucket that a film came from: how much was mixed and how long it stood before it was out."""

    mass_kg: float
    volume_l: float
    stood_s: float = 0.0


class Timing(Protocol):
    """The clocks of the products on this site in the expected weather."""

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """How long until a window shuts whose clock starts then; None where the sheet has no such edge."""

    def opens(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """How long until a window opens whose clock starts then; None where the sheet has no such edge."""
