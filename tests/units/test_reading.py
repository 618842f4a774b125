"""What crews type, and what is refused with a word on how to mend it."""

import math
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from mixclock import units
from mixclock.units import UnitError

READERS = {
    "temperature": units.temp_c,
    "difference": units.temp_difference_k,
    "volume": units.volume_l,
    "mass": units.mass_kg,
    "amount": units.amount,
    "area": units.area_m2,
    "length": units.length_m,
    "film": units.film_um,
    "spread": units.spread_m2_l,
    "density": units.density_kg_l,
    "share": units.pct,
    "area rate": units.rate_m2_h,
    "edge rate": units.rate_m_h,
    "mass per area": units.mass_per_area_kg_m2,
    "number": units.number,
    "span": units.span_s,
    "clock": units.clock_time,
}


@pytest.mark.parametrize(
    ("read", "typed", "expected"),
    [
        (units.temp_c, "72F", 22.2222),
        (units.temp_c, "70 degF", 21.1111),  # raises as a string in pint
        (units.temp_c, "70 deg F", 21.1111),
        (units.temp_c, "70 degrees Fahrenheit", 21.1111),
        (units.temp_c, "22 °C", 22.0),
        (units.temp_c, "22c", 22.0),
        (units.temp_c, "22℃", 22.0),
        (units.temp_c, "72 ℉", 22.2222),
        (units.temp_c, "72 º F", 22.2222),  # the ordinal sign of a Portuguese keyboard
        (units.temp_c, "\u22125 °C", -5.0),
        (units.temp_c, "-5\u202f°C", -5.0),
        (units.temp_c, "22,5 °C", 22.5),
        (units.temp_c, "295.15 K", 22.0),
        (units.temp_difference_k, "3 °C", 3.0),
        (units.temp_difference_k, "5 °F", 2.77778),
        (units.temp_difference_k, "-2 K", -2.0),
        (units.volume_l, "6 L", 6.0),
        (units.volume_l, "6\u202fL", 6.0),
        (units.volume_l, "1.5 gal", 5.67812),
        (units.volume_l, "1 1/2 gal", 5.67812),
        (units.volume_l, "1-1/2 gal", 5.67812),
        (units.volume_l, "1½ gal", 5.67812),
        (units.volume_l, "½ gal", 1.89271),
        (units.volume_l, "5 gal 2 qt", 20.81976),
        (units.volume_l, "12 fl. oz.", 0.354882),
        (units.volume_l, "2 ft³", 56.63369),
        (units.volume_l, "1,5 L", 1.5),
        (units.volume_l, "0,125 L", 0.125),
        (units.volume_l, "1500,250 L", 1500.25),
        (units.volume_l, "1.500 L", 1.5),
        (units.mass_kg, "1,5 kg", 1.5),  # 15 kg to pint
        (units.mass_kg, "2 lb 4 oz", 1.020583),
        (units.mass_kg, "850g", 0.85),
        (units.area_m2, "11.5 m2", 11.5),
        (units.area_m2, "11,5 m²", 11.5),
        (units.area_m2, "11.5 m^2", 11.5),
        (units.area_m2, "120 ft²", 11.14836),
        (units.area_m2, "120 sq. ft.", 11.14836),
        (units.area_m2, "120 square feet", 11.14836),
        (units.area_m2, "12 x 10 ft", 11.14836),
        (units.area_m2, "3,4 m × 2,5 m", 8.5),
        (units.length_m, "9 m", 9.0),
        (units.length_m, "30 ft", 9.144),
        (units.length_m, "28 cm", 0.28),
        (units.length_m, "6' 4\"", 1.9304),
        (units.length_m, "6′ 4″", 1.9304),
        (units.film_um, "8 mil", 203.2),
        (units.film_um, "200 \u00b5m", 200.0),
        (units.film_um, "200 \u03bcm", 200.0),
        (units.film_um, "200 um", 200.0),
        (units.film_um, "0.2 mm", 200.0),
        (units.spread_m2_l, "150 ft²/gal", 3.681358),
        (units.spread_m2_l, "8 m²/L", 8.0),
        (units.spread_m2_l, "8 m2 per litre", 8.0),
        (units.spread_m2_l, "0,25 L/m²", 4.0),
        (units.spread_m2_l, "1 gal per 40 ft²", 0.981695),
        (units.density_kg_l, "1.13 kg/L", 1.13),
        (units.density_kg_l, "9.4 lb/gal", 1.126368),
        (units.density_kg_l, "1130 kg/m3", 1.13),
        (units.pct, "62 %", 62.0),
        (units.pct, "62", 62.0),
        (units.pct, "62 % RH", 62.0),
        (units.rate_m2_h, "110 m2/h", 110.0),
        (units.rate_m2_h, "1200 ft²/h", 111.483648),
        (units.rate_m_h, "35 m/h", 35.0),
        (units.mass_per_area_kg_m2, "0.4 kg/m2", 0.4),
        (units.mass_per_area_kg_m2, "0.1 lb/ft²", 0.488243),
        (units.mass_per_area_kg_m2, "10 lb per 100 ft²", 0.488243),
        (units.number, "1,5", 1.5),
        (units.number, "\u22122", -2.0),
    ],
)
def test_what_a_crew_types_is_understood(read, typed: str, expected: float) -> None:
    assert read(typed) == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize(
    ("typed", "first", "second"),
    [("1,500 L", "1.5 L", "1500 L"), ("1.000,5 L", "1000.5 L", "1.0005 L"), ("12,345 gal", "12.345 gal", "12345 gal")],
)
def test_a_comma_that_could_mean_two_amounts_is_refused_with_both_named(typed: str, first: str, second: str) -> None:
    with pytest.raises(UnitError, match=rf"can be read as {re.escape(first)} or as {re.escape(second)}"):
        units.volume_l(typed)


