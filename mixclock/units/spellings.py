"""The spellings that crews type, with exact factors, so that a common command need not load pint.

The factors are exact by definition: the inch is 25.4 mm and the pound 0.45359237 kg (international yard and pound
agreement, 1959), the US gallon is 231 cubic inches, the imperial gallon 4.54609 L. The tests compare each with pint.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.values import dataclass, field

Table = Mapping[str, float]


def _table(*rows: tuple[float, str]) -> Table:
    """One factor for each spelling. Commas separate the spellings."""
    return MappingProxyType({spelling.strip(): factor for factor, line in rows for spelling in line.split(",")})


LENGTH_M = _table(
    (1.0, "m, metre, metres, meter, meters, mtr, mtrs"),
    (0.01, "cm, centimetre, centimetres, centimeter, centimeters"),
    (0.001, "mm, millimetre, millimetres, millimeter, millimeters"),
    (1000.0, "km, kilometre, kilometres, kilometer, kilometers"),
    (0.3048, "ft, foot, feet, ', lf, linft, linearft, linearfoot, linearfeet"),
    (0.0254, "in, inch, inches, \", ''"),
    (0.9144, "yd, yds, yard, yards"),
)
FILM_UM = _table(
    (1.0, "µm, um, µ, micron, microns, mic, mics, micrometre, micrometres, micrometer, micrometers"),
    (1000.0, "mm, millimetre, millimetres, millimeter, millimeters"),
    (10_000.0, "cm, centimetre, centimetres, centimeter, centimeters"),
    (25.4, "mil, mils, thou, thous"),
    (25_400.0, "in, inch, inches, \", ''"),
)
AREA_M2 = _table(
    (
        1.0,
        "m2, sqm, sqmetre, sqmetres, sqmeter, sqmeters, squarem, squaremetre, squaremetres, squaremeter, squaremeters",
    ),
    (0.0001, "cm2, sqcm, squarecm, squarecentimetres, squarecentimeters"),
    (0.000001, "mm2, sqmm, squaremm"),
    (0.09290304, "ft2, sqft, sf, sqfoot, sqfeet, squareft, squarefoot, squarefeet"),
    (0.00064516, "in2, sqin, squarein, squareinch, squareinches"),
    (0.83612736, "yd2, sqyd, sqyds, squareyd, squareyard, squareyards"),
)
VOLUME_L = _table(
    (1.0, "l, ltr, ltrs, lt, litre, litres, liter, liters, dm3"),
    (0.001, "ml, mls, millilitre, millilitres, milliliter, milliliters, cm3, cc, ccm"),
    (0.01, "cl, centilitre, centilitres, centiliter, centiliters"),
    (0.1, "dl, decilitre, decilitres, deciliter, deciliters"),
    (1000.0, "m3, cum, cubicm, cubicmetre, cubicmetres, cubicmeter, cubicmeters"),
    (3.785411784, "gal, gals, gallon, gallons, usgal, usgals, usgallon, usgallons"),
    (0.946352946, "qt, qts, quart, quarts, usqt, usquart, usquarts"),
    (0.473176473, "pt, pts, pint, pints, uspt, uspint, uspints"),
    (0.2365882365, "cup, cups, uscup, uscups"),
    (0.0295735295625, "floz, flozs, fluidoz, fluidounce, fluidounces, usfloz"),
    (
        4.54609,
        "impgal, impgallon, impgallons, imperialgal, imperialgallon, imperialgallons, ukgal, ukgallon, ukgallons",
    ),
    (28.316846592, "ft3, cuft, cubicft, cubicfoot, cubicfeet"),
    (0.016387064, "in3, cuin, cubicin, cubicinch, cubicinches"),
)
MASS_KG = _table(
    (1.0, "kg, kgs, kilo, kilos, kilogram, kilograms, kilogramme, kilogrammes"),
    (0.001, "g, gr, gm, gms, gram, grams, gramme, grammes"),
    (0.000001, "mg, milligram, milligrams"),
    (1000.0, "t, tonne, tonnes, metricton, metrictons"),
    (0.45359237, "lb, lbs, pound, pounds, lbm"),
    (0.028349523125, "oz, ozs, ounce, ounces"),
)
TIME_S = _table(
    (1.0, "s, sec, secs, second, seconds"),
    (60.0, "min, mins, minute, minutes, m, mn"),
    (3600.0, "h, hr, hrs, hour, hours"),
    (86_400.0, "d, day, days"),
    (604_800.0, "wk, wks, w, week, weeks"),
)
# no day here: a crew's day is a working day, of as many hours as the crew likes
RATE_TIME_H = _table(
    (1.0, "h, hr, hrs, hour, hours"),
    (1 / 60, "min, mins, minute, minutes"),
    (1 / 3600, "s, sec, secs, second, seconds"),
)
DEGREES_K = _table(
    (1.0, "c, °c, degc, degreec, degreesc, celsius, degcelsius, degreecelsius, degreescelsius, centigrade, c°"),
    (1.0, "k, kelvin, kelvins"),
    (5 / 9, "f, °f, degf, degreef, degreesf, fahrenheit, degfahrenheit, degreefahrenheit, degreesfahrenheit, f°"),
)
PRESSURE_MPA = _table(
    (1.0, "mpa, megapascal, megapascals, n/mm2"),
    (0.001, "kpa, kilopascal, kilopascals"),
    (0.006894757293168, "psi"),
)
PERCENT = _table((1.0, "%, pct, percent, percentage, %rh, percentrh, rh%, %relativehumidity"))

_US_UNITS = (
    (LENGTH_M, "ft in yd"),
    (FILM_UM, "mil in"),
    (AREA_M2, "ft2 in2 yd2"),
    (VOLUME_L, "gal qt pt cup floz ft3 in3"),
    (MASS_KG, "lb oz"),
    (DEGREES_K, "f"),
)
_US_FACTORS = tuple((table, {table[unit] for unit in units.split()}) for table, units in _US_UNITS)
US_SPELLINGS = frozenset(key for table, us in _US_FACTORS for key, factor in table.items() if factor in us)
METRIC_SPELLINGS = frozenset(key for table, us in _US_FACTORS for key, factor in table.items() if factor not in us)


@dataclass(frozen=True)
class Kind:
    """A quantity that people can type: its units, how to ask for it, and pint's name for its unit."""

    noun: str
    examples: tuple[str, str]
    pint_unit: str = ""  # empty: pint is never asked
    table: Table = field(default_factory=_table)
    over: tuple[Table, Table] | None = None  # for a quotient: the tables above and below the stroke
    inverse_too: bool = False  # people may also type the quotient upside down
    zero: bool = True
    negative: bool = False
    puzzles: Mapping[str, str] = field(default_factory=dict)  # spellings that mean two things, and the reply to each

    @property
    def write(self) -> str:
        """The end of every complaint.

        >>> AREA.write
        'write 11.5 m² or 120 ft²'
        """
        return f"write {self.examples[0]} or {self.examples[1]}"

    @property
    def units(self) -> tuple[str, str]:
        """The two units of the examples, without their numbers."""
        first, second = (example.split()[1] for example in self.examples)
        return first, second


