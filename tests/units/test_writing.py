"""What is written for a crew reads back as what it was, within the rounding that a person would use."""

import math
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock import units
from mixclock.units import METRIC_CREW, US_CREW, CrewUnits

CREWS = st.sampled_from([METRIC_CREW, US_CREW])
GAL, LB, OZ, FT = 3.785411784, 0.45359237, 0.028349523125, 0.3048
SHARE_OF_TWO_FIGURES, SHARE_OF_THREE_FIGURES = 0.05, 0.005  # 1.05 may be written as 1.0 or 1.1


def near(value: float, *, within: float = 0.0, share: float = 0.0):
    return pytest.approx(value, abs=within + share * abs(value) + 1e-9)


@given(CREWS, st.floats(-60, 120))
def test_a_temperature_reads_back_to_a_degree(crew: CrewUnits, c: float) -> None:
    assert units.temp_c(crew.write_temp(c)) == near(c, within=0.5)


@given(CREWS, st.floats(-60, 60))
def test_a_difference_reads_back_to_a_degree(crew: CrewUnits, k: float) -> None:
    assert units.temp_difference_k(crew.write_difference(k)) == near(k, within=0.5)


@given(CREWS, st.floats(-20, 40))
def test_a_dew_margin_is_never_written_larger_than_it_is(crew: CrewUnits, k: float) -> None:
    written = units.temp_difference_k(crew.write_margin(k))
    assert k - 0.1 - 1e-6 <= written <= k + 1e-6


def test_a_margin_just_under_the_limit_does_not_look_like_the_limit() -> None:
    assert METRIC_CREW.write_margin(2.999) == "2.9 °C"
    assert METRIC_CREW.write_margin(3.0) == "3.0 °C"
    assert US_CREW.write_margin(5 / 1.8) == "5.0 °F"


@given(CREWS, st.floats(0.001, 5000))
def test_a_volume_reads_back_to_two_figures_or_a_tenth(crew: CrewUnits, litres: float) -> None:
    large = GAL if crew.system == "US" else 1.0
    tenth = 0.05 * large if litres >= 1.0 * large else 0.025 * GAL if crew.system == "US" else 0.0
    rough = 0.5 * large if litres > 99.9 * large else 0.0
    assert units.volume_l(crew.write_volume(litres)) == near(
        litres, within=tenth + rough, share=SHARE_OF_TWO_FIGURES if tenth < 0.05 * large else 0
    )


@given(CREWS, st.floats(0.001, 5000))
def test_an_amount_to_measure_out_is_within_half_a_percent(crew: CrewUnits, litres: float) -> None:
    assert units.volume_l(crew.write_volume(litres, measured=True)) == near(litres, share=SHARE_OF_THREE_FIGURES)
    assert units.mass_kg(crew.write_mass(litres, measured=True)) == near(litres, share=SHARE_OF_THREE_FIGURES)


@given(CREWS, st.floats(0.001, 5000))
def test_a_weight_reads_back_to_two_figures_or_a_tenth(crew: CrewUnits, kg: float) -> None:
    assert units.mass_kg(crew.write_mass(kg)) == near(kg, share=SHARE_OF_TWO_FIGURES)


@given(CREWS, st.floats(0.5, 5000))
def test_an_area_reads_back_to_a_square_foot_or_half_a_square_metre(crew: CrewUnits, m2: float) -> None:
    assert units.area_m2(crew.write_area(m2)) == near(m2, within=0.05 if m2 < 9 or crew.system == "US" else 0.5)


@given(CREWS, st.floats(0.01, 500))
def test_a_length_reads_back_to_two_figures(crew: CrewUnits, m: float) -> None:
    assert units.length_m(crew.write_length(m)) == near(m, share=SHARE_OF_TWO_FIGURES)


@given(CREWS, st.floats(10, 20_000))
def test_a_film_reads_back_to_a_tenth_of_a_mil(crew: CrewUnits, um: float) -> None:
    assert units.film_um(crew.write_film(um)) == near(um, within=1.27 if crew.system == "US" else 0.5)


@pytest.mark.parametrize(
    ("write", "read", "share"),
    [
        ("write_spread", units.spread_m2_l, SHARE_OF_TWO_FIGURES),
        ("write_density", units.density_kg_l, SHARE_OF_THREE_FIGURES),
        ("write_rate", units.rate_m2_h, SHARE_OF_TWO_FIGURES),
        ("write_edge_rate", units.rate_m_h, SHARE_OF_TWO_FIGURES),
        ("write_mass_per_area", units.mass_per_area_kg_m2, SHARE_OF_TWO_FIGURES),
    ],
)
@given(crew=CREWS, value=st.floats(0.01, 2000))
def test_a_rate_reads_back_to_its_figures(write: str, read, share: float, crew: CrewUnits, value: float) -> None:
    assert read(getattr(crew, write)(value)) == near(value, share=share)


