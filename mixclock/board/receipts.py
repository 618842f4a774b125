"""Receipts: which pages say that they have an alert on their glass just now.

Nothing counts as delivered on the board without one, and a page that is gone no longer counts.
"""

from __future__ import annotations

import threading
from collections.abc import Collection

Shown = tuple[str, str, str]
"""An alert, its stage, and its job: two jobs may both have a batch 1."""

ANYWHERE = ""
"""The job of what belongs to none."""


class Receipts:
    """What each page shows, by alert and stage. The server's thread fills it, the daemon's waits for it."""

    def __init__(self) -> None:
        self._pages: dict[tuple[str, str], frozenset[Shown]] = {}
        self._changed = threading.Condition()

    def put(self, phone: str, page: str, shown: Collection[Shown]) -> None:
        """Note that a phone's page shows these alerts at these stages, and no others."""
        with self._changed:
            self._pages[phone, page] = frozenset(shown)
            self._changed.notify_all()

    def gone(self, phone: str, page: str) -> None:
        """Forget a page that is closed or out of reach."""
        with self._changed:
            self._pages.pop((phone, page), None)

    def phones(self, alert: str, stage: str, job: str = ANYWHERE) -> frozenset[str]:
        """The phones that show it."""
        with self._changed:
            return self._showing(alert, stage, job)

    def wait(self, alert: str, stage: str, span_s: float, job: str = ANYWHERE) -> frozenset[str]:
        """Wait for a phone that shows it. Gives the phones that do, none after the span."""
        with self._changed:
            self._changed.wait_for(lambda: self._showing(alert, stage, job), timeout=span_s)
            return self._showing(alert, stage, job)

    def _showing(self, alert: str, stage: str, job: str) -> frozenset[str]:
        return frozenset(
            phone
            for (phone, _), shown in self._pages.items()
            if any(each[:2] == (alert, stage) and job in (ANYWHERE, each[2]) for each in shown)
        )
