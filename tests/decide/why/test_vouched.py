"""A reading vouches for the hours around it, and for no others."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.why.layers import Series
from mixclock.job.readings import Sample

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
minutes = st.integers(0, 2000).map(lambda count: MORNING + timedelta(minutes=count))


def vouched_one_by_one(times: list[datetime], at: datetime) -> bool:
    """Two readings at most four hours apart around it, or one within half an hour: looked for among all."""
    before, after = [each for each in times if each <= at], [each for each in times if each >= at]
    if before and after and min(after) - max(before) <= timedelta(hours=4):
        return True
    return any(abs(each - at) <= timedelta(minutes=30) for each in times)


@given(times=st.lists(minutes, max_size=8), at=minutes)
def test_what_readings_vouch_for_is_the_same_looked_up_and_looked_for(times: list[datetime], at: datetime) -> None:
    series = Series(tuple(Sample(each, 18.0) for each in sorted(times)))
    assert series.vouches_for(at) == vouched_one_by_one(times, at)
