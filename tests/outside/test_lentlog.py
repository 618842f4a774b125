"""A statement that goes by a log which somebody follows anyway writes what it would write by the whole log."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.house import RefusedError
from mixclock.board.joining import JoinedHouse
from mixclock.board.taps import read_statement
from mixclock.job.entry import Entry, Raised
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import MixingStatement, PouredStatement, WithdrawStatement
from mixclock.outside.clock import FakeClock
from mixclock.outside.followedjob import FollowedJob
from mixclock.outside.statedlog import StatedLog
from mixclock.units import Amount
from mixclock.wiring import House, open_house
from tests.board.test_firstword import any_statement
from tests.potteryfloor import JOB, START

NAME = "Pottery studio floor"


@pytest.fixture
def houses(tmp_path: Path) -> Iterator[tuple[House, House, FakeClock]]:
    """Two books of the same job on one clock: in one of them statements go by a followed log."""
    clock = FakeClock(START)
    with open_house(tmp_path / "lent", clock) as lent, open_house(tmp_path / "whole", clock) as whole:
        for each in (lent, whole):
            each.start(JOB)
        yield lent, whole, clock


def _told(entries: tuple[Entry, ...]) -> list[tuple[object, ...]]:
    return [(each.number, each.facts, each.happened, each.by, each.boot_s) for each in entries]


def _same(one: Standing, other: Standing) -> None:
    for name in ("batches", "readings", "withdrawn", "factors", "cups", "finished", "site", "profile_texts"):
        assert getattr(one, name) == getattr(other, name), name
    assert dict(one.profiles) == dict(other.profiles)


@pytest.mark.parametrize("seed", range(5))
def test_a_day_stated_by_a_followed_log_is_the_day_stated_by_the_whole_log(
    houses: tuple[House, House, FakeClock], seed: int
) -> None:
    lent, whole, clock = houses
    dice, joined, taken = random.Random(seed), JoinedHouse(lent), 0
    for turn in range(26):
        clock.advance(dice.choice([5, 60, 300]))
        at, by = clock.now() - timedelta(seconds=dice.choice([0, 3, 600])), dice.choice(["mixer", None])
        told = {"verb": "mixing", **_BUCKET} if turn < 2 else any_statement(dice)
        statement: Any = read_statement(told)
        if turn > 6 and dice.random() < 0.15:
            statement, at = WithdrawStatement(dice.randint(3, 9)), clock.now()
        if turn == 9:  # what mixclock writes by itself in between
            for each in (lent, whole):
                each.book.append(NAME, Raised("b1.pour-out", "now", "critical", "pour it out", None, 1))
        results = [_state(joined.state, statement, at, by), _state(_by_the_whole(whole), statement, at, by)]
        assert results[0] == results[1], told
        taken += results[0]
        joined.floor()
    assert taken > 8
    assert _told(lent.book.entries(NAME)) == _told(whole.book.entries(NAME))


_BUCKET = {"product": "Slow epoxy base", "areas": ["bay 1"], "volume_l": 9.0, "coat": "base"}


def _by_the_whole(house: House) -> Any:
    return lambda statement, at, by: house.state(statement, at=at, by=by, job=NAME)


def _state(state: Any, *what: Any) -> bool:
    try:
        state(*what)
    except (RefusedError, CannotTellError):
        return False
    return True


def test_what_it_gives_back_is_the_job_as_the_whole_log_has_it(houses: tuple[House, House, FakeClock]) -> None:
    lent, whole, clock = houses
    followed = FollowedJob(NAME, lambda _: ())
    mixing = MixingStatement("Slow epoxy base", Amount(9.0, None), ("bay 1",), "base")
    for statement in (mixing, PouredStatement(1), mixing):
        clock.advance(120)
        one = lent.state(statement, at=clock.now(), job=NAME, followed=followed)
        other = whole.state(statement, at=clock.now(), job=NAME)
        _same(one.standing, other.standing)
        assert one.before is not None
        assert other.before is not None
        _same(one.before, other.before)


def test_who_writes_in_between_is_read_before_anything_is_decided(
    houses: tuple[House, House, FakeClock], monkeypatch: pytest.MonkeyPatch
) -> None:
    lent, _, clock = houses
    followed = FollowedJob(NAME, lambda _: ())
    followed.refresh(lent.book)
    mixing = MixingStatement("Slow epoxy base", Amount(9.0, None), ("bay 1",), "base")
    refresh, seen = followed.refresh, []

    def late(*what: Any, **how: Any) -> bool:
        found = refresh(*what, **how)
        if not seen:  # another phone's bucket comes between this look and the writing
            seen.append(True)
            with open_house(lent.home, clock) as other:
                other.state(mixing, at=clock.now(), job=NAME)
        return found

    monkeypatch.setattr(followed, "refresh", late)
    stated = lent.state(PouredStatement(1), at=clock.now() + timedelta(seconds=0), job=NAME, followed=followed)
    assert stated.standing.batches[0].emptied is not None


def test_the_log_of_another_job_is_not_gone_by(houses: tuple[House, House, FakeClock]) -> None:
    lent, *_ = houses
    log = StatedLog(lent.book, NAME, lent._boot_time(), FollowedJob("Boat shed", lambda _: ()))
    assert log._followed is None


def test_windows_that_nobody_asks_for_are_not_worked_out(houses: tuple[House, House, FakeClock]) -> None:
    lent, _, clock = houses
    asked: list[int] = []

    def windows(standing: Standing) -> tuple[()]:
        asked.append(len(standing.batches))
        return ()

    followed = FollowedJob(NAME, windows)
    mixing = MixingStatement("Slow epoxy base", Amount(9.0, None), ("bay 1",), "base")
    for _ in range(2):
        lent.state(mixing, at=clock.now(), job=NAME, followed=followed)
    assert asked == []
    assert followed.tracks == ()
    assert followed.tracks == ()
    assert asked == [2], "once, with both buckets"
