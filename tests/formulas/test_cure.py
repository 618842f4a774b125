"""A window's clock along what the slab went through."""

from __future__ import annotations

import math
from itertools import accumulate, pairwise

import numpy as np
import pytest
import scipy
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from mixclock.formulas.cure import History, Moisture, RateLaw, ripeness, time_of_ripeness
from mixclock.formulas.rate_law import constant_law, law_from_points, tau_s
from tests.examples import examples
from tests.formulas.histories import constant_history, equivalent_age_s

SLOW = law_from_points([(10.0, 4200.0), (20.0, 2400.0), (30.0, 1200.0)], 47e3)


@st.composite
def laws(draw: st.DrawFn) -> RateLaw:
    """What a sheet may state: one to three temperatures, warmer never slower."""
    temp_c, span_s, points = draw(st.floats(5.0, 20.0)), draw(st.floats(600.0, 90000.0)), []
    for _ in range(draw(st.integers(1, 3))):
        points.append((temp_c, span_s))
        temp_c, span_s = temp_c + draw(st.floats(5.0, 12.0)), span_s * draw(st.floats(0.35, 0.9))
    return law_from_points(points, draw(st.floats(35e3, 90e3)))


@st.composite
def histories(draw: st.DrawFn) -> History:
    """Readings over some hours, with jumps now and then."""
    gaps = draw(st.lists(st.sampled_from([0.0, 60.0, 600.0, 1800.0, 7200.0]), min_size=1, max_size=8))
    temps = draw(st.lists(st.floats(-5.0, 45.0), min_size=len(gaps), max_size=len(gaps)))
    return History(tuple(float(sum(gaps[: index + 1])) for index in range(len(gaps))), tuple(temps))


def ripened_by_scipy(
    law: RateLaw, history: History, start_s: float, end_s: float, moisture: Moisture | None = None
) -> float:
    """The same integral by scipy's eighth-order solver, restarted at each reading."""
    knots = {*history.times_s, *(moisture.history.times_s if moisture else ())}
    cuts = [start_s, *sorted(time_s for time_s in knots if start_s < time_s < end_s), end_s]
    total = 0.0
    for begin_s, finish_s in pairwise(cuts):
        temps = [history.after(begin_s), history.before(finish_s)]

        def rate(time_s: float, _: object, ends: tuple[float, ...] = (begin_s, finish_s, *temps)) -> list[float]:
            temp_c = ends[2] + (ends[3] - ends[2]) * (time_s - ends[0]) / (ends[1] - ends[0])
            factor = 1.0
            if moisture:
                relative = moisture.history.at(time_s) / moisture.reference_g_m3
                factor = min(2.5, max(0.6, relative**moisture.exponent))
            return [factor / tau_s(law, temp_c)]

        step_s = (finish_s - begin_s) / 40.0  # so that it sees the bends at the sheet's temperatures
        solved = scipy.integrate.solve_ivp(
            rate, (begin_s, finish_s), [total], "DOP853", rtol=1e-10, atol=1e-12, max_step=step_s
        )
        total = float(solved.y[0, -1])
    return total


