"""The rest of a day on which something lies already: what is due stays due, whatever becomes of what is to come."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from mixclock.decide.plan.days.coattask import CoatTask
from mixclock.decide.plan.days.followed import FollowedBy, laid_to_be_followed
from mixclock.decide.plan.days.sessions import live_alone
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.search.schedule import Ways
from tests.decide.plan.floors import BEGINS, minutes
from tests.decide.plan.test_hands import ALONE, chain_of, row_for

A_DAY = Stretch(BEGINS, BEGINS + timedelta(hours=10))


def test_a_coat_that_is_all_poured_is_not_laid_sooner_for_the_one_above_it() -> None:
    """One bucket lies, and the flake waits five minutes for the roller, but nothing can be poured once more."""
    waiting = tuple(OpenStep(kind, 1, ("bay 1",), (60,)) for kind in ("roll", "broadcast"))
    chain = chain_of(row_for([ALONE], 1), minutes(back_roll=120.0))
    setting = replace(chain.setting, pieces=())
    task = CoatTask(setting, (), waiting=tuple((step, None, None) for step in waiting), people_free=(BEGINS,))
    (session,) = live_alone(task)
    assert laid_to_be_followed(session, FollowedBy({"bay 1": 3600}), [A_DAY], Ways()) is None
