"""Receipts: which phones said that they have an alert on their glass.

Nothing counts as delivered on the board without one.
"""

from __future__ import annotations

import threading
from collections import OrderedDict

_KEPT = 500


class Receipts:
    """What was shown where, by alert and stage; filled by the server's thread, awaited by the daemon's."""

    def __init__(self) -> None:
        self._shown: OrderedDict[tuple[str, str], set[str]] = OrderedDict()
        self._changed = threading.Condition()

    def put(self, alert: str, stage: str, phone: str) -> None:
        """A phone shows an alert at a stage."""
        with self._changed:
            self._shown.setdefault((alert, stage), set()).add(phone)
            while len(self._shown) > _KEPT:
                self._shown.popitem(last=False)
            self._changed.notify_all()

    def phones(self, alert: str, stage: str) -> frozenset[str]:
        """The phones that showed it."""
        with self._changed:
            return frozenset(self._shown.get((alert, stage), ()))

    def wait(self, alert: str, stage: str, span_s: float) -> frozenset[str]:
        """The phones that showed it, as soon as there is one, or none after the span."""
        with self._changed:
            self._changed.wait_for(lambda: (alert, stage) in self._shown, timeout=span_s)
            return frozenset(self._shown.get((alert, stage), ()))
