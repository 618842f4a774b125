"""The days of these tests jump from due to due; this one looks as often as the daemon does, and hears the same."""

from __future__ import annotations

from datetime import timedelta

from mixclock.decide.bucketmodel import bucket_model
from tests.days.clockwork import TICK, Day
from tests.days.shed import BASE, TOP, site

MODEL = bucket_model()


def played(jumping: bool) -> list[tuple[str, str, int, float]]:
    """Forty minutes in which a bucket is poured late, a bay is rolled late and nothing is flaked."""
    day = Day(site(), [BASE, TOP], model=MODEL)

    def on(minutes: float) -> None:
        end = day.begins + timedelta(minutes=minutes)
        if jumping:
            day.until(end)
            return
        while day.clock.now() < end:
            day.clock.set(min(end, day.clock.now() + TICK))
            day.look()

    day.say("reading", air_c=21.0, rh_pct=50.0, slab_c=20.0)
    on(1)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    on(21)
    day.say("poured", batch=1)
    on(33)
    day.say("rolled", batch=1)
    on(41)
    return [
        (entry.facts.alert, entry.facts.stage, entry.facts.repeat, (entry.happened - day.begins).total_seconds())
        for entry in day.raised()
    ]


def test_a_day_that_jumps_hears_what_a_day_of_looks_hears() -> None:
    jumped, looked = played(True), played(False)
    assert [told[:2] for told in jumped if told[2] == 0] == [told[:2] for told in looked if told[2] == 0]
    firsts = list(zip((t for t in jumped if t[2] == 0), (t for t in looked if t[2] == 0), strict=True))
    assert len(firsts) > 5
    assert all(abs(one[3] - other[3]) <= 1.0 for one, other in firsts)
    assert abs(len(jumped) - len(looked)) <= 3
