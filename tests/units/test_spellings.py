"""Every factor of the table, and of our small registry, against pint's own large registry, which we did not make.

pint's default registry reads some spellings of the trade otherwise (`mil` is an angle, `gr` a grain, `m` a metre where
a crew means minutes) and does not know others; NAMED says by hand what such a spelling means. A spelling that is in
neither place fails the test.
"""

import functools
import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock import units
from mixclock.units import spellings, uncommon

EXACT = 1e-14  # relative; the factors are exact by definition, only the last bit of a float may differ

NAMED = {
    "length": {
        "mtr": "metre", "mtrs": "metre", "'": "foot", "lf": "foot", "linft": "foot", "linearft": "foot",
        "linearfoot": "foot", "linearfeet": "foot", '"': "inch", "''": "inch",
    },
    "film": {
        "µ": "micrometre", "mic": "micrometre", "mics": "micrometre", "mil": "thou", "mils": "thou", '"': "inch",
        "''": "inch",
    },
    "area": {
        "sqm": "metre**2", "sqmetre": "metre**2", "sqmetres": "metre**2", "sqmeter": "metre**2", "sqmeters": "metre**2",
        "squarem": "metre**2", "squaremetre": "metre**2", "squaremetres": "metre**2", "squaremeter": "metre**2",
        "squaremeters": "metre**2", "m2": "metre**2", "cm2": "centimetre**2", "sqcm": "centimetre**2",
        "squarecm": "centimetre**2", "squarecentimetres": "centimetre**2", "squarecentimeters": "centimetre**2",
        "mm2": "millimetre**2", "sqmm": "millimetre**2", "squaremm": "millimetre**2", "ft2": "foot**2",
        "sqft": "square_foot", "sf": "square_foot", "sqfoot": "square_foot", "sqfeet": "square_foot",
        "squareft": "square_foot", "squarefoot": "square_foot", "squarefeet": "square_foot", "in2": "inch**2",
        "sqin": "square_inch", "squarein": "square_inch", "squareinch": "square_inch", "squareinches": "square_inch",
        "yd2": "yard**2", "sqyd": "square_yard", "sqyds": "square_yard", "squareyd": "square_yard",
        "squareyard": "square_yard", "squareyards": "square_yard",
    },
    "volume": {
        "ltr": "litre", "ltrs": "litre", "lt": "litre", "dm3": "decimetre**3", "mls": "millilitre",
        "cm3": "centimetre**3", "ccm": "centimetre**3", "m3": "metre**3", "cum": "metre**3", "cubicm": "metre**3",
        "cubicmetre": "metre**3",
        "cubicmetres": "metre**3", "cubicmeter": "metre**3", "cubicmeters": "metre**3", "usgal": "US_liquid_gallon",
        "usgals": "US_liquid_gallon", "usgallon": "US_liquid_gallon", "usgallons": "US_liquid_gallon",
        "usqt": "US_liquid_quart", "usquart": "US_liquid_quart", "usquarts": "US_liquid_quart", "uspt": "US_pint",
        "uspint": "US_pint", "uspints": "US_pint", "uscup": "US_liquid_cup", "uscups": "US_liquid_cup",
        "flozs": "fluid_ounce", "fluidoz": "fluid_ounce", "fluidounce": "fluid_ounce", "fluidounces": "fluid_ounce",
        "usfloz": "fluid_ounce", "impgal": "imperial_gallon", "impgallon": "imperial_gallon",
        "impgallons": "imperial_gallon", "imperialgal": "imperial_gallon", "imperialgallon": "imperial_gallon",
        "imperialgallons": "imperial_gallon", "ukgal": "UK_gallon", "ukgallon": "UK_gallon", "ukgallons": "UK_gallon",
        "ft3": "foot**3", "cuft": "cubic_foot", "cubicft": "cubic_foot", "cubicfoot": "cubic_foot",
        "cubicfeet": "cubic_foot", "in3": "inch**3", "cuin": "cubic_inch", "cubicin": "cubic_inch",
        "cubicinch": "cubic_inch", "cubicinches": "cubic_inch", "pt": "US_pint", "pts": "US_pint",
    },
    "mass": {
        "kilo": "kilogram", "kilos": "kilogram", "kgs": "kilogram", "gr": "gram", "gm": "gram", "gms": "gram",
        "gramme": "gram", "grammes": "gram", "kilogramme": "kilogram", "kilogrammes": "kilogram",
        "metricton": "metric_ton", "metrictons": "metric_ton", "lbm": "pound",
    },
    "time": {"m": "minute", "mn": "minute", "mins": "minute", "wk": "week", "wks": "week", "w": "week"},
    "rate time": {},
    "share": {"pct": "percent", "percentage": "percent", "%rh": "percent", "percentrh": "percent",
              "rh%": "percent", "%relativehumidity": "percent"},
    "pressure": {"mpa": "megapascal", "kpa": "kilopascal", "n/mm2": "newton/millimetre**2"},
}  # fmt: skip

