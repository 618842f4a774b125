"""Keeps the answers for a bucket in the book, for the next command."""

from __future__ import annotations

import contextlib
from typing import Any, Final

from mixclock.outside.bookdrawers import Drawers
from mixclock.outside.bookerrors import BookError

DRAWER: Final = "calibrations"
KEPT_AT_MOST = 400


class BookMemory:
    """Answers by key. `flush` writes the new ones in one go. Losing them costs some milliseconds."""

    def __init__(self, drawers: Drawers) -> None:
        self._drawers = drawers
        self._known: dict[str, Any] = {}
        self._fresh: dict[str, Any] = {}

    def recall(self, key: str) -> Any:
        """What was kept under a key, in this process or by an earlier one."""
        if key not in self._known:
            with contextlib.suppress(BookError):
                self._known[key] = self._drawers.kept(DRAWER, key)
        return self._known.get(key)

    def keep(self, key: str, value: Any) -> None:
        """Keep a value."""
        self._known[key] = self._fresh[key] = value

    def flush(self) -> None:
        """Write the new answers. If the book cannot be written to just now, they are forgotten."""
        if self._fresh:
            with contextlib.suppress(BookError):
                self._drawers.keep_all(DRAWER, self._fresh, KEPT_AT_MOST)
            self._fresh = {}
