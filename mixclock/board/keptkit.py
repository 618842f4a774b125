"""The answer about the next kit, kept while a newer one is owed: what was stated is shown before it is worked out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from mixclock.board.house import ComingBatch
from mixclock.values import dataclass

Json = Mapping[str, Any]

OWED_AT_MOST_S = 2.0
"""So long the question waits while one statement chases the other."""


@dataclass
class KeptKit:
    """The latest answer, with the job and the batch that it was about."""

    _told: Json | None = None
    _job: str | None = None
    _about: ComingBatch | None = None
    _owed_since_s: float | None = None

    def is_asked(self, changed: bool, now_s: float) -> bool:
        """Whether it is asked in this turn: not right after a statement, unless it has waited long enough.

        >>> kept = KeptKit()
        >>> [kept.is_asked(changed, at) for changed, at in ((True, 0.0), (True, 1.0), (True, 2.0), (True, 2.2))]
        [False, False, True, False]
        >>> kept.is_asked(False, 2.4)
        True
        """
        if not changed or (self._owed_since_s is not None and now_s - self._owed_since_s >= OWED_AT_MOST_S):
            self._owed_since_s = None
            return True
        self._owed_since_s = self._owed_since_s if self._owed_since_s is not None else now_s
        return False

    @property
    def is_owed(self) -> bool:
        """Whether something was stated since it was asked."""
        return self._owed_since_s is not None

    def of(self, job: str | None, planned: Sequence[ComingBatch], ask: Callable[[], Json | None] | None) -> Json | None:
        """The answer, asked anew where it may be; of another job, or a yes to another batch, it is none any more."""
        about = planned[0] if planned else None
        if ask is not None:
            fresh = ask()
            told = self._told if _without_time(fresh) == _without_time(self._told) else fresh
            self._told, self._job, self._about = told, job, about
        is_yes = self._told is not None and self._told["answer"] == "yes"
        return None if job != self._job or (is_yes and about != self._about) else self._told


def _without_time(told: Json | None) -> Json | None:
    """An answer without when it was asked: the same a second later is no news to a page that counts by itself."""
    return told if told is None else {name: value for name, value in told.items() if name not in ("at", "wait_s")}
