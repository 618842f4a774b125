"""A step is done by somebody who can do it: a search that gives it to another is caught."""

from __future__ import annotations

import pytest

from mixclock.decide.plan.search.network import Link, Network, NotTheirsError, network, settled_part, timed

NEVER = [10**9] * 3
ROLLED_BY_SECOND = 1


def pail() -> Network:
    """The first pours (60 s) and cleans up (30 s), only the second rolls (100 s)."""
    after = [Link(0, 1, 0, 1, 0), Link(1, 2, 0, 1, 0)]
    return network([[60, 80], [None, 100], [30, 30]], after, [], [0, 0, 0], NEVER)


def test_who_can_do_a_step_takes_the_time_that_is_theirs() -> None:
    found = timed(pail(), (0, ROLLED_BY_SECOND, 0), (0, 1, 2))
    assert (found.starts, found.finish) == ([0, 60, 160], 190)


@pytest.mark.parametrize("staff", [(0, 0, 0), (1, 0, 1)])
def test_rolling_that_is_given_to_somebody_who_does_not_roll_is_not_taken_to_need_no_time(
    staff: tuple[int, ...],
) -> None:
    """It was: such a plan was the soonest of all, and its floor was never rolled."""
    with pytest.raises(NotTheirsError, match="step 1 is given to person 0, who can't do it"):
        timed(pail(), staff, (0, 1, 2))


def test_what_is_settled_is_asked_too() -> None:
    with pytest.raises(NotTheirsError, match="step 1 is given to person 0"):
        settled_part(pail(), (0, 1), (0, 0, 0), (0, 60, 160))