@pytest.mark.parametrize(
    ("typed", "mended"),
    [
        ("1,000.5 L", "write 1000.5 L"),
        ("1,234,567 L", "write 1234567 L"),
        ("1\u202f500 L", "write 1500 L"),
        ("1.234.567,5 L", "write 1234567.5 L"),
    ],
)
def test_signs_between_thousands_are_refused_with_the_number_without_them(typed: str, mended: str) -> None:
    with pytest.raises(UnitError, match=re.escape(mended)):
        units.volume_l(typed)


@pytest.mark.parametrize(
    ("read", "typed", "words"),
    [
        (units.volume_l, "5 kg", "is a weight, where a volume belongs: write 6 L or 1.5 gal"),
        (units.mass_kg, "6 L", "is a volume, where a weight belongs: write 12 kg or 26 lb"),
        (units.area_m2, "10 m", "is a length, where an area belongs"),
        (units.film_um, "9 m", "is a length, where a film thickness belongs"),
        (units.spread_m2_l, "150 ft²", "is an area, where a spread rate belongs"),
        (units.spread_m2_l, "8 m²/kg", "by weight"),
        (units.amount, "5 min", "is a span of time, where an amount belongs: write 6 L or 12 kg"),
        (units.temp_c, "5 kg", "is a weight, where a temperature belongs"),
        (units.volume_l, "5 lites", "did you mean litres?"),
        (units.spread_m2_l, "150 ft2/gall", "did you mean ft2/gal?"),
        (units.film_um, "8 mill", "did you mean mil?"),
        (units.temp_c, "22", "22 what? write 22 °C or 22 °F"),
        (units.temp_c, "22°", "22 what?"),
        (units.volume_l, "6", "6 what? write 6 L or 6 gal"),
        (units.area_m2, "12 x 10", "12 x 10 what?"),
        (units.span_s, "5", "5 what? write 5 min or 5 h"),
        (units.volume_l, "12 oz", "write fl oz for a volume"),
        (units.amount, "12 oz", "ounces are a weight or a volume"),
        (units.mass_kg, "3 ton", "1000 kg, 907 kg or 1016 kg"),
        (units.rate_m2_h, "500 ft2/day", "a working day is how many hours?"),
        (units.temp_c, "-300 °C", "below absolute zero"),
        (units.pct, "101 %", "over 100 %"),
        (units.pct, "-1 %", "below zero"),
        (units.volume_l, "-3 L", "below zero"),
        (units.volume_l, "\u22123 L", "below zero"),
        (units.area_m2, "0 m2", "is nothing, where an area belongs"),
        (units.amount, "0 L", "is nothing, where an amount belongs"),
        (units.spread_m2_l, "0 L/m2", "is nothing"),
        (units.volume_l, "10-15 L", "two values where one belongs"),
        (units.film_um, "10 – 15 mil", "two values where one belongs"),
        (units.temp_c, "10 °C to 15 °C", "two values where one belongs"),
        (units.mass_kg, "2 lb 20 oz", "does not add up"),
        (units.length_m, "5 ft 12 in", "does not add up"),
        (units.mass_kg, "2 lb 3 L", "is a volume"),
        (units.volume_l, "3/2 gal", "a fraction that is not one"),
        (units.volume_l, "5. L", "a stray point or comma"),
        (units.volume_l, "1e999 L", "beyond any number"),
        (units.volume_l, "6 L " * 50, "too long"),
        (units.number, "5 kg", "write the number alone"),
    ],
)
def test_what_makes_no_sense_is_refused_with_how_to_mend_it(read, typed: str, words: str) -> None:
    with pytest.raises(UnitError, match=re.escape(words)):
        read(typed)


