"""What is kept from look to look is what would be worked out anew: over random logs, at random instants."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.alerting import alerts
from mixclock.decide.alerting.agenda import Agenda
from mixclock.decide.kepttracks import KeptTracks
from mixclock.decide.tracks import Track, tracks
from mixclock.job.entry import (
    Combined,
    Delivered,
    Did,
    Dumped,
    Facts,
    Heard,
    MixingEnded,
    Noted,
    Poured,
    Raised,
    Reading,
    Saw,
    Withdrawn,
)
from mixclock.job.folding import Folding, fold
from mixclock.job.raisings import RaisingLog, raisings_of
from tests.decide.worlds import MODEL, Log, instant
from tests.examples import examples

PRODUCTS = ("Shed base", "Shed top")


def next_facts(dice: random.Random, log: Log) -> Facts:
    """One more thing that somebody states, or that the machine writes."""
    bays = [f"bay {number}" for number in (1, 2, 3)]
    batches = sum(isinstance(entry.facts, Combined) for entry in log.entries)
    raised = [entry.number for entry in log.entries if isinstance(entry.facts, Raised)]
    any_batch = dice.randint(1, max(1, batches))
    chances: list[Facts] = [
        Combined(dice.choice(PRODUCTS), (dice.choice(bays),), volume_l=dice.choice((2.0, 4.0)), material_c=19.0),
        Combined(dice.choice(PRODUCTS), (dice.choice(bays),), volume_l=3.0, mixing_s=120.0, ended=True),
        Poured(any_batch),
        Poured(any_batch, areas=(dice.choice(bays),), part_l=1.5),
        Did(dice.choice(("back-roll", "broadcast")), any_batch),
        MixingEnded(any_batch),
        Dumped(any_batch),
        Saw("hot", any_batch),
        Reading(slab_c=dice.choice((9.0, 15.0, 24.0)), area=dice.choice((None, "bay 1"))),
        Reading(air_c=dice.choice((14.0, 21.0)), rh_pct=dice.choice((50.0, 90.0))),
        Reading(bucket_c=dice.choice((25.0, 44.0)), batch=any_batch),
        Noted("doors open"),
        Withdrawn(dice.randint(4, max(4, len(log.entries)))),
        Raised(f"b{any_batch}.mixing", "step", "timely", "Scrape.", instant(0).isoformat(), any_batch),
        Heard(),
        Heard((f"b{any_batch}.mixing",)),
    ]
    if raised:
        chances += [Delivered(dice.choice(raised), "desktop", "sent", shown=True)] * 2
    return dice.choice(chances)


def comparable(found: Sequence[Track]) -> list[object]:
    """Tracks without the functions of their buckets, which are never equal."""
    return [
        (replace(track, bucket=None), track.bucket and replace(track.bucket, ripeness=abs, used=abs)) for track in found
    ]


@examples(25, deadline=None)
@given(st.integers(0, 2**32))
def test_who_is_asked_only_when_due_says_what_everybody_would_say(seed: int) -> None:
    dice, log = random.Random(seed), Log()
    kept, agenda = KeptTracks(MODEL), Agenda()
    at, compared = 0.0, 0
    for _ in range(dice.randint(3, 14)):
        log.add(at - dice.choice((0.0, 0.0, 0.5, 12.0)), next_facts(dice, log), written=at)
        standing = log.standing()
        found = kept(standing)
        assert comparable(found) == comparable(tracks(standing, MODEL))
        for _ in range(dice.randint(1, 4)):
            at += dice.choice((0.0, 0.01, 0.4, 3.0, 9.0, 45.0))
            asked = instant(at) + timedelta(microseconds=dice.choice((0, 1, 400_000)))
            assert agenda.alerts(standing, found, asked) == alerts(standing, found, asked)
            compared += 1
    assert compared


@examples(25, deadline=None)
@given(st.integers(0, 2**32))
def test_no_call_comes_before_the_instant_that_was_named(seed: int) -> None:
    dice, log = random.Random(seed), Log()
    for _ in range(4):
        log.add(dice.uniform(0.0, 5.0), next_facts(dice, log))
    standing = log.standing()
    found, agenda = tracks(standing, MODEL), Agenda()
    now = instant(6.0)
    for _ in range(8):
        before = {(each.id, each.stage, each.rank) for each in agenda.alerts(standing, found, now)}
        named = agenda.next_call(now)
        just_before = (named or now + timedelta(hours=1)) - timedelta(microseconds=1)
        new = {(each.id, each.stage, each.rank) for each in alerts(standing, found, just_before)} - before
        assert not new
        if named is None:
            return
        now = named


@examples(40, deadline=None)
@given(st.integers(0, 2**32))
def test_a_log_that_is_folded_as_it_grows_is_the_log_folded_whole(seed: int) -> None:
    dice, log = random.Random(seed), Log()
    folding = Folding("shed", list(log.entries))
    told, at = RaisingLog(), 0.0
    for _ in range(dice.randint(3, 20)):
        at += dice.choice((0.0, 0.5, 7.0))
        more = [log.add(at - dice.choice((0.0, 3.0)), next_facts(dice, log), written=at) for _ in range(2)]
        told.add(more)
        assert list(told.raisings) == raisings_of(log.entries)
        by_alert = {name: [each for each in told.raisings if each.alert == name] for name in told.by_alert}
        assert by_alert == {name: list(raisings) for name, raisings in told.by_alert.items()}
        assert sum(map(len, told.by_alert.values())) == len(told.raisings)
        statements = [each for each in more if not isinstance(each.facts, Raised | Delivered | Heard)]
        every = [each for each in log.entries if not isinstance(each.facts, Raised | Delivered | Heard)]
        if folding.goes_on(statements):
            folding.take(statements)
        else:
            folding = Folding("shed", every)
        assert folding.standing == fold("shed", every)
    assert len(log.entries) > 5


def test_a_step_of_mixing_that_nobody_met_stays_due_and_is_over_as_soon_as_somebody_heard_it() -> None:
    log, agenda = Log(), Agenda()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=19.0))
    stated = log.standing()
    found = tracks(stated, MODEL)

    def called(at: float) -> list[str]:
        """What stands; as the daemon does it, only what was called out and heard is read anew."""
        standing = replace(stated, raisings=tuple(raisings_of(log.entries)))
        asked = agenda.alerts(standing, found, instant(at))
        assert asked == alerts(standing, found, instant(at))
        return [each.id for each in asked]

    scraped = 1.5  # half of the three minutes that the sheet has it mixed for
    assert "b1.mixing" not in called(scraped - 0.1)
    assert "b1.mixing" in called(scraped + 0.05)
    log.add(scraped + 0.05, Raised("b1.mixing", "step", "timely", "Scrape.", instant(scraped).isoformat(), 1))
    assert "b1.mixing" in called(scraped + 0.9), "it was fresh for three quarters of a minute; nobody has met it yet"
    log.add(scraped + 0.91, Heard(("b1.mixing",)))
    assert "b1.mixing" not in called(scraped + 0.92)


def test_a_floor_is_quiet_until_its_next_call_may_fall_due_and_not_while_one_stands() -> None:
    log, agenda = Log(), Agenda()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=19.0))
    standing = log.standing()
    found = tracks(standing, MODEL)
    assert not agenda.is_quiet(instant(0.2)), "nobody has looked yet"
    assert agenda.alerts(standing, found, instant(0.1)) == ()
    assert agenda.is_quiet(instant(1.4))
    assert not agenda.is_quiet(instant(1.5)), "it is scraped half way through its three minutes"
    assert [each.id for each in agenda.alerts(standing, found, instant(1.55))] == ["b1.mixing"]
    assert not agenda.is_quiet(instant(1.56))


def test_whoever_asks_about_an_earlier_instant_gets_what_stood_then() -> None:
    log, agenda = Log(), Agenda()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=19.0))
    standing = log.standing()
    found = tracks(standing, MODEL)
    there = {at: alerts(standing, found, instant(at)) for at in (120.0, 1.6, 0.5)}
    assert there[120.0] != there[1.6] != there[0.5]
    for at, stood in there.items():
        assert agenda.alerts(standing, found, instant(at)) == stood