TABLES = {
    "length": (spellings.LENGTH_M, "metre"),
    "film": (spellings.FILM_UM, "micrometre"),
    "area": (spellings.AREA_M2, "metre**2"),
    "volume": (spellings.VOLUME_L, "litre"),
    "mass": (spellings.MASS_KG, "kilogram"),
    "time": (spellings.TIME_S, "second"),
    "rate time": (spellings.RATE_TIME_H, "hour"),
    "share": (spellings.PERCENT, "percent"),
    "pressure": (spellings.PRESSURE_MPA, "megapascal"),
}
ROWS = [(name, spelling) for name, (table, _) in TABLES.items() for spelling in table]


@functools.cache
def large_registry() -> pint.UnitRegistry:
    return pint.UnitRegistry(cache_folder=None)


def by_pint(name: str, spelling: str) -> float:
    """What pint's default registry makes of one such unit."""
    unit = large_registry().Unit(NAMED[name].get(spelling, spelling))
    return float(large_registry().Quantity(1.0, unit).to(TABLES[name][1]).magnitude)


@pytest.mark.parametrize(("name", "spelling"), ROWS)
def test_each_spelling_is_worth_what_pint_says(name: str, spelling: str) -> None:
    assert TABLES[name][0][spelling] == pytest.approx(by_pint(name, spelling), rel=EXACT)


def test_a_mil_is_an_angle_to_pint_and_a_thousandth_of_an_inch_to_a_crew() -> None:
    assert large_registry().Unit("mil").dimensionality == large_registry().Unit("radian").dimensionality
    assert units.film_um("8 mil") == pytest.approx(203.2, rel=EXACT)


READERS = {
    "length": units.length_m,
    "film": units.film_um,
    "area": units.area_m2,
    "volume": units.volume_l,
    "mass": units.mass_kg,
    "time": units.span_s,
}


@given(
    row=st.sampled_from([row for row in ROWS if row[0] in READERS]),
    value=st.floats(1e-6, 1e6).map(lambda number: float(f"{number:.6g}")),
    style=st.sampled_from([str, str.upper, str.title]),
    gap=st.sampled_from(["", " ", "\u202f", "\u00a0"]),
)
def test_a_quantity_reads_as_pint_reads_it(row: tuple[str, str], value: float, style, gap: str) -> None:
    name, spelling = row
    typed = f"{value!r}{gap}{spelling if 'µ' in spelling else style(spelling)}"
    assert READERS[name](typed) == pytest.approx(value * by_pint(name, spelling), rel=1e-12)


QUOTIENTS = [
    (units.spread_m2_l, "area", "volume"),
    (units.density_kg_l, "mass", "volume"),
    (units.mass_per_area_kg_m2, "mass", "area"),
    (units.rate_m2_h, "area", "rate time"),
    (units.rate_m_h, "length", "rate time"),
]


@given(
    quotient=st.sampled_from(QUOTIENTS),
    value=st.floats(1e-3, 1e5).map(lambda number: float(f"{number:.5g}")),
    sign=st.sampled_from(["/", " / ", " per "]),
    data=st.data(),
)
def test_a_quotient_reads_as_pint_reads_it(quotient, value: float, sign: str, data: st.DataObject) -> None:
    reader, above, below = quotient
    top = data.draw(st.sampled_from(sorted(TABLES[above][0])))
    bottom = data.draw(st.sampled_from(sorted(TABLES[below][0])))
    expected = value * by_pint(above, top) / by_pint(below, bottom)
    assert reader(f"{value} {top}{sign}{bottom}") == pytest.approx(expected, rel=1e-12)


@given(st.floats(-200, 400).map(lambda number: round(number, 3)))
def test_a_thermometer_in_fahrenheit_reads_as_pint_reads_it(f: float) -> None:
    registry = large_registry()
    assert units.temp_c(f"{f} °F") == pytest.approx(registry.Quantity(f, "degF").to("degC").magnitude, abs=1e-9)
    difference = registry.Quantity(f, "delta_degF").to("kelvin").magnitude
    assert units.temp_difference_k(f"{f} F") == pytest.approx(difference, abs=1e-9)