def _puzzle(spellings: str, words: str) -> Mapping[str, str]:
    return MappingProxyType(dict.fromkeys(spellings.split(), words))


_TONS = _puzzle("ton tons", "a ton is 1000 kg, 907 kg or 1016 kg: write it in kg or lb")
_DAYS = _puzzle("d day days", "a working day is how many hours? write it per h or per min")
_MONTHS = _puzzle("month months mo mos", "months differ in length: write it in days")
_BY_WEIGHT = _puzzle("kg kgs g lb lbs", "that is by weight: times the density in kg/L it is the spread rate in m²/L")
_OUNCES = _puzzle("oz ozs ounce ounces", "ounces are a weight or a volume: write fl oz for a volume, lb for a weight")

LENGTH = Kind("a length", ("9 m", "30 ft"), "metre", LENGTH_M)
FILM = Kind("a film thickness", ("200 µm", "8 mil"), "micrometre", FILM_UM)
AREA = Kind("an area", ("11.5 m²", "120 ft²"), "metre ** 2", AREA_M2, zero=False)
VOLUME = Kind("a volume", ("6 L", "1.5 gal"), "litre", VOLUME_L, puzzles=_OUNCES)
MASS = Kind("a weight", ("12 kg", "26 lb"), "kilogram", MASS_KG, puzzles=_TONS)
SPAN = Kind("a span of time", ("30 min", "1 h 30 min"), "second", TIME_S, puzzles=_MONTHS)
TEMPERATURE = Kind("a temperature", ("22 °C", "72 °F"), "", DEGREES_K, negative=True)
DIFFERENCE = Kind("a temperature difference", ("3 °C", "5 °F"), "", DEGREES_K, negative=True)
SHARE = Kind("a percentage", ("62 %", "5 %"), "", PERCENT)
SPREAD = Kind(
    "a spread rate",
    ("8 m²/L", "150 ft²/gal"),
    "metre ** 2 / litre",
    over=(AREA_M2, VOLUME_L),
    inverse_too=True,
    zero=False,
    puzzles=_BY_WEIGHT,
)
DENSITY = Kind("a density", ("1.13 kg/L", "9.4 lb/gal"), "kilogram / litre", over=(MASS_KG, VOLUME_L), zero=False)
RATE_AREA = Kind(
    "a rate of work by area",
    ("110 m²/h", "1200 ft²/h"),
    "metre ** 2 / hour",
    over=(AREA_M2, RATE_TIME_H),
    zero=False,
    puzzles=_DAYS,
)
RATE_LENGTH = Kind(
    "a rate of work by length",
    ("35 m/h", "115 ft/h"),
    "metre / hour",
    over=(LENGTH_M, RATE_TIME_H),
    zero=False,
    puzzles=_DAYS,
)
MASS_PER_AREA = Kind("a weight per area", ("0.4 kg/m²", "0.1 lb/ft²"), "kilogram / metre ** 2", over=(MASS_KG, AREA_M2))
AMOUNT = Kind(
    "an amount",
    ("6 L", "12 kg"),
    table=MappingProxyType({**VOLUME_L, **MASS_KG}),
    zero=False,
    puzzles=MappingProxyType({**_OUNCES, **_TONS}),
)
STRENGTH = Kind("a strength", ("1.6 MPa", "230 psi"), "megapascal", PRESSURE_MPA, zero=False)
NUMBER = Kind("a number", ("2", "1.5"), negative=True)

# the order decides which kind a misplaced spelling is said to be
KINDS = (
    VOLUME, MASS, AREA, FILM, LENGTH, SPAN, TEMPERATURE, SHARE, SPREAD, DENSITY, RATE_AREA, RATE_LENGTH, MASS_PER_AREA,
    STRENGTH,
)  # fmt: skip
