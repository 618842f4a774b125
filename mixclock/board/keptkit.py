"""Keeps the last answer about the next kit until a newer one is ready. New statements are shown first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from mixclock.board.house import ComingBatch
from mixclock.values import dataclass, replace

Json = Mapping[str, Any]

SETTLES_S, OWED_AT_MOST_S = 0.5, 2.0
"""How long after a statement the question is asked again, and after how long all the same where more follow hard on
it: meanwhile each of them would stand in line behind it (judgement)."""

ASKED_IDLE_S = 60.0
"""How often it is asked again on a floor where nothing runs. A touch asks at once."""

RESTS_AT_MOST_S = 4.0
"""An answer that took long is asked again, where nobody states anything, only after nine times as long or this."""

PAGE_COUNTS = ("at", "wait_s")
MOVES_ALONG = ("said", "spoken", "because", "beside", "mix_at", "pour_by", "edge_by", "pace")
"""The parts of a yes that move with the minute of asking: an older answer names older times."""


@dataclass(frozen=True)
class Shown:
    """What the page shows of the floor that an answer is about."""

    job: str | None = None
    about: ComingBatch | None = None
    mark: object = None
    """Differs wherever something was stated or read since."""


NOTHING_SHOWN = Shown()


@dataclass
class KeptKit:
    """The latest answer, with the floor that it was about."""

    took_s: float = 0.0
    """How long the last answer took."""
    _told: Json | None = None
    _shown: Shown = NOTHING_SHOWN
    _owed_since_s: float | None = None
    _stated_s: float = 0.0
    _asked_s: float | None = None

    def is_asked(self, changed: bool, now_s: float, every_s: float = 0.0) -> bool:
        """Whether to ask in this turn. Right after a statement it waits a little, and while nobody states anything
        it is asked no sooner than needed.

        >>> kept = KeptKit()
        >>> [kept.is_asked(changed, at) for changed, at in ((True, 0.0), (True, 1.0), (True, 2.0), (True, 2.2))]
        [False, False, True, False]
        >>> [kept.is_asked(False, at) for at in (2.4, 2.7)]
        [False, True]
        >>> kept.is_asked(False, 62.6, 60.0), kept.is_asked(False, 62.7, 60.0)
        (False, True)
        """
        rests = (
            self._owed_since_s is None
            and self._asked_s is not None
            and now_s - self._asked_s < max(every_s, self._rest_s)
        )
        if not changed and rests:
            return False
        if changed:
            self.owe(now_s)
        if self._owed_since_s is None or self.is_due(now_s):
            self._owed_since_s, self._asked_s = None, now_s
            return True
        return False

    @property
    def is_owed(self) -> bool:
        """Whether somebody stated something since it was asked."""
        return self._owed_since_s is not None

    def is_due(self, now_s: float) -> bool:
        """Whether somebody stated something since it was asked, and it has waited long enough.

        >>> kept = KeptKit()
        >>> kept.owe(10.0)
        >>> [kept.is_due(at) for at in (10.0, 10.4, 10.5)]
        [False, False, True]
        """
        since_s = self._owed_since_s
        return since_s is not None and (now_s - self._stated_s >= SETTLES_S or now_s - since_s >= OWED_AT_MOST_S)

    @property
    def _rest_s(self) -> float:
        """How long the question rests while nobody states anything, from when it was asked."""
        return self.took_s + min(9.0 * self.took_s, RESTS_AT_MOST_S)

    def owe(self, now_s: float) -> None:
        """Somebody stated something while it was being worked out: it is asked again."""
        self._owed_since_s = self._owed_since_s if self._owed_since_s is not None else now_s
        self._stated_s = now_s

    def put(self, fresh: Json | None, shown: Shown) -> None:
        """Keep a new answer, and what the page showed when it was asked.

        The same yes a minute later is no news. Only when its hour for part B has come does it name the next.
        """
        same_floor = replace(shown, mark=None) == replace(self._shown, mark=None)
        self._told = self._told if same_floor and _is_no_news(self._told, fresh) else fresh
        self._shown = shown

    def told(self, shown: Shown) -> Json | None:
        """The answer, as it may stand beside what the page shows now.

        One of another job, or a yes to another batch, no longer counts. One from before the last statement is marked:
        it is being worked out again.
        """
        told, asked = self._told, self._shown
        if told is None or shown.job != asked.job or (told["answer"] == "yes" and shown.about != asked.about):
            return None
        return told if shown.mark == asked.mark else {**told, "outdated": True}


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
