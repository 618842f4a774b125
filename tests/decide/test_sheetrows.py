"""What the rows of a sheet make of a clock: humidity, spans that stand still, what was seen, what is said of it."""

from __future__ import annotations

import math

import pytest

from mixclock.decide.clocks import LearnedFactor, clock_of
from mixclock.decide.edges import edge_of
from mixclock.decide.weather import steady
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile
from tests.decide.test_edgefigures import EPOXY, START, edge, limit_sheet, minutes
from tests.decide.worlds import BASE, TOP


def damp_top(rows: str) -> Profile:
    return read_profile(TOP.replace('"20 °C, 50 %" = "20 min", "20 °C, 80 %" = "14 min"', rows))


def rolled_min(profile: Profile, temp_c: float, rh_pct: float) -> tuple[float, float, float]:
    found = edge(profile, "back-roll", steady(temp_c, rh_pct=rh_pct)).edge
    return minutes(found.early), minutes(found.likely), minutes(found.late)


def test_the_power_of_moisture_is_the_mean_of_what_the_sheet_says_at_each_temperature() -> None:
    """20 min at 50 % and 14 at 80 %, both at 20 °C: 0.76; 15 and 12.5 at 30 °C: 0.39. 0.57 then holds at both."""
    rows = '"30 °C, 80 %" = "12.5 min", "20 °C, 80 %" = "14 min", "20 °C, 50 %" = "20 min", "30 °C, 50 %" = "15 min"'
    powers = [math.log(long / short) / math.log(80.0 / 50.0) for long, short in ((20.0, 14.0), (15.0, 12.5))]
    assert powers == pytest.approx([0.759, 0.388], abs=0.001)
    power, top = sum(powers) / 2.0, damp_top(rows)
    for temp_c, dry in ((20.0, 20.0), (30.0, 15.0)):
        for rh_pct in (50.0, 65.0, 80.0):
            likely = dry * (50.0 / rh_pct) ** power
            assert rolled_min(top, temp_c, rh_pct) == pytest.approx((0.8 * likely, likely, 1.25 * likely), abs=0.01)


@pytest.mark.parametrize(
    ("rh_pct", "weakest", "strongest"),
    [
        (80.0, 1.0, 50.0 / 80.0),  # moisture may do nothing, or all that there is of it
        (40.0, 1.0, 50.0 / 40.0),
        (25.0, 1.0, 1.0 / 0.6),  # half the water, but moisture is trusted to slow it to six tenths and no further
        (50.0, 1.0, 1.0),
    ],
)
@pytest.mark.parametrize("row", ['"20 °C, 50 %" = "20 min"', '"20 °C" = "20 min"'])
def test_where_a_sheet_tells_one_humidity_or_none_the_power_of_moisture_may_be_from_nought_to_one(
    row: str, rh_pct: float, weakest: float, strongest: float
) -> None:
    """Half of it is likely. A sheet without a humidity was measured at 50 %."""
    sooner, later = sorted((20.0 * weakest, 20.0 * strongest))
    expected = (0.8 * sooner, 20.0 * math.sqrt(50.0 / rh_pct), 1.25 * later)
    assert rolled_min(damp_top(row), 20.0, rh_pct) == pytest.approx(expected, abs=0.01)


def test_a_row_of_another_humidity_is_met_at_its_own() -> None:
    """20 min at 20 °C and 40 %, 12 min at 30 °C and 75 %: each is what the sheet says there, and at the first of them
    moisture, whatever its power, changes nothing."""
    top = damp_top('"20 °C, 40 %" = "20 min", "30 °C, 75 %" = "12 min"')
    assert rolled_min(top, 20.0, 40.0) == pytest.approx((16.0, 20.0, 25.0), abs=0.01)
    assert rolled_min(top, 30.0, 75.0)[1] == pytest.approx(12.0, abs=0.01)
    assert rolled_min(top, 30.0, 40.0)[1] == pytest.approx(12.0 * math.sqrt(75.0 / 40.0), abs=0.01)
    assert rolled_min(top, 20.0, 80.0)[1] == pytest.approx(20.0 * math.sqrt(40.0 / 80.0), abs=0.01)


def test_an_epoxy_whose_sheet_tells_two_humidities_goes_by_them_and_another_by_none() -> None:
    table = '{ "20 °C" = "22 min", "30 °C" = "13 min" }'
    damp = read_profile(BASE.replace(table, '{ "20 °C, 50 %" = "22 min", "20 °C, 80 %" = "16.5 min" }'))
    assert rolled_min(damp, 20.0, 80.0)[1] == pytest.approx(16.5, abs=0.01)
    assert rolled_min(damp, 20.0, 50.0)[1] == pytest.approx(22.0, abs=0.01)
    assert rolled_min(EPOXY, 20.0, 80.0) == rolled_min(EPOXY, 20.0, 50.0)


def test_a_sheet_on_which_damp_air_is_slower_earns_nothing_by_it() -> None:
    top = damp_top('"20 °C, 50 %" = "20 min", "20 °C, 80 %" = "26 min"')
    assert rolled_min(top, 20.0, 80.0)[1] == pytest.approx(20.0, abs=0.01)