@pytest.mark.parametrize("seed", range(60))
def test_sixty_random_days_agree_with_an_ode_solver_to_a_millionth(seed: int) -> None:
    """1e-6 of the window: a twentieth of a second in a day; scipy itself stops at 1e-10 a step."""
    rng = np.random.default_rng(seed)
    temps = sorted(rng.choice([5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0], rng.integers(1, 5), replace=False))
    energy = rng.uniform(30e3, 85e3)
    spans = [
        3000.0 * math.exp(energy / 8.314 * (1 / (t + 273.15) - 1 / 293.15)) * rng.uniform(0.95, 1.05) for t in temps
    ]
    law = law_from_points(list(zip(map(float, temps), spans, strict=True)), 47e3)
    times = np.cumsum(rng.uniform(60.0, 1500.0, 6))
    history = History(tuple(map(float, times)), tuple(map(float, rng.uniform(0.0, 45.0, 6))))
    edge_s = time_of_ripeness(law, history, 100.0)
    assert ripened_by_scipy(law, history, 100.0, edge_s) == pytest.approx(1.0, abs=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_a_moisture_driven_film_agrees_with_an_ode_solver_too(seed: int) -> None:
    """2e-5: the solver steps over the kinks where the factor is held, which our own cuts fall on."""
    rng = np.random.default_rng(1000 + seed)
    history = History((0.0, 900.0, 2400.0), tuple(map(float, rng.uniform(10.0, 35.0, 3))))
    damp = History((0.0, 700.0, 1900.0), tuple(map(float, rng.uniform(0.5, 30.0, 3))))
    moisture = Moisture(damp, 9.0, float(rng.uniform(0.2, 1.5)))
    edge_s = time_of_ripeness(SLOW, history, 0.0, moisture=moisture)
    assert ripened_by_scipy(SLOW, history, 0.0, edge_s, moisture) == pytest.approx(1.0, abs=2e-5)


@given(law=laws(), history=histories(), warmer_k=st.floats(0.0, 10.0))
def test_a_warmer_day_never_brings_an_edge_later(law: RateLaw, history: History, warmer_k: float) -> None:
    warm = History(history.times_s, tuple(temp_c + warmer_k for temp_c in history.values))
    assert time_of_ripeness(law, warm, 0.0) <= time_of_ripeness(law, history, 0.0) * (1.0 + 1e-9)


@given(law=laws(), history=histories(), parts=st.integers(2, 5))
def test_reading_the_thermometer_more_often_changes_nothing(law: RateLaw, history: History, parts: int) -> None:
    """1e-9, with readings added on the straight lines between the others."""
    finer: list[tuple[float, float]] = []
    for (early, low), (late, high) in pairwise(zip(history.times_s, history.values, strict=True)):
        finer += [(early + (late - early) * k / parts, low + (high - low) * k / parts) for k in range(parts)]
    finer.append((history.times_s[-1], history.values[-1]))
    fine = History(tuple(t for t, _ in finer), tuple(v for _, v in finer))
    assert time_of_ripeness(law, fine, 0.0) == pytest.approx(time_of_ripeness(law, history, 0.0), rel=1e-9)


@given(law=laws(), history=histories(), share=st.floats(0.0, 1.0), factor=st.floats(0.5, 2.0))
def test_stopping_the_clock_and_going_on_from_its_ripeness_is_exact(
    law: RateLaw, history: History, share: float, factor: float
) -> None:
    edge_s = time_of_ripeness(law, history, 0.0, factor=factor)
    stop_s = share * edge_s
    used = ripeness(law, history, 0.0, stop_s, factor)
    assert time_of_ripeness(law, history, stop_s, start_ripeness=used, factor=factor) == pytest.approx(
        edge_s, rel=1e-9, abs=1e-6
    )
    assert used + ripeness(law, history, stop_s, edge_s, factor) == pytest.approx(1.0, abs=1e-9)


@given(law=laws(), temp_c=st.floats(-5.0, 45.0), used=st.floats(0.0, 0.99))
def test_at_one_temperature_it_is_plain_arithmetic(law: RateLaw, temp_c: float, used: float) -> None:
    edge_s = time_of_ripeness(law, constant_history(temp_c), 50.0, start_ripeness=used)
    assert edge_s == pytest.approx(50.0 + (1.0 - used) * tau_s(law, temp_c), rel=1e-12)


@given(law=laws(), history=histories(), colder_c=st.floats(-5.0, 15.0))
def test_a_reading_changes_nothing_that_lies_before_it(law: RateLaw, history: History, colder_c: float) -> None:
    last_s = history.times_s[-1]
    later = History((*history.times_s, last_s + 600.0), (*history.values, colder_c))
    assert ripeness(law, later, 0.0, last_s) == ripeness(law, history, 0.0, last_s)


def test_what_the_bucket_used_up_is_not_there_on_the_floor() -> None:
    fresh_s = time_of_ripeness(SLOW, constant_history(20.0), 0.0)
    late_s = time_of_ripeness(SLOW, constant_history(20.0), 0.0, start_ripeness=0.22)
    assert late_s == pytest.approx(0.78 * fresh_s, rel=1e-12)
    assert time_of_ripeness(SLOW, constant_history(20.0), 0.0, start_ripeness=1.2) == 0.0


def test_a_learned_factor_stretches_the_whole_window() -> None:
    history = History((0.0, 1800.0), (15.0, 28.0))
    assert ripeness(SLOW, history, 0.0, 2000.0, factor=2.0) == pytest.approx(
        ripeness(SLOW, history, 0.0, 2000.0) / 2.0, rel=1e-12
    )


def test_damp_air_brings_a_polyaspartic_s_edge_forward_and_dry_air_puts_it_off() -> None:
    law, slab = constant_law(1200.0), constant_history(21.0)
    damp, dry = (Moisture(constant_history(water), 9.0, 0.5) for water in (14.0, 6.0))
    edges = [time_of_ripeness(law, slab, 0.0, moisture=moisture) for moisture in (damp, None, dry)]
    assert edges == sorted(edges)
    assert edges[0] == pytest.approx(1200.0 * (9.0 / 14.0) ** 0.5, rel=1e-9)


def test_a_span_without_dependence_ends_to_the_second_when_it_says() -> None:
    assert time_of_ripeness(constant_law(1800.0), History((0.0, 60.0), (5.0, 40.0)), 7.0) == 1807.0


def test_time_before_the_start_ripens_nothing() -> None:
    assert ripeness(SLOW, constant_history(20.0), 100.0, 50.0) == 0.0


@examples(30)
@given(history=histories())
def test_equivalent_age_at_the_reference_temperature_is_age(history: History) -> None:
    held = History(history.times_s, tuple(20.0 for _ in history.values))
    assert equivalent_age_s(held, 0.0, 5000.0) == pytest.approx(5000.0, rel=1e-12)


@pytest.mark.parametrize("factor", [0.0, -1.0, math.nan, math.inf])
def test_a_factor_that_cannot_be_is_refused(factor: float) -> None:
    with pytest.raises(ValueError, match="factor"):
        ripeness(SLOW, constant_history(20.0), 0.0, 1.0, factor)


@given(
    st.lists(st.tuples(st.floats(0.0, 5000.0), st.floats(-5.0, 40.0)), min_size=70, max_size=120),
    st.floats(-1000.0, 2e5),
    st.floats(0.001, 60.0),
)
def test_weeks_of_readings_looked_up_say_the_same_as_added_up(
    steps: list[tuple[float, float]], start_s: float, target: float
) -> None:
    law = law_from_points([(10.0, 9000.0), (20.0, 4000.0), (30.0, 2500.0)], 47e3)
    times, at_s = [], 0.0
    for step_s, _ in steps:
        at_s += step_s
        times.append(at_s)
    history = History(tuple(times), tuple(temp_c for _, temp_c in steps))
    added = 0.0
    knots = [start_s, *(time_s for time_s in times if time_s > start_s)]
    # stretch by stretch, each with a history too short to be looked up
    for begin_s, end_s in pairwise(knots):
        short = History((begin_s, end_s), (history.after(begin_s), history.before(end_s)))
        added += ripeness(law, short, begin_s, end_s)
    assert ripeness(law, history, start_s, max(knots)) == pytest.approx(added, rel=1e-9, abs=1e-12)
    reached_s = time_of_ripeness(law, history, start_s, target)
    assert ripeness(law, history, start_s, reached_s) == pytest.approx(target, rel=1e-9)


@given(
    st.lists(
        st.tuples(st.floats(1.0, 5000.0), st.floats(-5.0, 40.0) | st.floats(19.9, 20.1), st.floats(0.1, 25.0)),
        min_size=70,
        max_size=110,
    ),
    st.sampled_from([0.3, 0.5, 1.0]),
    st.floats(-1000.0, 1e5),
    st.floats(0.001, 60.0),
)
@settings(max_examples=15, phases=[Phase.explicit, Phase.generate])
def test_weeks_of_damp_readings_looked_up_say_the_same_as_added_up(
    steps: list[tuple[float, float, float]], exponent: float, start_s: float, target: float
) -> None:
    law = law_from_points([(10.0, 9000.0), (20.0, 4000.0), (30.0, 2500.0)], 47e3)
    times = list(accumulate(step_s for step_s, _, _ in steps))
    history = History(tuple(times), tuple(temp_c for _, temp_c, _ in steps))
    wet = History(tuple(times[::2]), tuple(water for _, _, water in steps[::2]))
    knots = [start_s, *(time_s for time_s in times if time_s > start_s)]
    # stretch by stretch, each with a history too short to be looked up
    added = 0.0
    for begin_s, end_s in pairwise(knots):
        short = History((begin_s, end_s), (history.after(begin_s), history.before(end_s)))
        damp = Moisture(History((begin_s, end_s), (wet.after(begin_s), wet.before(end_s))), 9.0, exponent)
        added += ripeness(law, short, begin_s, end_s, moisture=damp)
    moisture = Moisture(wet, 9.0, exponent)
    assert ripeness(law, history, start_s, max(knots), moisture=moisture) == pytest.approx(added, rel=1e-9, abs=1e-12)
    reached_s = time_of_ripeness(law, history, start_s, target, moisture=moisture)
    assert ripeness(law, history, start_s, reached_s, moisture=moisture) == pytest.approx(target, rel=1e-9)


@pytest.mark.parametrize("end_s", [3651.3300984246466, 7302.660196849293])
def test_a_damp_stretch_is_reckoned_to_its_very_end_though_begin_and_span_add_up_to_less(end_s: float) -> None:
    """By hand: at the sheet's temperature and humidity a law of 4000 s ripens by the seconds over 4000."""
    begin_s = next(60.4187 + 1e-7 * step for step in range(1000) if _falls_short(60.4187 + 1e-7 * step, end_s))
    history, wet = History((begin_s, end_s), (20.0, 20.0)), History((begin_s, end_s), (9.0, 9.0))
    moisture = Moisture(wet, 9.0, 0.3)
    found = ripeness(constant_law(4000.0), history, begin_s, end_s, moisture=moisture)
    assert found == pytest.approx((end_s - begin_s) / 4000.0, rel=1e-12)


def _falls_short(begin_s: float, end_s: float) -> bool:
    return begin_s + (end_s - begin_s) < end_s


@pytest.mark.parametrize(("start_c", "end_c"), [(-21.0, 20.0), (20.0, -21.0), (-30.0, 30.0), (2.0, 48.0)])
def test_a_wide_stretch_by_a_steep_law_is_as_exact_on_either_side_of_freezing(start_c: float, end_c: float) -> None:
    """110 kJ/mol over forty kelvin: the rate changes a thousandfold within one hour."""
    law = law_from_points([(20.0, 1800.0)], 110e3)
    slope_k = 110e3 / 8.314462618

    def rate(time_s: float) -> float:
        temp_k = start_c + (end_c - start_c) * time_s / 3600.0 + 273.15
        return math.exp(-slope_k * (1.0 / temp_k - 1.0 / 293.15)) / 1800.0

    expected, _ = scipy.integrate.quad(rate, 0.0, 3600.0, epsabs=0.0, epsrel=1e-12)
    assert ripeness(law, History((0.0, 3600.0), (start_c, end_c)), 0.0, 3600.0) == pytest.approx(expected, rel=1e-8)


def test_a_damp_film_that_is_laid_after_the_loggers_last_reading_goes_by_that_reading() -> None:
    """The law takes 2,400 s at 20 °C; nine times the reference to the power of a quarter is √3 times as fast."""
    law = law_from_points([(20.0, 2400.0), (30.0, 1200.0)], 47e3)
    minutes = tuple(60.0 * minute for minute in range(100))
    temps = History(minutes, (*(12.0 + 0.05 * minute for minute in range(99)), 20.0))
    damp = Moisture(History(minutes, (*(5.0 + 0.02 * minute for minute in range(99)), 9.0)), 1.0, 0.25)
    assert time_of_ripeness(law, temps, 7200.0, moisture=damp) == pytest.approx(7200.0 + 2400.0 / math.sqrt(3.0))
    assert ripeness(law, temps, 7200.0, 7800.0, moisture=damp) == pytest.approx(math.sqrt(3.0) / 4.0)
