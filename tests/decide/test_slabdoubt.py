"""What the log says of a place moves how far its floor may fall at night."""

from __future__ import annotations

from mixclock.decide.weather import weather
from mixclock.job.entry import Noted, Reading
from tests.decide.worlds import Log, instant


def test_open_doors_let_a_floor_fall_as_far_at_night_as_one_outside() -> None:
    def coldest(*notes: tuple[float, str, str | None]) -> float:
        log = Log()
        log.add(450, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))  # half past three on the wall's clock
        for minutes, text, area in notes:
            log.add(minutes, Noted(text, area))
        slab = weather(log.standing(), "bay 1").slab
        start_s = instant(600).timestamp()
        colder, _ = slab.for_limits(start_s)
        return min(colder.at(start_s + 3600.0 * hour) for hour in range(18))

    shut, opened = coldest(), coldest((460, "doors: open", None))
    assert shut - opened > 2.0
    assert coldest((460, "doors: open", "bay 2")) == shut  # another place's
    assert coldest((460, "doors: open", None), (480, "doors: shut", None)) == shut
    assert coldest((460, "somebody opened the door", None)) == shut  # quoted, never counted


def test_a_reading_at_three_is_the_days_warmest_so_every_night_to_come_falls_below_it_until_the_next() -> None:
    def coldest_of_the_third_night(read_at: float, later: float | None = None) -> float:
        log = Log()
        log.add(read_at, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
        if later is not None:
            log.add(later, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
        start_s = instant(600).timestamp()
        colder, _ = weather(log.standing(), "bay 1").slab.for_limits(start_s)
        third = instant(2 * 1440 + 720).timestamp()
        return min(colder.at(third + 3600.0 * hour) for hour in range(10))

    afternoon, morning = coldest_of_the_third_night(410), coldest_of_the_third_night(60)
    assert afternoon < morning - 1.0  # what was read at nine in the morning knows of the night already
    assert coldest_of_the_third_night(410, 1440 + 60) > afternoon + 1.0
