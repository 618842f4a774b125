"""The model of the truth is held to figures that anybody can work out by hand, and to published ones."""

from __future__ import annotations

import math
import random
import statistics

import pytest

from tests.witness.truth import Pail, Resin, Span, Spell, Weather, dew_point_c, humidity_for, resin_of, sheet, still_min

STILL = Weather(mean_c=20.0, swing_k=0.0, slab_under_k=0.0, rh_pct=50.0)


class Steady(Weather):
    """A slab of one temperature."""

    def slab_c(self, at: float) -> float:
        """Always 20 °C."""
        return 20.0


STEADY = Steady(mean_c=20.0)


def test_warmth_halves_a_span_as_the_trade_says() -> None:
    # 70 min at 20 °C that 10 K halve: 35 at 30, 140 at 10, 49.5 at 25 °C
    span = Span(70.0, 10.0)
    assert [round(span.minutes(temp, 50.0), 1) for temp in (30.0, 10.0, 25.0)] == [35.0, 140.0, 49.5]


def test_the_sheets_own_points_come_back() -> None:
    base = sheet("slow-epoxy-base")
    assert base.closes["back-roll"].at_20 == 70.0
    assert base.closes["back-roll"].minutes(10.0, 50.0) == pytest.approx(130.0, rel=0.03)
    assert base.closes["back-roll"].minutes(30.0, 50.0) == pytest.approx(38.0, rel=0.03)
    damp = sheet("polyaspartic-top-coat").closes["back-roll"]
    assert damp.minutes(20.0, 80.0) == pytest.approx(16.0, rel=0.01)


def test_half_the_time_at_one_temperature_is_half_the_window() -> None:
    resin = Resin(sheet("slow-epoxy-base"))
    assert resin.used("back-roll", STEADY, 600.0, 635.0) == pytest.approx(0.5, rel=1e-6)
    assert resin.edge("back-roll", STEADY, 600.0) == pytest.approx(70.0, rel=1e-6)
    assert resin.edge("back-roll", STEADY, 600.0, 1.4) == pytest.approx(98.0, rel=1e-6)


def test_a_slab_that_warms_evenly_gives_the_sum_by_hand() -> None:
    """From 15 to 25 °C in 100 min: the integral of 2^((T - 20)/k)/tau is k/(r ln 2 tau) (2^(5/k) - 2^(-5/k))."""

    class Warming(Weather):
        def slab_c(self, at: float) -> float:
            return 15.0 + 0.1 * at

    resin = Resin(sheet("slow-epoxy-base"))
    k, tau = resin.sheet.closes["back-roll"].halved_by_k, 70.0
    by_hand = k / (0.1 * math.log(2) * tau) * (2 ** (5 / k) - 2 ** (-5 / k))
    assert resin.used("back-roll", Warming(mean_c=0.0), 0.0, 100.0) == pytest.approx(by_hand, rel=1e-3)


def test_edge_and_share_used_are_each_others_inverse() -> None:
    resin = resin_of(sheet("fast-epoxy-base"), random.Random(1))
    weather = Weather(mean_c=17.0, swing_k=3.0, wobble=1.0)
    for share in (0.5, 1.0, 1.7):
        end = 500.0 + resin.edge("broadcast", weather, 500.0, share)
        assert resin.used("broadcast", weather, 500.0, end) == pytest.approx(share, rel=0.01)


def test_a_pail_that_loses_nothing_follows_the_sum_by_hand() -> None:
    """dg/dt = 2^(heat g/k)/tau from 20 °C, so t = tau k/(heat ln 2) (1 - 2^(-heat/k))."""
    pail = Pail(30.0, 1e9, 11.0)
    by_hand = 50.0 * 11.0 / (30.0 * math.log(2)) * (1 - 2 ** (-30.0 / 11.0))
    assert pail.life_min(50.0, 5.0, 20.0, 20.0) == pytest.approx(by_hand, rel=0.02)


def test_a_pail_without_heat_lasts_as_its_temperature_says() -> None:
    assert Pail(0.0, 60.0, 10.0).life_min(40.0, 1.0, 30.0, 30.0) == pytest.approx(20.0, rel=0.01)


def test_the_sheets_own_pail_lasts_as_the_sheet_says_and_a_bigger_one_less() -> None:
    pail = Pail(30.0, 60.0, 11.1)
    still = still_min(pail, 40.0, 1.0)
    lives = [pail.life_min(still, kg, 20.0, 20.0) for kg in (0.1, 1.0, 10.0)]
    assert lives[1] == pytest.approx(40.0, rel=1e-3)
    assert lives[0] > lives[1] > lives[2]


def test_resins_scatter_by_15_to_20_percent_about_their_sheet() -> None:
    said = sheet("slow-epoxy-base")
    dice = random.Random(7)
    logs = [math.log(resin_of(said, dice).slower["back-roll"]) for _ in range(3000)]
    assert statistics.fmean(logs) == pytest.approx(0.0, abs=0.02)
    assert 0.15 < statistics.stdev(logs) < 0.20


@pytest.mark.parametrize(("air_c", "rh_pct", "dew_c"), [(16.0, 71.0, 11.0), (30.0, 55.0, 20.0), (21.1, 65.0, 13.9)])
def test_dew_points_are_those_that_inspectors_are_taught(air_c: float, rh_pct: float, dew_c: float) -> None:
    """Ambient application conditions, scribd.com/document/146044552; a glossary's dew point; a 70 °F, 65 % chart."""
    assert dew_point_c(air_c, rh_pct) == pytest.approx(dew_c, abs=0.6)
    assert humidity_for(air_c, dew_point_c(air_c, rh_pct)) == pytest.approx(rh_pct, abs=1e-6)


def test_a_spell_of_fog_brings_the_dew_point_where_it_was_told_to() -> None:
    foggy = Weather(mean_c=18.0, spells=(Spell(100.0, 200.0, margin_k=-1.0),))
    assert foggy.margin_k(150.0) == pytest.approx(-1.0, abs=0.01)
    assert foggy.margin_k(50.0) > 4.0