@pytest.mark.parametrize(
    ("litres", "metric", "us"),
    [
        (0.996, "1 L", "1.1 qt"),
        (0.0, "0 mL", "0 fl oz"),
        (6.0, "6 L", "1.6 gal"),
        (18.93, "18.9 L", "5 gal"),
        (378.5, "378 L", "100 gal"),
    ],
)
def test_a_volume_is_written_as_a_person_says_it(litres: float, metric: str, us: str) -> None:
    assert METRIC_CREW.write_volume(litres) == metric
    assert US_CREW.write_volume(litres) == us


def test_nothing_is_written_with_a_minus_before_nought_or_in_powers_of_ten() -> None:
    assert METRIC_CREW.write_temp(-0.3) == "0 °C"
    assert METRIC_CREW.write_area(1_234_567.0) == "1234567 m²"
    assert METRIC_CREW.write_mass_per_area(0.000012) == "0.000012 kg/m²"


SPANS = st.floats(0, 30 * 86_400)


@pytest.mark.parametrize(
    ("s", "written", "said"),
    [
        (0, "under a minute", "less than a minute"),
        (59.9, "under a minute", "less than a minute"),
        (60, "1 min", "one minute"),
        (720, "12 min", "twelve minutes"),
        (2700, "45 min", "forty-five minutes"),
        (3600, "1 h", "one hour"),
        (5400, "1 h 30 min", "one hour and thirty minutes"),
        (7199, "2 h", "one hour and fifty-nine minutes"),  # what is left is never rounded up
        (12 * 3600 + 7 * 60, "12 h", "twelve hours"),
        (24 * 3600, "24 h", "twenty-four hours"),
        (2 * 86_400, "2 days", "two days"),
        (2 * 86_400 + 6 * 3600, "2 days 6 h", "two days and six hours"),
        (9.3 * 86_400, "9 days", "nine days"),
    ],
)
def test_a_span_is_written_and_said_as_a_person_says_it(s: float, written: str, said: str) -> None:
    assert units.write_span(s) == written
    assert METRIC_CREW.write_span(s) == written
    assert units.say_remaining(s) == said


@given(SPANS)
def test_what_is_left_is_never_written_longer_than_it_is(s: float) -> None:
    written = units.write_remaining(s)
    if s < 60:
        assert written == "under a minute"
        return
    assert s * (1 - 1 / 7) - 60 < units.span_s(written) <= s
    assert US_CREW.write_remaining(s) == written


@given(SPANS.filter(lambda s: s >= 60))
def test_a_span_reads_back_within_a_twelfth(s: float) -> None:
    assert units.span_s(units.write_span(s)) == near(s, within=30, share=1 / 12)


@given(SPANS, SPANS)
def test_a_longer_span_is_never_written_as_the_shorter_one(first: float, second: float) -> None:
    short, long = sorted((first, second))
    for write in (units.write_span, units.write_remaining):
        written = [write(s) for s in (short, long)]
        lengths = [0.0 if text == "under a minute" else units.span_s(text) for text in written]
        assert lengths[0] <= lengths[1]


@pytest.mark.parametrize("s", [-1.0, math.nan, math.inf])
def test_a_span_that_is_no_span_is_a_mistake_of_the_program(s: float) -> None:
    with pytest.raises(ValueError, match="zero or more"):
        units.write_span(s)


LISBON = ZoneInfo("Europe/Lisbon")


def test_a_closing_time_drops_its_seconds_and_an_opening_time_goes_up() -> None:
    at = datetime(2026, 4, 13, 8, 51, 40, tzinfo=UTC)
    assert units.write_clock(at, LISBON) == "9:51"
    assert METRIC_CREW.write_clock(at, LISBON, up=True) == "9:52"
    assert units.write_clock(datetime(2026, 4, 13, 22, 59, 59, tzinfo=UTC), LISBON, up=True) == "0:00"
    assert units.write_clock(datetime(2026, 12, 1, 9, 5, tzinfo=UTC), LISBON, up=True) == "9:05"
    with pytest.raises(ValueError, match="zone"):
        units.write_clock(datetime(2026, 4, 13, 8, 51), LISBON)  # noqa: DTZ001 - the missing zone is the point


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)))  # noqa: DTZ001
def test_a_time_on_the_wall_reads_back_to_its_minute(at: datetime) -> None:
    local = at.astimezone(LISBON)
    down, up = (units.clock_time(units.write_clock(at, LISBON, up=up)) for up in (False, True))
    assert (down.hour, down.minute) == (local.hour, local.minute)
    later = (at + timedelta(seconds=59, microseconds=999_999)).astimezone(LISBON)
    assert (up.hour, up.minute) == (later.hour, later.minute)


@pytest.mark.parametrize(
    ("texts", "system"),
    [
        ([], "metric"),
        (["11.5 m2", "9 m", "300 um"], "metric"),
        (["120 ft²", "30 ft", "8 mil", "9 L"], "US"),
        (["12 x 10 ft", "72 °F"], "US"),
        (["150 ft²/gal"], "US"),
        (["1 acre", "10 min", "62 %"], "metric"),
        (["what", "", "120 ft²"], "US"),
        (["120 ft²", "11 m²"], "metric"),
    ],
)
def test_a_crew_is_answered_in_the_units_of_its_job_file(texts: list[str], system: str) -> None:
    assert units.crew_units_for(texts).system == system