@pytest.mark.parametrize("name", READERS)
@pytest.mark.parametrize(
    "typed", ["", "   ", "\u200b", "nan", "inf", "-inf L", "NaN kg", "°C", "ten", "½½ L", "--5 °C"]
)
def test_no_reader_takes_what_is_not_a_number(name: str, typed: str) -> None:
    with pytest.raises(UnitError):
        READERS[name](typed)


@pytest.mark.parametrize(
    ("read", "typed", "bare", "expected"),
    [
        (units.temp_c, "22", "°C", 22.0),
        (units.temp_c, "72", "°F", 22.2222),
        (units.temp_c, "72°", "°F", 22.2222),
        (units.span_s, "5", "min", 300.0),
        (units.film_um, "8", "mil", 203.2),
        (units.volume_l, "1,5", "L", 1.5),
        (units.spread_m2_l, "150", "ft²/gal", 3.681358),
    ],
)
def test_a_bare_number_takes_the_unit_that_its_caller_names(read, typed: str, bare: str, expected: float) -> None:
    assert read(typed, bare=bare) == pytest.approx(expected, rel=1e-5)
    with pytest.raises(UnitError, match="what"):
        read(typed)


def test_a_unit_that_is_written_wins_over_the_one_that_is_assumed() -> None:
    assert units.temp_c("22 °C", bare="°F") == 22.0


def test_an_amount_is_a_volume_or_a_weight_and_never_both() -> None:
    assert units.amount("1.5 gal").mass_kg is None
    assert units.amount("1 stone").volume_l is None
    assert units.amount("6", bare="L") == units.Amount(volume_l=6.0)
    with pytest.raises(ValueError, match="either"):
        units.Amount(volume_l=1.0, mass_kg=1.0)
    with pytest.raises(ValueError, match="either"):
        units.Amount()


def test_a_complaint_can_be_told_where_it_stands() -> None:
    with pytest.raises(UnitError) as refused:
        units.volume_l("5 kg")
    assert str(refused.value.at("--part")).startswith("--part: '5 kg' is a weight")


LETTERS = st.text(alphabet="0123456789.,-+/:*^ eExXmMlLgGkKfFtTqQ°%'\"²³½µCinahouds\u202f\u2212", max_size=14)


@given(name=st.sampled_from(sorted(READERS)), typed=st.one_of(LETTERS, st.text(max_size=20)))
@example("spread", "1e-323 cc/m2")
@example("volume", "6 9**9**9")
@example("volume", "1 kg\n2")
@example("length", "1/0 m")
@example("area", "1e200 m x 1e200 m")
@example("span", "1e308 wk")
def test_any_text_is_read_as_a_real_number_or_refused_in_one_line(name: str, typed: str) -> None:
    try:
        found = READERS[name](typed)
    except UnitError as refused:
        message = str(refused)
        assert message
        assert message.isprintable()
        assert len(message) < 250
        return
    numbers = [found] if isinstance(found, float) else [one for one in vars(found).values() if one is not None]
    assert numbers, found
    assert all(map(math.isfinite, numbers)), found


@given(name=st.sampled_from(sorted(READERS)), value=st.integers(1, 999), decimals=st.integers(0, 99))
def test_a_decimal_comma_never_moves_by_a_power_of_ten(name: str, value: int, decimals: int) -> None:
    assert units.volume_l(f"{value},{decimals:02} L") == float(f"{value}.{decimals:02}")
