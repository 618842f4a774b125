"""What stays on a desk to be read: what is over or heard goes, what was said a little early stays, nothing flickers."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def shown(day: Day) -> set[str]:
    """Every alert that a message on the desk tells."""
    return {name for sent in day.delivery.shown(day.job) for name in sent.bulletin.alerts}


def poured_together(bays: int) -> Day:
    """So many small batches on the floor at the same moment, and the one message that warns of back-rolling them."""
    day = Day(site(bays=bays, size="2 m2"), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    for number in range(1, bays + 1):
        day.say("mixing", product="Shed base", areas=[f"bay {number}"], volume_l=0.6)
    for number in range(1, bays + 1):
        day.say("poured", batch=number)
    day.until("7:12:30")
    assert shown(day) == {f"b{number}.bay-{number}.back-roll" for number in range(1, bays + 1)}
    return day


@pytest.mark.parametrize(("bays", "rewritten"), [(9, [1, 2, 3]), (12, [1, 1, 1, 2, 2])])
def test_a_message_is_written_anew_for_each_thing_that_was_heard_unless_more_than_eight_are_left(
    bays: int, rewritten: list[int]
) -> None:
    """Nine less one are eight: written at once. Twelve less one are eleven: those wait ten seconds each time."""
    day = poured_together(bays)
    called = len(day.desktop.sent)
    counted = []
    for number, seconds in zip(range(1, len(rewritten) + 1), (0.0, 3.0, 6.9, 0.1, 3.0), strict=False):
        day.clock.advance(seconds)
        if number != 4:
            day.say("heard", alerts=[f"b{number}.bay-{number}.back-roll"])
        day.look()
        counted.append(len(day.desktop.sent) - called)
    assert counted == rewritten


def test_a_warning_that_was_said_early_along_with_another_stays_beside_a_bucket_that_is_late() -> None:
    day = Day(site(bays=3, size="2 m2"), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 3"], volume_l=3.45)
    day.until(day.begins + timedelta(minutes=8))
    for area in ("bay 1", "bay 2"):
        day.say("mixing", product="Shed base", areas=[area], volume_l=0.6)
    day.say("poured", batch=2)
    day.clock.advance(40)
    day.say("poured", batch=3)
    while not day.desktop.of("b2.bay-1.back-roll"):
        day.until(day.clock.now() + timedelta(seconds=5))
    early = day.desktop.of("b3.bay-2.back-roll")
    assert early == day.desktop.of("b2.bay-1.back-roll"), "one message tells both, the second 40 s before its time"
    for _ in range(3):
        day.clock.advance(5.0)
        day.look()
        assert shown(day) == {"b1.pour-out", "b2.bay-1.back-roll", "b3.bay-2.back-roll"}
    assert day.desktop.of("b3.bay-2.back-roll") == early, "nor is it written anew"
