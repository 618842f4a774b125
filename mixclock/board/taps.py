"""Takes statements from phones: checks them before anything believes them, dates them, states each once."""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from mixclock.board.house import Along, BoardHouse, FirstWord, RefusedError, TapAnswer
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import VERBS, Statement
from mixclock.job.statements.fields import SHARE, TEXT
from mixclock.outside.bookerrors import BookError
from mixclock.values import dataclass

_KEY = re.compile(r"[0-9a-zA-Z_-]{8,64}")
_OLDEST = timedelta(days=7)
_DOUBLED = timedelta(seconds=10)
_KEYS_KEPT = 200
_LEDGER, _LATELY = "board.taps", "board.taps.new"
"""The taps with their answers, and those since these were last kept: only the few go with each statement."""

_VERBS: Mapping[str, type[Statement]] = {verb: kind for verb, kind in VERBS.items() if kind.from_a_phone}


@dataclass(frozen=True)
class When:
    """When something was touched, told twice: by the phone's idea of this clock, and as an age by its own clock."""

    at: datetime | None
    ago_s: float

    def before(self, now: datetime) -> datetime:
        """The instant, by this machine's clock.

        The phone's idea of this clock is believed unless it lies in the future. It may be a little off, but nobody
        states a thing before it happens.
        """
        if self.at is not None and now - _OLDEST <= self.at <= now:
            return self.at
        return now - timedelta(seconds=self.ago_s)


def read_when(body: Mapping[str, Any]) -> When:
    """Read when it was, from what a phone sent. Raises `RefusedError`."""
    ago_s = body.get("ago_s", 0.0)
    if not SHARE.fits(ago_s) or not 0 <= ago_s <= _OLDEST.total_seconds():
        too_far = "a tap cannot be from the future or older than 7 days"
        raise RefusedError(f"{too_far}: set the phone's clock, or state it on the laptop")
    return When(_instant(body.get("at")), ago_s)


@dataclass(frozen=True)
class Tap:
    """One tap: what it states, how long ago by the phone's own count, and the key that makes it count once."""

    key: str
    statement: Statement
    at: datetime | None
    ago_s: float
    by: str | None = None
    job: str | None = None
    """The job that the page showed when it was tapped."""


def read_tap(body: Any) -> Tap:
    """Read a tap from what a phone sent. Raises `RefusedError`."""
    if not isinstance(body, dict):
        raise RefusedError("a tap must be a JSON object")
    key = body.get("key")
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        raise RefusedError("a tap needs a key of 8 to 64 letters, digits, - or _")
    when, by = read_when(body), body.get("by")
    if by is not None and not TEXT.fits(by):
        raise RefusedError("'by' must be a name")
    job = body.get("job")
    if job is not None and not TEXT.fits(job):
        raise RefusedError("'job' must be a name")
    return Tap(key, read_statement(body.get("statement")), when.at, when.ago_s, by, job)


def read_statement(told: Any) -> Statement:
    """Read a statement that the board may make. Anything unknown in it is refused, never passed on."""
    kind = _VERBS.get(str(told.get("verb"))) if isinstance(told, dict) else None
    if kind is None:
        raise RefusedError(f"a statement needs a verb, one of {', '.join(_VERBS)}")
    try:
        return kind.told({name: value for name, value in told.items() if name != "verb"})
    except CannotTellError as refused:
        raise RefusedError(str(refused)) from refused


def happened_at(tap: Tap, now: datetime) -> datetime:
    """When a tap happened, by this machine's clock."""
    return When(tap.at, tap.ago_s).before(now)


