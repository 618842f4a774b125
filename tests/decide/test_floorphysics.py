"""What must hold for any day: sampling, splitting, forecast, moisture and the bucket, through the windows as asked."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import Bucket, BucketAnswer
from mixclock.decide.clocks import DEFAULT_HUMIDITY_EXPONENT, NOTHING_LEARNED, clock_of
from mixclock.decide.edges import edge_of, ripeness_at
from mixclock.decide.weather import Weather, steady, weather
from mixclock.job.entry import Combined, JobStarted, Poured, ProfileUsed, Reading
from mixclock.job.jumps import JUMP_K
from mixclock.job.profile import Family, Profile
from mixclock.job.profilereading import read_profile
from tests.decide.worlds import BASE, MODEL, SITE, TOP, Log, instant, minutes_of
from tests.examples import examples

EPOXY, POLYASPARTIC = read_profile(BASE), read_profile(TOP)
START = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
WATERBORNE = """
name = "Shed primer"
family = "waterborne epoxy"
source = "invented"
[mix]
ratio_by_volume = [4, 1]
[pot-life]
mass = "1 kg"
end = "workable"
at = { "15 °C" = "120 min", "25 °C" = "60 min" }
[windows.back-roll]
after = "poured"
closes = { "20 °C" = "20 min" }
"""

slabs = st.lists(st.tuples(st.floats(1.0, 90.0), st.floats(8.0, 34.0)), min_size=2, max_size=6)


def laid(readings: list[tuple[float, float]], forecast: str = "") -> Log:
    """A batch poured at 8:05 on a slab that was read so many minutes apart."""
    log = Log(entries=[])
    log.entries.clear()
    log.add(-60, JobStarted("Boat shed", SITE + forecast))
    log.add(-60, ProfileUsed("Shed base", BASE))
    at = -10.0
    log.add(at, Reading(air_c=20.0, rh_pct=50.0, slab_c=readings[0][1]))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    log.add(5, Poured(1))
    for apart, slab_c in readings[1:]:
        at += apart
        log.add(at, Reading(slab_c=slab_c))
    return log


@examples(40, deadline=None)
@given(readings=slabs, parts=st.integers(2, 5))
def test_a_logger_that_reads_more_often_along_the_same_line_changes_no_deadline(
    readings: list[tuple[float, float]], parts: int
) -> None:
    # a slab that jumps is asked about, and until somebody answers both readings count
    assume(all(apart > 120.0 or abs(now_c - was_c) <= JUMP_K for (_, was_c), (apart, now_c) in pairwise(readings)))
    finer = [readings[0]]
    for (_, before_c), (apart, slab_c) in pairwise(readings):
        finer += [(apart / parts, before_c + (slab_c - before_c) * step / parts) for step in range(1, parts + 1)]
    for name in ("broadcast", "recoat"):
        rough, fine = (laid(each).window(name, 6).closes for each in (readings, finer))
        assert rough is not None
        assert fine is not None
        for one, other in ((rough.early, fine.early), (rough.likely, fine.likely), (rough.late, fine.late)):
            assert one is not None
            assert other is not None
            assert abs(one - other) <= timedelta(milliseconds=50)


@examples(40, deadline=None)
@given(readings=slabs, share=st.floats(0.05, 0.95), product=st.sampled_from(["broadcast", "recoat"]))
def test_a_restart_that_goes_on_from_the_ripeness_alone_ends_at_the_same_instant(
    readings: list[tuple[float, float]], share: float, product: str
) -> None:
    conditions = weather(laid(readings).standing(), "bay 1")
    rule = EPOXY.window(product)
    assert rule is not None
    assert rule.closes is not None
    whole = edge_of(product, rule.closes, EPOXY, conditions, START, closing=True)
    at = START + share * (whole.edge.likely - START)
    ripe = ripeness_at(whole, conditions, at)
    rest = edge_of(product, rule.closes, EPOXY, conditions, at, start_ripeness=ripe, closing=True)
    assert abs(rest.edge.likely - whole.edge.likely) <= timedelta(milliseconds=5)


def bucket(mass_kg: float, material_c: float, air_c: float, profile: Profile = EPOXY) -> BucketAnswer:
    answer = MODEL(Bucket(profile, mass_kg, None, material_c, steady(air_c).air, START))
    assert answer is not None
    return answer


@examples(40, deadline=None)
@given(
    mass_kg=st.floats(0.1, 25.0),
    more=st.floats(1.02, 8.0),
    material_c=st.floats(10.0, 32.0),
    cooler=st.floats(0.0, 12.0),
)
def test_a_bigger_bucket_never_lives_longer_in_air_no_warmer_than_itself(
    mass_kg: float, more: float, material_c: float, cooler: float
) -> None:
    small = bucket(mass_kg, material_c, material_c - cooler)
    large = bucket(min(40.0, mass_kg * more), material_c, material_c - cooler)
    assert large.edge.early <= small.edge.early + timedelta(seconds=1)
    assert large.edge.likely <= small.edge.likely + timedelta(seconds=1)


@examples(30, deadline=None)
@given(mass_kg=st.floats(0.1, 25.0), material_c=st.floats(8.0, 32.0), warmer=st.floats(0.0, 8.0))
def test_a_warmer_bucket_never_lives_longer(mass_kg: float, material_c: float, warmer: float) -> None:
    cool, warm = bucket(mass_kg, material_c, material_c), bucket(mass_kg, material_c + warmer, material_c + warmer)
    assert warm.edge.early <= cool.edge.early + timedelta(seconds=1)
    assert warm.edge.likely <= cool.edge.likely + timedelta(seconds=1)


@examples(25, deadline=None)
@given(poured=st.floats(1.0, 25.0), later=st.floats(0.0, 20.0), slab_c=st.floats(12.0, 30.0))
def test_no_edge_on_the_floor_gains_time_by_a_later_pour(poured: float, later: float, slab_c: float) -> None:
    spans: dict[str, list[tuple[float, float]]] = {}
    for at in (poured, poured + later):
        log = Log()
        log.add(-10, Reading(air_c=slab_c, rh_pct=50.0, slab_c=slab_c))
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
        log.add(at, Poured(1))
        for name in ("back-roll", "wet-edge", "broadcast"):
            closes = log.window(name, at).closes
            assert closes is not None
            spans.setdefault(name, []).append((minutes_of(closes.early) - at, minutes_of(closes.likely) - at))
    for soon, late in spans.values():
        assert late[0] <= soon[0] + 1e-3
        assert late[1] <= soon[1] + 1e-3


@examples(25, deadline=None)
@given(first=st.floats(0.5, 30.0), later=st.floats(0.0, 30.0), mass_kg=st.floats(0.5, 15.0))
def test_what_a_bucket_used_up_never_falls_as_it_stands(first: float, later: float, mass_kg: float) -> None:
    answer = bucket(mass_kg, 22.0, 20.0)
    soon, late = (answer.used(START + timedelta(minutes=minutes)) for minutes in (first, first + later))
    assert 0.0 <= soon <= late


FORECAST = """
[[forecast]]
at = "2026-04-13 08:00"
air = "12 °C"
slab = "12 °C"
humidity = "60 %"
[[forecast]]
at = "2026-04-13 14:00"
air = "17 °C"
slab = "17 °C"
humidity = "60 %"
[[forecast]]
at = "2026-04-13 20:00"
air = "22 °C"
slab = "22 °C"
humidity = "60 %"
"""  # the shed's clock runs an hour ahead of UTC


def test_the_forecast_leads_on_from_the_last_reading_and_slowly_forgets_how_far_off_it_was() -> None:
    slab = weather(laid([(0.0, 18.0)], FORECAST).standing(), "bay 1").slab.likely
    read_at = instant(-10).timestamp()
    expected_then = 12.0 + 10.0 * (50.0 / 720.0)  # 8:50 in the shed
    off = 18.0 - expected_then
    assert slab.at(read_at) == 18.0
    last = datetime(2026, 4, 13, 19, 0, tzinfo=UTC).timestamp()
    kept = (slab.at(last) - 22.0) / off
    assert kept == pytest.approx(math.exp(-(last - read_at) / (4 * 3600.0)), rel=1e-6)


def test_a_slab_that_the_forecast_warms_closes_sooner_than_one_that_is_held() -> None:
    held, led = laid([(0.0, 14.0)]), laid([(0.0, 14.0)], FORECAST)
    ends = [log.window("recoat", 6).closes for log in (held, led)]
    assert ends[0] is not None
    assert ends[1] is not None
    assert ends[1].likely < ends[0].likely


def test_a_reading_that_is_held_is_said_where_no_forecast_leads_on() -> None:
    recoat = laid([(0.0, 14.0)]).window("recoat", 6)
    assert any("no slab reading for over 2 h by then" in said for said in recoat.assumed)


def test_a_forecast_alone_stands_in_with_doubt_and_says_so() -> None:
    log = laid([(0.0, 14.0)], FORECAST)
    log.entries[2] = Log().add(-10, Reading(rh_pct=50.0))
    course = weather(log.standing(), "bay 1").slab
    assert course.assumed == ("no slab reading: the forecast stands in, ±3 °C",)
    assert course.high.at(START.timestamp()) - course.likely.at(START.timestamp()) == pytest.approx(3.0)


ONE_HUMIDITY = TOP.replace(
    'closes = { "20 °C, 50 %" = "20 min", "20 °C, 80 %" = "14 min" }', 'closes = { "20 °C" = "20 min" }'
)


def damp_floor_min(rh_pct: float, share: str = "likely") -> float:
    profile = read_profile(ONE_HUMIDITY)
    rule = profile.window("back-roll")
    assert rule is not None
    assert rule.closes is not None
    found = edge_of("back-roll", rule.closes, profile, steady(20.0, rh_pct=rh_pct), START, closing=True)
    return float((getattr(found.edge, share) - START).total_seconds() / 60.0)


def test_one_humidity_on_the_sheet_lets_half_the_power_of_moisture_stand_in_and_says_so() -> None:
    assert DEFAULT_HUMIDITY_EXPONENT == 0.5
    assert damp_floor_min(50.0) == pytest.approx(20.0, abs=0.01)
    assert damp_floor_min(80.0) == pytest.approx(20.0 / (80.0 / 50.0) ** 0.5, abs=0.01)
    assert damp_floor_min(32.0) == pytest.approx(20.0 / (32.0 / 50.0) ** 0.5, abs=0.01)


def test_the_band_then_runs_from_no_power_of_moisture_to_all_of_it() -> None:
    assert damp_floor_min(50.0, "early") == pytest.approx(0.8 * 20.0, abs=0.01)
    assert damp_floor_min(80.0, "early") == pytest.approx(0.8 * 20.0 * 50.0 / 80.0, abs=0.01)
    assert damp_floor_min(80.0, "late") == pytest.approx(1.25 * 20.0, abs=0.01)
    assert damp_floor_min(35.0, "late") == pytest.approx(1.25 * 20.0 * 50.0 / 35.0, abs=0.05)


def test_the_factor_of_moisture_is_held_between_six_tenths_and_two_and_a_half() -> None:
    assert damp_floor_min(5.0) == pytest.approx(20.0 / 0.6, rel=1e-3)
    assert damp_floor_min(99.0, "early") >= 0.8 * 20.0 / 2.5


def test_a_cold_slab_under_moist_air_has_all_the_water_it_can_hold() -> None:
    conditions = Weather(steady(14.0).slab, steady(26.0).air, steady(70.0).slab)
    assert conditions.slab_humidity_pct.at(START.timestamp()) == pytest.approx(100.0)


def test_moist_air_leaves_the_bucket_of_a_polyaspartic_alone() -> None:
    edges = []
    for rh_pct in (30.0, 85.0):
        log = Log()
        log.add(-10, Reading(air_c=20.0, rh_pct=rh_pct, slab_c=20.0))
        log.add(0, Combined("Shed top", ("bay 1",), volume_l=2.0, material_c=20.0))
        edges.append(log.window("pour-out", 1).closes)
    assert edges[0] == edges[1]


def test_an_epoxy_stated_at_one_humidity_knows_no_moisture() -> None:
    spans = [(rule.name, span) for rule in EPOXY.windows for span in (rule.opens, rule.closes) if span is not None]
    assert len(spans) >= len(EPOXY.windows) > 3
    assert {clock_of(name, span, Family.EPOXY, NOTHING_LEARNED, closing=True).damp for name, span in spans} == {None}


def test_nothing_marks_the_end_of_a_waterborne_bucket_and_that_is_said() -> None:
    log = Log()
    log.add(-60, ProfileUsed("Shed primer", WATERBORNE))
    log.add(0, Combined("Shed primer", ("bay 1",), volume_l=3.0, material_c=20.0))
    assert any("nothing visible marks its end" in said for said in log.window("pour-out", 1).because)


def test_a_bucket_without_a_known_vessel_or_warmth_names_what_was_assumed() -> None:
    log = Log()
    log.entries.clear()
    log.add(
        -60,
        JobStarted("Boat shed", SITE.replace('[[vessels]]\nname = "pail"\nvolume = "20 L"\nacross = "28 cm"\n', "")),
    )
    log.add(-60, ProfileUsed("Shed base", BASE))
    log.add(-10, Reading(air_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0))
    assumed = log.window("pour-out", 1).assumed
    assert "material not measured: as warm as the air, ±3 °C" in assumed
    assert "bucket as wide as it is filled high" in assumed


def test_material_that_was_measured_earns_the_time_that_doubt_had_taken() -> None:
    known, unknown = (
        MODEL(Bucket(EPOXY, 4.0, 0.28, material_c, steady(20.0).air, START)) for material_c in (20.0, None)
    )
    assert known is not None
    assert unknown is not None
    assert unknown.edge.early < known.edge.early
    assert unknown.edge.likely == known.edge.likely


def test_a_model_of_its_own_answers_like_the_shared_one() -> None:
    fresh = bucket_model()(Bucket(EPOXY, 4.0, 0.28, 20.0, steady(20.0).air, START))
    shared = MODEL(Bucket(EPOXY, 4.0, 0.28, 20.0, steady(20.0).air, START))
    assert fresh is not None
    assert shared is not None
    assert fresh.edge == shared.edge
