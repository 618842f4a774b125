"""Which calls were heard, and by what: a "heard" means what had been called by then, in whatever order it came in."""

from __future__ import annotations

import random

import pytest

from mixclock.job.entry import Delivered, Entry, Facts, Heard, Raised
from mixclock.job.progress import latest_so_far
from mixclock.job.raisings import RaisingLog, raisings_of
from tests.decide.worlds import instant

POUR, ROLL = "b1.pour-out", "b1.back-roll"
Line = tuple[float, Facts]
"""Minutes after eight, and what is told of them."""


def call(alert: str) -> Raised:
    return Raised(alert, "now", "critical", "do it", "2026-04-13T08:30:00Z")


def log(*lines: Line) -> list[Entry]:
    """As they came in; each may have happened earlier."""
    return [
        Entry(number, "shed", instant(minutes), instant(60), facts) for number, (minutes, facts) in enumerate(lines, 1)
    ]


@pytest.mark.parametrize(
    ("lines", "heard_by"),
    [
        ([(5, call(POUR))], [None]),
        ([(5, call(POUR)), (7, Heard((POUR,)))], [2]),
        ([(5, call(POUR)), (5, Heard((POUR,)))], [2]),
        ([(5, call(POUR)), (7, Heard((ROLL,)))], [None]),
        ([(5, call(POUR)), (5, call(ROLL)), (7, Heard())], [3, 3]),
        ([(5, call(POUR)), (7, Heard((POUR,))), (9, Heard((POUR,)))], [2]),
        ([(5, call(POUR)), (7, Heard((POUR,))), (8, call(POUR)), (9, Heard((POUR,)))], [2, 4]),
        ([(5, call(POUR)), (4, Heard((POUR,)))], [None]),
        # an offline watch wrote its calls late: the second was heard by whoever heard at ten, not at seven
        ([(5, call(POUR)), (10, Heard((POUR,))), (7, Heard((POUR,))), (9, call(POUR))], [2, 2]),
        ([(10, Heard((POUR,))), (10, call(POUR)), (11, call(POUR))], [1, None]),
    ],
    ids=[
        "nobody", "heard", "in that moment", "another call", "all that stood", "twice", "each time", "before it",
        "calls that came late", "a receipt that came first",
    ],
)  # fmt: skip
def test_a_call_was_heard_by_the_first_that_was_told_of_it_after_it_was_made(
    lines: list[Line], heard_by: list[int | None]
) -> None:
    entries, grown = log(*lines), RaisingLog()
    for entry in entries:
        grown.add([entry])
    for raisings in (raisings_of(entries), RaisingLog(entries).raisings, grown.raisings):
        assert [one.heard.number if one.heard else None for one in raisings] == heard_by


def test_a_receipt_that_came_before_its_call_is_not_lost_and_belongs_to_no_other() -> None:
    entries = log(
        (5, Delivered(3, "desktop", "sent")), (5, call(ROLL)), (5, call(POUR)), (6, Delivered(3, "mail", "sent"))
    )
    grown = RaisingLog()
    for entry in entries:
        grown.add([entry])
    for raisings in (raisings_of(entries), grown.raisings):
        assert [[one.number for one in raising.deliveries] for raising in raisings] == [[], [1, 4]]
    assert {alert: len(found) for alert, found in grown.by_alert.items()} == {ROLL: 1, POUR: 1}


def test_of_calls_that_were_written_late_each_knows_the_latest_before_it() -> None:
    entries = log((10, call(POUR)), (5, call(ROLL)), (12, call(POUR)), (11, call(ROLL)))
    assert RaisingLog(entries).latest == [instant(10), instant(10), instant(12), instant(12)]


@pytest.mark.parametrize("seed", range(30))
def test_a_log_that_grows_says_the_same_of_every_call_as_the_whole(seed: int) -> None:
    dice = random.Random(seed)
    facts: list[Facts] = [call(POUR), call(ROLL), Heard((POUR,)), Heard((ROLL, POUR)), Heard()]
    lines = [
        (float(dice.randint(0, 12)), dice.choice([*facts, Delivered(dice.randint(1, 12), "desktop", "sent")]))
        for _ in range(12)
    ]
    entries, grown, at = log(*lines), RaisingLog(), 0
    while at < len(entries):
        step = dice.randint(1, 4)
        grown.add(entries[at : at + step])
        at += step
        whole = raisings_of(entries[:at])
        assert list(grown.raisings) == whole
        assert grown.latest == latest_so_far(whole)
        by_alert = {alert: tuple(one for one in whole if one.alert == alert) for alert in {one.alert for one in whole}}
        assert dict(grown.by_alert) == by_alert
    assert at >= len(entries) == len(lines)