def rolled_when_learned(sheet: Profile, factor: float, sigma: float, seen: int) -> tuple[float, float, float]:
    rule = sheet.window("back-roll")
    assert rule is not None
    assert rule.closes is not None
    told = LearnedFactor(factor, sigma, seen)
    found = edge_of("back-roll", rule.closes, sheet, steady(20.0), START, learned=told, closing=True).edge
    return minutes(found.early), minutes(found.likely), minutes(found.late)


def test_what_was_seen_on_the_floor_gives_rolling_its_own_band_and_a_cup_never_a_narrower_one_than_a_fifth() -> None:
    """A spread of 5 %, 1.28 of it each way: seen three times 0.94 and 1.07; seen by nobody a fifth stays."""
    wide = math.exp(1.2815515655 * 0.05)
    likely = 0.9 * 22.0
    assert rolled_when_learned(EPOXY, 0.9, 0.05, 3) == pytest.approx((likely / wide, likely, likely * wide), abs=0.005)
    assert rolled_when_learned(EPOXY, 0.9, 0.05, 0) == pytest.approx((0.8 * likely, likely, likely * wide), abs=0.005)


def test_a_span_that_stands_still_moves_by_what_was_seen_and_by_nothing_else() -> None:
    still = limit_sheet("back-roll", 'closes = "20 min"\nconstant = true')
    wide = math.exp(1.2815515655 * 0.1)
    found = rolled_when_learned(still, 1.2, 0.1, 2)
    assert found == pytest.approx((24.0 / wide, 24.0, 24.0 * wide), abs=0.005)
    assert rolled_when_learned(still, 1.2, 0.1, 0) == pytest.approx((24.0,) * 3, abs=0.001)
    recoat = limit_sheet("recoat", 'closes = "20 min"\nconstant = true').window("recoat")
    assert recoat is not None
    assert recoat.closes is not None
    told = LearnedFactor(1.2, 0.1, 2)
    limit = edge_of(
        "recoat", recoat.closes, EPOXY, steady(20.0), START, learned=told, closing=True
    ).edge  # the maker's 20 min stand as the safe side
    assert (minutes(limit.early), minutes(limit.likely)) == pytest.approx((20.0, 24.0), abs=0.001)


def test_what_a_span_on_the_sheet_leaves_open_is_said_and_nothing_else_is() -> None:
    one = "one point on the sheet: how temperature moves it is assumed for the family"
    sheets = (
        'closes = "20 min"\nconstant = true',
        'closes = { "20 °C" = "20 min" }',
        'closes = { "20 °C" = "20 min", "30 °C" = "12 min" }',
        'closes = { "10 °C" = "35 min", "20 °C" = "20 min", "30 °C" = "12 min" }',
        'closes = "20 min"',
    )
    said = [edge(limit_sheet("back-roll", closes), "back-roll", steady(20.0)).assumed for closes in sheets]
    undated = "the sheet gives no temperature: taken at 20 °C, to be safe; ask for it"
    assert said == [("the sheet gives no temperature: it stands still at any",), (one,), (), (), (undated, one)]


def test_how_far_off_a_limits_law_may_be_is_said_by_the_kelvin_and_of_a_limit_alone() -> None:
    """Six kelvin from the nearest point, two in the hundred each; rolling has a band of its own."""
    for window, closes, words in (
        ("recoat", 'closes = { "20 °C" = "20 h", "30 °C" = "12 h" }', ["12 %"]),
        ("back-roll", 'closes = { "20 °C" = "20 min", "30 °C" = "12 min" }', []),
    ):
        told = edge(limit_sheet(window, closes), window, steady(14.0)).assumed
        assert [each.split("may be ")[1].split(" off")[0] for each in told if "its law may be" in each] == words
    assert not any(
        "its law may be" in each
        for each in edge(limit_sheet("recoat", 'closes = { "20 °C" = "20 h" }'), "recoat", steady(20.0)).assumed
    )


@pytest.mark.parametrize(
    ("slab_c", "stated"),
    [
        ((16.0, 25.0), True),
        ((15.0, 29.9), True),
        ((5.0, 20.0), False),  # colder for a while than the sheet's coldest row
        ((16.0, 31.0), False),
        ((16.0, 30.0), False),  # from the hottest row on, the law beyond it holds
        ((31.0, 35.0), False),
        (None, False),  # the first readings are forgotten: nobody can tell
    ],
)
def test_a_sheet_speaks_for_a_slab_that_never_leaves_its_rows(slab_c: tuple[float, float] | None, stated: bool) -> None:
    recoat = limit_sheet("recoat", 'closes = { "15 °C" = "48 h", "30 °C" = "24 h" }').window("recoat")
    assert recoat is not None
    assert recoat.closes is not None
    clock = clock_of("recoat", recoat.closes, EPOXY.family, LearnedFactor(), True)
    assert clock.is_stated(slab_c) is stated
    still = limit_sheet("recoat", 'closes = "20 min"\nconstant = true').window("recoat")
    assert still is not None
    assert still.closes is not None
    assert not clock_of("recoat", still.closes, EPOXY.family, LearnedFactor(), True).is_stated(slab_c)