class Ledger:
    """The taps that were stated already. A tap that is sent twice, even across a crash, is stated once.

    The book keeps each tap with its statement: both or neither. It keeps the answer, by `keep_answers`, only once the
    other phones have seen the statement: they wait for each write. If the answer was lost, the entry is found by its
    instant.
    """

    def __init__(self, house: BoardHouse) -> None:
        self._house = house
        kept, new = (json.loads(house.setting(name) or "{}") for name in (_LEDGER, _LATELY))
        self._new: dict[str, dict[str, Any]] = {key: tap for key, tap in new.items() if key not in kept}
        self._taps: dict[str, dict[str, Any]] = {**kept, **self._new}
        self.is_ahead = bool(self._new)
        self._lately: list[tuple[datetime, str | None, Statement, TapAnswer]] = []

    def state(
        self,
        tap: Tap,
        by: str | None,
        now: datetime,
        device: str = "",
        heard: Callable[[FirstWord], None] | None = None,
    ) -> tuple[TapAnswer, bool]:
        """State a device's tap. The second value tells whether it had been stated before. `heard` is told of it the
        moment it is in the book.
        """
        key, house = f"{device}:{tap.key}", self._house.of_job(tap.job)
        if (known := self._known(key, by, house)) is not None:
            return known, True
        at = self._intended(key) or happened_at(tap, now)
        if (doubled := self._doubled(tap, at)) is not None:
            return doubled, True
        self._note(key, {"at": at.isoformat()})
        try:
            answer = house.state(tap.statement, at, by, Along({_LATELY: json.dumps(self._new)}, heard))
        except RefusedError:
            self._taps.pop(key, None)
            self._new.pop(key, None)
            raise
        self.is_ahead = True
        self._taps[key] = {"at": at.isoformat(), "entry": answer.entry, "said": answer.said, "batch": answer.batch}
        self._lately = [*self._lately[-50:], (at, tap.job, tap.statement, answer)]
        return answer, False

    def keep_answers(self) -> None:
        """Write the answers into the book. `is_ahead` tells whether any is not there yet."""
        if self.is_ahead:
            self._put()

    def forget_doubles_of(self, entry: int) -> None:
        """Let a withdrawn statement be made again at once."""
        self._lately = [each for each in self._lately if each[3].entry != entry]

    def _known(self, key: str, by: str | None, house: BoardHouse) -> TapAnswer | None:
        kept = self._taps.get(key)
        if kept is None:
            return None
        if "entry" in kept:
            return TapAnswer(kept["entry"], kept["said"], kept["batch"])
        return house.stated_at(datetime.fromisoformat(kept["at"]), by)

    def _intended(self, key: str) -> datetime | None:
        kept = self._taps.get(key)
        return datetime.fromisoformat(kept["at"]) if kept else None

    def _doubled(self, tap: Tap, at: datetime) -> TapAnswer | None:
        """The answer to the same statement of this batch, if it came seconds ago."""
        said = tap.job, tap.statement
        same = [answer for then, *what, answer in self._lately if tuple(what) == said and abs(at - then) < _DOUBLED]
        return same[0] if same and tap.statement.once else None

    def _note(self, key: str, what: dict[str, Any]) -> None:
        self._taps.pop(key, None)
        self._taps[key] = self._new[key] = what
        for old in list(self._taps)[: max(0, len(self._taps) - _KEYS_KEPT)]:
            del self._taps[old]
            self._new.pop(old, None)

    def _put(self) -> None:
        self.is_ahead = False
        with contextlib.suppress(BookError):  # a full disk must not refuse the statement itself
            self._house.put_setting(_LEDGER, json.dumps(self._taps))
            self._new = {}


def _instant(text: Any) -> datetime | None:
    if text is None:
        return None
    if not isinstance(text, str) or len(text) > 40:
        raise RefusedError("'at' must be an instant such as 2026-04-13T10:42:00Z")
    try:
        instant = datetime.fromisoformat(text)
        if instant.tzinfo is None:
            raise RefusedError("'at' must say its zone, such as 2026-04-13T10:42:00Z")
        return instant.astimezone(UTC)
    except (ValueError, OverflowError) as error:
        if isinstance(error, RefusedError):
            raise
        raise RefusedError("'at' must be an instant such as 2026-04-13T10:42:00Z") from None
