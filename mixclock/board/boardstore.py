"""Keeps the board's own things in the book: its phones, the doors' secret, the taps it took."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from mixclock.outside.bookdrawers import Drawers, KeptValue
from mixclock.outside.bookerrors import BookError
from mixclock.outside.clock import Clock

_TRY_AGAIN_AFTER_S = 5.0


class BoardKeepsakes:
    """Settings by name. While the book cannot be written, memory holds them until it can.

    So a phone can be paired or dropped on a full disk too, and a dropped phone does not come back with the next start.
    """

    def __init__(self, drawers: Drawers, clock: Clock, changes: Callable[[], int]) -> None:
        """`changes` counts what this thread has changed in the book."""
        self._drawers, self._clock, self._count = drawers, clock, changes
        self.changes = 0
        """How many of these changes are ours: they show on no page by themselves."""
        self._unwritten: dict[str, str] = {}
        self._tried_s = float("-inf")

    def get(self, name: str) -> str | None:
        """What is kept under a name, None where nothing is."""
        if name in self._unwritten:
            return self._unwritten[name]
        value = self._drawers.kept("phones", name)
        return value if isinstance(value, str) else None

    def put(self, name: str, value: str) -> None:
        """Keep a value, in the book if it can be written."""
        self._unwritten[name] = value
        self._tried_s = float("-inf")
        self.catch_up()

    def beside(self, values: Mapping[str, str]) -> tuple[KeptValue, ...]:
        """Values as they are kept in the transaction of a statement."""
        return tuple(KeptValue("phones", name, value) for name, value in values.items())

    def were_put(self, values: Mapping[str, str], in_book: bool) -> None:
        """Note that values went with a statement. Where that is not in the book yet, memory holds them too."""
        for name, value in values.items():
            if in_book:
                self._unwritten.pop(name, None)
            else:
                self._unwritten[name] = value

    def catch_up(self) -> None:
        """Write what could not be written yet, trying every few seconds."""
        now_s = self._clock.monotonic_s()
        if not self._unwritten or now_s - self._tried_s < _TRY_AGAIN_AFTER_S:
            return
        self._tried_s = now_s
        try:
            before = self._count()
            for name, value in tuple(self._unwritten.items()):
                self._drawers.keep("phones", name, value)
                del self._unwritten[name]
            self.changes += self._count() - before
        except BookError:
            return  # the daemon tells the crew that nothing is written