# our word, pint's word where it is another
OURS = {
    "metre": "", "gram": "", "second": "", "minute": "", "hour": "", "day": "", "week": "", "fortnight": "",
    "litre": "", "tonne": "", "quintal": "100 * kilogram", "inch": "", "foot": "", "yard": "", "fathom": "2 * yard",
    "rod": "5.5 * yard", "chain": "22 * yard", "furlong": "220 * yard", "mile": "", "mil": "thou", "angstrom": "",
    "are": "", "hectare": "", "acre": "4840 * yard ** 2", "gallon": "", "quart": "", "pint": "", "cup": "", "gill": "",
    "fluid_ounce": "", "tablespoon": "", "teaspoon": "", "barrel": "oil_barrel", "imperial_gallon": "",
    "imperial_quart": "", "imperial_pint": "", "imperial_fluid_ounce": "", "pound": "", "ounce": "", "grain": "",
    "stone": "", "hundredweight": "short_hundredweight", "short_ton": "", "long_ton": "", "micrometre": "",
    "millimetre": "", "centimetre": "", "decimetre": "", "hectometre": "", "kilometre": "", "milligram": "",
    "decagram": "", "hectogram": "", "kilogram": "", "millilitre": "", "centilitre": "", "decilitre": "",
    "decalitre": "", "hectolitre": "", "kilolitre": "",
}  # fmt: skip


def test_our_small_registry_holds_the_units_that_are_checked_here() -> None:
    assert {line.split(" = ")[0] for line in uncommon.DEFINITIONS} == set(OURS)


@pytest.mark.parametrize("ours", OURS)
def test_our_small_registry_agrees_with_the_large_one(ours: str) -> None:
    # rod, chain and acre are by the international yard here; pint's own are survey units, 2 parts in a million longer
    theirs = large_registry().Quantity(1.0, ours) if not OURS[ours] else large_registry().Quantity(OURS[ours])
    assert (1 * uncommon.registry().Unit(ours)).to_base_units().magnitude == pytest.approx(
        _in_our_base(theirs), rel=1e-13
    )


def _in_our_base(quantity: pint.Quantity) -> float:
    """pint's large registry has kilograms for a base, our small one grams."""
    base = quantity.to_base_units()
    is_mass = base.check("[mass]")
    return float(base.magnitude) * (1000.0 if is_mass else 1.0)


@pytest.mark.parametrize(
    ("read", "typed", "theirs", "unit"),
    [
        (units.volume_l, "2 imperial pints", "2 * imperial_pint", "litre"),
        (units.volume_l, "3 tbsp", "3 * tablespoon", "litre"),
        (units.volume_l, "0.5 hL", "0.5 * hectolitre", "litre"),
        (units.mass_kg, "1.5 stone", "1.5 * stone", "kilogram"),
        (units.length_m, "2 miles", "2 * mile", "metre"),
        (units.area_m2, "0.1 hectares", "0.1 * hectare", "metre ** 2"),
        (units.area_m2, "40 dm²", "40 * decimetre ** 2", "metre ** 2"),
        (units.span_s, "2 fortnights", "2 * fortnight", "second"),
        (units.density_kg_l, "1.13 kg dm^-3", "1.13 * kilogram / decimetre ** 3", "kilogram / litre"),
        (units.rate_m2_h, "0.1 hectare/h", "0.1 * hectare / hour", "metre ** 2 / hour"),
    ],
)
def test_a_unit_that_the_table_does_not_know_is_left_to_pint(read, typed: str, theirs: str, unit: str) -> None:
    assert read(typed) == pytest.approx(large_registry().Quantity(theirs).to(unit).magnitude, rel=1e-12)


@pytest.mark.parametrize(
    ("read", "typed"), [(units.span_s, "90 ms"), (units.mass_kg, "5 mt"), (units.length_m, "9 feet%")]
)
def test_a_slip_of_the_finger_is_not_taken_for_a_prefix(read, typed: str) -> None:
    with pytest.raises(units.UnitError):
        read(typed)


def test_no_factor_of_the_table_is_nought_or_endless() -> None:
    for table, _ in TABLES.values():
        assert all(math.isfinite(factor) and factor > 0 for factor in table.values())
