"""What a look leaves out because nothing can have changed is what it would find out anew: over random logs."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from mixclock.decide.alerting import alerts
from mixclock.decide.alerting.agenda import Agenda
from mixclock.decide.alerting.raising import Silence, to_raise
from mixclock.decide.alerting.sparing import CALLS_WITHIN, calls_lately
from mixclock.decide.kitshapes import KitVerdict
from mixclock.decide.plan.days.kitcalls import OpenQuestions
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import tracks
from mixclock.job.dayentries import KitAsked
from mixclock.job.entry import Combined, Delivered, Heard, Noted, Raised, Withdrawn
from mixclock.job.progress import Standing
from mixclock.job.raisings import RaisingLog
from tests.decide.worlds import MODEL, Log, instant

OF_ALERTS = (Raised, Delivered, Heard)


def intent_of(alert: Alert, repeat: int) -> Raised:
    """What the log is told before an alert is sent."""
    rank, stage = alert.rank.value, alert.stage.value
    return Raised(
        alert.id, stage, rank, "Pour it out.", alert.due.isoformat(), alert.batch, who=alert.who, repeat=repeat
    )


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32))
def test_alerts_that_are_known_to_be_quiet_are_those_that_would_not_be_raised(seed: int) -> None:
    dice, log = random.Random(seed), Log()
    for batch in range(1, dice.randint(2, 4)):
        log.add(batch / 3, Combined("Shed base", (f"bay {batch}",), volume_l=dice.choice((2.0, 4.0)), material_c=19.0))
    stated = log.standing()
    found, agenda, silence, told = tracks(stated, MODEL), Agenda(), Silence(), RaisingLog()
    at, raised, on_its_way = 1.0, 0, set[int]()
    for _ in range(60):
        at += dice.choice((0.007, 0.02, 0.1, 0.34, 2.0, 9.0))
        standing = stated.with_raisings(tuple(log.entries), told)
        stands, now = agenda.alerts(standing, found, instant(at)), instant(at)
        soon = alerts(standing, found, now + timedelta(seconds=60))
        in_flight = dice.choice((frozenset(on_its_way), None))
        wanted = to_raise(standing, stands, now, soon, in_flight, silence)
        assert wanted == to_raise(standing, stands, now, soon, in_flight)
        raised += len(wanted)
        for one in wanted:
            entry = log.add(at, intent_of(one.alert, one.repeat))
            told.add([entry])
            on_its_way.add(entry.number)
        for number in tuple(on_its_way):
            fate = dice.random()
            if fate < 0.5:
                shown = dice.choice((True, False, None))
                told.add([log.add(at, Delivered(number, "desktop", dice.choice(("sent", "retry")), shown=shown))])
            if fate < 0.7:
                on_its_way.discard(number)
        if dice.random() < 0.1:
            told.add([log.add(at, Heard())])
    assert raised


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32))
def test_the_calls_of_the_last_minutes_are_those_among_all_that_were_ever_made(seed: int) -> None:
    dice, log, told = random.Random(seed), Log(), RaisingLog()
    at, found = 0.0, 0
    for number in range(30):
        at += dice.choice((0.01, 0.5, 4.0, 12.0))
        late = at - dice.choice((0.0, 0.0, 0.0, 8.0, 25.0))  # written when the book was free again
        due = instant(late).isoformat()
        who = dice.choice((None, "mixer", "roller"))
        told.add([log.add(late, Raised(f"b{number}.pour-out", "now", "critical", "Pour.", due, who=who), written=at)])
        standing = log.standing().with_raisings(tuple(log.entries), told)
        for asked in (at, at - 3.0, at + 5.0):
            now, plain = instant(asked), replace(standing, raisings=standing.raisings)
            every = [one.entry.happened for one in standing.raisings if one.entry.happened > now - CALLS_WITHIN]
            kept = [one.entry.happened for one in standing.raised_after(now - CALLS_WITHIN)]
            assert [each for each in kept if each > now - CALLS_WITHIN] == every
            assert calls_lately(standing, now) == calls_lately(plain, now)
            found += len(every)
    assert found


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32))
def test_the_open_question_of_a_log_that_grows_is_that_of_the_whole_log(seed: int) -> None:
    dice, log, questions = random.Random(seed), Log(), OpenQuestions()
    at, there = 0.0, 0
    for _ in range(40):
        at += dice.choice((0.0, 1.0, 6.0))
        facts = dice.choice(
            (
                KitAsked(dice.choice((KitVerdict.YES, KitVerdict.WAIT)).value, ("bay 1",)),
                Combined("Shed base", ("bay 1",), volume_l=2.0, spot=dice.choice((None, "a chip"))),
                Withdrawn(dice.randint(4, max(4, len(log.entries)))),
                Noted("doors open"),
                Noted("heater lit"),
            )
        )
        log.add(at, facts)
        if dice.random() < 0.7:
            standing = log.standing()
            asked = OpenQuestions().open(standing, instant(at))
            assert questions.open(standing, instant(at)) == asked == slow_question(standing, at)
            there += asked is not None
    assert there or len(log.entries) > 20


def slow_question(standing: Standing, at: float) -> object:
    """The same, found plainly: the last entry of the log that asks or begins a bucket tells."""
    settling = [
        entry
        for entry in standing.entries
        if entry.number not in standing.withdrawn
        and (isinstance(entry.facts, KitAsked) or (isinstance(entry.facts, Combined) and entry.facts.spot is None))
    ]
    last = settling[-1] if settling else None
    is_open = (
        last is not None and isinstance(last.facts, KitAsked) and instant(at) - last.happened < timedelta(minutes=30)
    )
    return last if is_open else None
