"""Which standing alerts the crew must hear now.

Nothing is scheduled. Each tick compares what stands with what the log says was raised, answered and heard. A new stage
is raised at once; a critical one repeats; what was raised without any answer (a crash in between) is raised again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta
from functools import cache

from mixclock.decide.alerting.closing import waits_for_hours
from mixclock.decide.alerting.opening import FRESH_FOR
from mixclock.decide.alerting.sparing import CALLS_ENOUGH, calls_lately, can_wait, most_calls
from mixclock.decide.alerting.standing import urgency
from mixclock.decide.shapes import Alert, Rank, Stage
from mixclock.job.entry import Raised
from mixclock.job.progress import Raising, Standing
from mixclock.job.stepkinds import STAGE_ORDER
from mixclock.job.steps import HOT
from mixclock.values import dataclass, replace

REPEAT_EVERY = timedelta(seconds=20)
"""How often a critical alert repeats."""

ANSWER_WITHIN = timedelta(seconds=6)
"""If no channel has answered a raising for this long, a crash cut it off."""

TRY_AGAIN = (timedelta(seconds=5), timedelta(seconds=20), timedelta(seconds=60))
"""How long to wait before each new try of what no channel took; the last wait repeats. Here it is for a whole alert, in
the delivery for one channel."""

SAY_TOGETHER = timedelta(seconds=60)
"""What falls due this soon is said along with what falls due now, so that a person is called once."""

AT_ONCE, NEVER = datetime.min.replace(tzinfo=UTC), datetime.max.replace(tzinfo=UTC)
KEPT_AT_MOST = 20_000
"""For so many alerts is remembered until when they are quiet; then all are forgotten, those that are over too."""

LATE_FROM_S = 2.0
"""An alert that is raised later than this after it fell due says how late it is."""


@dataclass(frozen=True)
class Raise:
    """One alert to be raised now. `late_s` is how late it reaches the crew; a repeat that comes when it should is not
    late."""

    alert: Alert
    repeat: int
    late_s: float | None
    again_after_crash: bool = False


def to_raise(
    standing: Standing,
    standing_alerts: Sequence[Alert],
    now: datetime,
    soon: Sequence[Alert] | Callable[[], Sequence[Alert]] = (),
    in_flight: frozenset[int] | None = None,
    silence: Silence | None = None,
) -> tuple[Raise, ...]:
    """What must be raised at this instant, the most urgent first.

    `soon` holds the alerts as they will stand in `SAY_TOGETHER`, or works them out if a person is called. Warnings that
    fall due by then are said along with the call. `in_flight` holds the raisings that are being sent at this moment.
    One of these without an answer is slow; any other without one was cut off by a crash. If `in_flight` is None, only
    the time tells which. Whoever asks at every look hands in the same `silence` each time.
    """
    history = _History(in_flight, silence if silence is not None else Silence())
    history.silence.go_on(now)
    wanted = _all_wanted(standing, standing_alerts, history, now)
    if callable(soon):
        soon = soon() if spared(standing, wanted, now) else ()
    called = {raised.alert.who for raised in wanted if raised.alert.rank is not Rank.NOTICE}
    if called:
        known = {alert.id for alert in standing_alerts}
        warnings = (alert for alert in soon if alert.stage is Stage.HEADS_UP and alert.id not in known)
        ahead = [alert for alert in warnings if alert.who in called]
        wanted += _all_wanted(standing, ahead, history, now)
    return tuple(sorted(spared(standing, wanted, now), key=lambda raised: urgency(raised.alert)))


def doubted(wanted: Sequence[Raise], since: datetime) -> tuple[Raise, ...]:
    """The same calls when part of the log is lost; `since` is when that was found.

    Whatever fell due by then may have been said already, and so may the warnings that were said along with it. What
    falls due later was not said before.
    """
    by = since + SAY_TOGETHER
    return tuple(
        replace(one, again_after_crash=True)
        if (one.repeat == 0 or one.late_s is not None) and one.alert.due <= by
        else one
        for one in wanted
    )


def spared(standing: Standing, wanted: Sequence[Raise], now: datetime) -> list[Raise]:
    """The calls without those that can wait, for people who were called enough lately.

    A warning that is said along with an urgent call costs no further call. A call that waits stands on the screens, and
    its next stage is raised when it falls due.
    """
    if not wanted:
        return []
    calls = cache(lambda: calls_lately(standing, now))
    called = {one.alert.who for one in wanted if not can_wait(one.alert)}
    return [
        one
        for one in wanted
        if not can_wait(one.alert) or one.alert.who in called or most_calls(calls(), one.alert.who) < CALLS_ENOUGH
    ]


def _all_wanted(standing: Standing, candidates: Iterable[Alert], history: _History, now: datetime) -> list[Raise]:
    silence, wanted = history.silence, []
    for alert in candidates:
        before = standing.raised(alert.id)
        if silence.lasts(alert, before, now) or waits_for_hours(standing, alert, now):
            continue
        asked = _asked(alert, before, history, now)
        if isinstance(asked, Raise):
            wanted.append(asked)
        else:
            silence.note(alert, before, asked)
    return wanted


class Silence:
    """Until when nothing is to be raised for an alert that stands, as long as nobody answers, hears or states anything.

    A look then asks only the alerts whose time has come. It is a cache: losing it costs time and nothing else.
    """

    def __init__(self) -> None:
        self._until: dict[str, tuple[Alert, Sequence[Raising], datetime]] = {}
        self._asked_at: datetime | None = None

    def go_on(self, now: datetime) -> None:
        """Begin to ask about an instant. If it is earlier than the last, everything is forgotten."""
        if (self._asked_at is not None and now < self._asked_at) or len(self._until) > KEPT_AT_MOST:
            self._until.clear()
        self._asked_at = now

    def lasts(self, alert: Alert, before: Sequence[Raising], now: datetime) -> bool:
        """Whether the alert was asked about, with the same raisings, and is known to be quiet still."""
        kept = self._until.get(alert.id)
        return kept is not None and kept[0] is alert and kept[1] is before and now < kept[2]

    def note(self, alert: Alert, before: Sequence[Raising], until: datetime) -> None:
        """Remember until when an alert is quiet."""
        self._until[alert.id] = alert, before, until


class _History:
    """What is known of the raisings that have no answer yet, and of the alerts that are quiet."""

    def __init__(self, in_flight: frozenset[int] | None, silence: Silence) -> None:
        self._in_flight, self.silence = in_flight, silence

    def cut_off(self, raising: Raising, now: datetime) -> bool:
        """Whether a raising without an answer will never get one."""
        if self._in_flight is None:
            return now - raising.entry.happened >= ANSWER_WITHIN
        return raising.entry.number not in self._in_flight

    def awaits_answer(self, raising: Raising, now: datetime) -> bool:
        """Whether a channel may still answer: a desktop refuses at once, a voice confirms only after its sentence."""
        if self._in_flight is not None:
            return raising.entry.number in self._in_flight
        return not raising.deliveries and not self.cut_off(raising, now)


def _asked(alert: Alert, before: Sequence[Raising], history: _History, now: datetime) -> Raise | datetime:
    """What is raised of an alert now, or until when nothing is, by what was raised and answered before.

    What has no answer yet may get one, or turn out to be cut off, at any instant.
    """
    same = _of_this_stage(alert, before)
    if not same:
        return NEVER if _told_further(alert, before) or _is_no_news(alert, now) else _first(alert, before, now)
    last = same[-1]
    if not last.deliveries and history.cut_off(last, now):
        return Raise(alert, len(same), _late_s(alert, now), again_after_crash=True)
    awaits_answer = history.awaits_answer(last, now)
    if last.may_have_reached or last.heard is not None or awaits_answer:
        until, late_s = _repeated(alert, same, before), None
    else:
        until, late_s = _tried_again(alert, same), _late_s(alert, now)
    if now >= until:
        return Raise(alert, len(same), late_s)
    return AT_ONCE if awaits_answer else until


def _of_this_stage(alert: Alert, before: Sequence[Raising]) -> list[Raising]:
    return [raising for raising in before if raising.stage == alert.stage and _is_same(alert, raising)]


def _tried_again(alert: Alert, same: Sequence[Raising]) -> datetime:
    """From when an alert that no channel took is raised again."""
    refused = sum(bool(raising.deliveries) for raising in same)  # a crash cut it off: no channel refused it
    again_after = TRY_AGAIN[min(max(refused, 1), len(TRY_AGAIN)) - 1]
    endless = alert.rank is Rank.CRITICAL
    return same[-1].entry.happened + (min(again_after, REPEAT_EVERY) if endless else again_after)


def _first(alert: Alert, before: Sequence[Raising], now: datetime) -> Raise:
    """A stage raised for the first time. The led steps of one sequence count as repeats: the crew listens already."""
    led = len(before) if alert.stage is Stage.STEP else 0
    return Raise(alert, led, _late_s(alert, now))


def _repeated(alert: Alert, same: Sequence[Raising], before: Sequence[Raising]) -> datetime:
    """From when an alert that reached somebody is raised again; never for most."""
    if alert.rank is not Rank.CRITICAL or alert.stage in (Stage.HEADS_UP, Stage.LOST):
        return NEVER
    quiet_until = same[-1].entry.happened + REPEAT_EVERY
    heard = max((raising.heard.happened for raising in before if raising.heard is not None), default=None)
    if heard is not None:
        if alert.step == HOT:
            return NEVER  # a person heard it; it stays on the board, and the next sign raises it anew
        quiet_until = max(quiet_until, heard + _pause(alert, heard))
    return quiet_until


def _pause(alert: Alert, heard: datetime) -> timedelta:
    """A "heard" pauses the repeats for a quarter of the time that is left: to the early edge, or past it to the late
    one."""
    closes = alert.window.closes if alert.window else None
    if closes is None:
        return REPEAT_EVERY
    edge = closes.early if heard < closes.early else closes.last
    return max(REPEAT_EVERY, (edge - heard) / 4)


def _is_same(alert: Alert, raising: Raising) -> bool:
    """Whether a raising of the same stage was for the same call. A second heads-up on another day is another call."""
    if alert.stage is Stage.STEP:
        return raising.was_due(alert.due)
    if alert.stage is Stage.HEADS_UP:
        return raising.due + timedelta(minutes=30) >= alert.due
    return True


def _told_further(alert: Alert, before: Sequence[Raising]) -> bool:
    """Whether a later stage was raised already. Then a reading that moves the edge back starts no calls again."""
    order = STAGE_ORDER.index(alert.stage)
    stages = [raising.entry.facts.stage for raising in before if isinstance(raising.entry.facts, Raised)]
    return alert.stage is not Stage.STEP and any(STAGE_ORDER.index(Stage(stage)) > order for stage in stages)


def _is_no_news(alert: Alert, now: datetime) -> bool:
    """Whether an opening is so old that only the screens show it."""
    return alert.stage is Stage.OPENED and now - alert.due > FRESH_FOR


def _late_s(alert: Alert, now: datetime) -> float | None:
    late_s = (now - alert.due).total_seconds()
    return late_s if late_s > LATE_FROM_S else None


def is_cleared(standing: Standing, alert: Alert) -> bool:
    """Whether somebody cleared an alert that stays on the board, by a "heard" after its present stage was raised."""
    return any(
        raising.heard is not None
        for raising in standing.raised(alert.id)
        if isinstance(raising.entry.facts, Raised) and raising.entry.facts.stage == alert.stage
    )
