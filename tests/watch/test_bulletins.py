"""What falls together is said as one, as long as it can be taken in."""

from __future__ import annotations

from datetime import timedelta

from mixclock.decide.alerting import to_raise
from mixclock.decide.shapes import Rank
from mixclock.watch.bulletins import bulletins_of, intents_of
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def forgotten(bays: int) -> Day:
    """So many buckets mixed together and all forgotten while the daemon was off."""
    day = Day(site(bays=max(bays, 2)), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    for number in range(1, bays + 1):
        day.say("mixing", product="Shed base", areas=[f"bay {number}"], volume_l=3.45)
        day.ticker.watched[day.job].refresh(day.book)
    return day


def wanted(day: Day, after: timedelta) -> list:  # type: ignore[type-arg]
    job = day.ticker.watched[day.job]
    now = day.begins + after
    return list(to_raise(job.seen(), job.alerts(now), now))


def test_eight_buckets_at_once_are_one_call_and_how_many_more_there_are() -> None:
    day = forgotten(8)
    after = timedelta(minutes=20)
    bulletins = bulletins_of(day.ticker.watched[day.job].seen(), wanted(day, after), day.begins + after)
    (loud,) = [bulletin for bulletin in bulletins if bulletin.message.rank != "notice"]
    assert f"And {len(loud.sentences) - 1} more on the board." in loud.message.speech
    assert all(f"batch {number}" in loud.message.body.casefold() for number in range(1, 9))
    told = [one.alert.id for one in loud.raises]
    assert sorted(told) == sorted({f"b{n}.pour-out" for n in range(1, 9)} | set(told))
    assert len(told) == len(set(told))


def test_the_critical_is_said_first() -> None:
    day = forgotten(2)
    after = timedelta(minutes=20)
    (bulletin, *_) = bulletins_of(day.ticker.watched[day.job].seen(), wanted(day, after), day.begins + after)
    ranks = [one.alert.rank for one in bulletin.raises]
    assert ranks == sorted(ranks, key=list(Rank).index)
    assert bulletin.message.rank == "critical"


def test_each_alert_keeps_an_intent_of_its_own_that_names_the_others() -> None:
    day = forgotten(2)
    after = timedelta(minutes=20)
    (bulletin, *_) = bulletins_of(day.ticker.watched[day.job].seen(), wanted(day, after), day.begins + after)
    intents = intents_of(bulletin)
    assert [intent.alert for intent in intents] == [one.alert.id for one in bulletin.raises]
    assert set(intents[0].together_with) == bulletin.alerts - {intents[0].alert}


def test_what_opens_on_five_bays_is_one_sentence() -> None:
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    for number in range(1, 6):
        day.say("mixing", product="Shed base", areas=[f"bay {number}"], volume_l=3.45)
        day.look()
        day.until(day.clock.now() + timedelta(minutes=5))
        day.say("poured", batch=number)
        day.look()
        for step in ("rolled", "flaked"):
            day.say(step, batch=number)
            day.look()
    day.until(day.begins + timedelta(hours=25))
    (scrape,) = [
        bulletin for _, bulletin in day.bulletins if any(one.alert.step == "scrape" for one in bulletin.raises)
    ]
    bodies = [line for line in scrape.message.body.splitlines() if "scrape" in line]
    assert len(bodies) == 1
    assert "bay 1, bay 2, bay 3, bay 4 and bay 5" in bodies[0].casefold()
