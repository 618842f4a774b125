"""A job file that is mended while the daemon watches: from the next look on the crew is called by it."""

from __future__ import annotations

import pytest

from mixclock.decide.windows import seen_at
from mixclock.job.entry import JobMended
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def rolling_takes_s(day: Day) -> float:
    """The time between when back-rolling must begin and when it must be done."""
    job = day.ticker.watched[day.job]
    track = next(one for one in job.tracks if one.name == "back-roll" and not one.provisional)
    window = seen_at(track, day.clock.now())
    assert window.latest_start is not None
    assert window.closes is not None
    return (window.closes.early - window.latest_start).total_seconds()


def test_a_bay_that_is_larger_than_was_typed_is_called_out_the_sooner_for_it() -> None:
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.until("7:05")
    day.say("poured", batch=1)
    day.look()
    before_s = rolling_takes_s(day)
    day.book.append(day.job, JobMended(site(size="13.8 m2")))
    day.look()
    assert rolling_takes_s(day) == pytest.approx(before_s * 13.8 / 11.5)  # at the roller's same rate
