"""Somebody sets the wall clock while resin cures: sun, night and forecast were known by the hour that hung there."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mixclock.job.entry import WatchEvent
from mixclock.job.steppedclock import CLOCK_IS_RIGHT
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site

FORECAST = """
[[forecast]]
at = "2026-04-13 07:00"
air = "12 °C"
humidity = "70 %"
slab = "11 °C"
[[forecast]]
at = "2026-04-13 11:00"
air = "19 °C"
humidity = "60 %"
slab = "17 °C"
[[forecast]]
at = "2026-04-13 15:00"
air = "24 °C"
humidity = "50 %"
slab = "22 °C"
"""


def lefts(day: Day) -> dict[str, tuple[float, ...]]:
    """How far off every edge of every window is, by name."""
    found = {}
    for track in day.ticker.watched[day.job].tracks:
        for sense, edge in (("closes", track.closing), ("opens", track.opening)):
            if edge is not None:
                moments = (edge.early, edge.likely, edge.late or edge.likely)
                away = tuple((moment - day.now_by_the_log()).total_seconds() for moment in moments)
                found[f"{track.batch.id} {track.name} {track.area} {sense}"] = away
    return found


def shed(what: str, hours_on: float = 0.0) -> Day:
    """A batch on the floor and one in its bucket, with the hour of the day known by a reading, a forecast, or both."""
    text = site() if what == "read" else site() + FORECAST
    day = Day(text, [BASE, TOP], begins=Day.__dataclass_fields__["begins"].default + timedelta(hours=hours_on))
    if what != "forecast":
        day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=19.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.clock.advance(240)
    day.say("poured", batch=1)
    day.say("mixing", product="Shed base", areas=["bay 2"], volume_l=3.45)
    day.clock.advance(60)
    day.look()
    return day


@pytest.mark.parametrize("step_s", [-7200.0, -1800.0, -2.0, 2.0, 600.0, 7200.0, 5 * 3600.0, 11 * 3600.0])
@pytest.mark.parametrize("what", ["read", "forecast", "both"])
def test_a_clock_that_is_set_by_some_hours_moves_no_window_by_a_second(what: str, step_s: float) -> None:
    day = shed(what, hours_on=2.0)
    before = lefts(day)
    day.clock.step(step_s)
    day.look()
    after = lefts(day)
    assert after.keys() == before.keys()
    moved = {name: max(abs(a - b) for a, b in zip(after[name], before[name], strict=True)) for name in before}
    assert max(moved.values()) <= 1.0, {name: by for name, by in moved.items() if by > 1.0}


def test_a_clock_that_is_set_twice_moves_no_window_either() -> None:
    day = shed("both")
    before = lefts(day)
    day.clock.step(5000.0)
    day.look()
    day.clock.step(-9000.0)
    day.look()
    after = lefts(day)
    assert max(abs(a - b) for name in before for a, b in zip(after[name], before[name], strict=True)) <= 1.0


def test_after_the_step_a_new_reading_is_taken_at_the_new_hour() -> None:
    late, stepped = shed("read", hours_on=4.0), shed("read", hours_on=1.0)
    stepped.clock.step(3 * 3600.0)
    for day in (late, stepped):
        day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=19.0)
        day.look()
    stands, wanted = lefts(stepped), lefts(late)
    assert stands.keys() == wanted.keys()
    assert max(abs(a - b) for name in wanted for a, b in zip(stands[name], wanted[name], strict=True)) <= 1.0


def test_where_a_person_trusts_a_clock_behind_the_log_no_bucket_was_mixed_in_the_future() -> None:
    day = shed("read")
    left = lefts(day)["2 pour-out None closes"][0]
    day.clock.reboot(60.0)
    day.clock.step(-3600.0)
    day.start()
    day.book.append(day.job, WatchEvent(CLOCK_IS_RIGHT))
    day.look()
    assert day.ticker.watched[day.job].clock_behind == timedelta()
    assert lefts(day)["2 pour-out None closes"][0] <= left + 61.0, (
        "a minute since the last entry, and the boot began there"
    )


@pytest.mark.parametrize("step_s", [-0.45, -0.1])
def test_a_clock_that_is_trued_by_a_moment_refuses_nobody(step_s: float) -> None:
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=19.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    for verb in ("poured", "rolled"):
        day.clock.step(step_s)
        day.say(verb, batch=1)
        day.look()
    (batch,) = day.ticker.watched[day.job].seen().batches
    assert (batch.portions[0].poured.at - batch.combined.at).total_seconds() >= -0.5
    assert not day.faults


def test_a_clock_that_is_set_while_the_disk_is_full_moves_no_window_either() -> None:
    day = shed("read")
    before = lefts(day)
    day.book.broken = True
    day.clock.step(5000.0)
    day.look()
    assert max(abs(a - b) for name in before for a, b in zip(lefts(day)[name], before[name], strict=True)) <= 1.0
