"""Keeps the last answer about the next kit until a newer one is ready. New statements are shown first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any

from mixclock.board.house import ComingBatch
from mixclock.values import dataclass

Json = Mapping[str, Any]

OWED_AT_MOST_S = 2.0
"""How long the question waits while one statement follows hard on another."""


ASKED_IDLE_S = 60.0
"""How often it is asked again on a floor where nothing runs. A touch asks at once."""

PAGE_COUNTS = ("at", "wait_s")
MOVES_ALONG = ("said", "spoken", "because", "beside", "mix_at", "pour_by", "edge_by", "pace")
"""The parts of a yes that move with the minute of asking: an older answer names older times."""


@dataclass
class KeptKit:
    """The latest answer, with the job and the batch that it was about."""

    _told: Json | None = None
    _job: str | None = None
    _about: ComingBatch | None = None
    _owed_since_s: float | None = None
    _asked_s: float | None = None

    def is_asked(self, changed: bool, now_s: float, every_s: float = 0.0) -> bool:
        """Whether to ask in this turn. Right after a statement it waits a little, and while nobody states anything
        it is asked no sooner than needed.

        >>> kept = KeptKit()
        >>> [kept.is_asked(changed, at) for changed, at in ((True, 0.0), (True, 1.0), (True, 2.0), (True, 2.2))]
        [False, False, True, False]
        >>> kept.is_asked(False, 2.4), kept.is_asked(False, 62.3, 60.0), kept.is_asked(False, 62.4, 60.0)
        (True, False, True)
        """
        rests = self._owed_since_s is None and self._asked_s is not None and now_s - self._asked_s < every_s
        if not changed and rests:
            return False
        if not changed or (self._owed_since_s is not None and now_s - self._owed_since_s >= OWED_AT_MOST_S):
            self._owed_since_s, self._asked_s = None, now_s
            return True
        self._owed_since_s = self._owed_since_s if self._owed_since_s is not None else now_s
        return False

    @property
    def is_owed(self) -> bool:
        """Whether somebody stated something since it was asked."""
        return self._owed_since_s is not None

    def of(self, job: str | None, planned: Sequence[ComingBatch], ask: Callable[[], Json | None] | None) -> Json | None:
        """The answer, asked anew if it may be. One of another job, or a yes to another batch, no longer counts.

        The same yes a minute later is no news. Only when its hour for part B has come does it name the next.
        """
        about = planned[0] if planned else None
        if ask is not None:
            fresh = ask()
            told = self._told if _is_no_news(self._told, fresh) else fresh
            self._told, self._job, self._about = told, job, about
        is_yes = self._told is not None and self._told["answer"] == "yes"
        return None if job != self._job or (is_yes and about != self._about) else self._told


def _is_no_news(told: Json | None, fresh: Json | None) -> bool:
    """Whether the page shows all of an answer already, because it counts down by itself."""
    if told is None or fresh is None:
        return told is fresh
    if _without(PAGE_COUNTS, told) == _without(PAGE_COUNTS, fresh):
        return True
    if told["answer"] != "yes" or _without((*PAGE_COUNTS, *MOVES_ALONG), told) != _without(
        (*PAGE_COUNTS, *MOVES_ALONG), fresh
    ):
        return False
    return told["mix_at"] is not None and datetime.fromisoformat(fresh["at"]) < datetime.fromisoformat(told["mix_at"])


def _without(names: Sequence[str], told: Json) -> Json:
    return {name: value for name, value in told.items() if name not in names}
