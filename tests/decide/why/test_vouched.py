"""A reading vouches for the hours around it, and for no others."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.why.layers import Series
from mixclock.decide.why.quantities.air import lowest_margins_k
from mixclock.formulas.air import dew_margin_k
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


@given(
    times=st.lists(minutes, max_size=8),
    start=minutes,
    step=st.floats(600.0, 20_000.0).map(lambda span_s: timedelta(seconds=span_s)),
    count=st.integers(0, 50),
)
def test_what_readings_vouch_for_is_the_same_span_by_span_and_instant_by_instant(
    times: list[datetime], start: datetime, step: timedelta, count: int
) -> None:
    series = Series(tuple(Sample(each, 18.0) for each in sorted(times)))
    one_by_one = {place for place in range(count) if series.vouches_for(start + step * place)}
    assert series.vouched_places(start, step, count) == one_by_one


@given(
    read=st.lists(
        st.tuples(st.floats(-20.0, 60.0), st.floats(1.0, 100.0), st.floats(-20.0, 80.0)), min_size=1, max_size=30
    )
)
def test_the_lowest_dew_margin_is_the_same_whether_all_were_worked_out_or_only_those_that_may_be_it(
    read: list[tuple[float, float, float]],
) -> None:
    every = [dew_margin_k(*each) for each in read]
    some = lowest_margins_k(read)
    assert (min(some), some.index(min(some))) == (min(every), every.index(min(every)))
