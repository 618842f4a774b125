"""The only place that knows pint: units that the table of spellings does not hold.

pint loads slowly, and imports numpy if that is installed. So this module imports pint only when somebody needs it. We
define a small registry ourselves: in pint's large one `mil` is an angle, and building that one takes 94 ms.
"""

from __future__ import annotations

import functools
import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pint

# Prefixes work only in the units listed here: with free ones "2 hs" would be 200 s and "5 mt" of flake 5 kg.
DEFINITIONS = (
    "metre = [length] = m = meter",
    "gram = [mass] = g = gramme",
    "second = [time] = s = sec",
    "micrometre = 1e-6 * metre = µm = um = micrometer = micron",
    "millimetre = 1e-3 * metre = mm = millimeter",
    "centimetre = 1e-2 * metre = cm = centimeter",
    "decimetre = 1e-1 * metre = dm = decimeter",
    "hectometre = 1e2 * metre = hm = hectometer",
    "kilometre = 1e3 * metre = km = kilometer",
    "milligram = 1e-3 * gram = mg",
    "decagram = 10 * gram = dag = dekagram",
    "hectogram = 100 * gram = hg",
    "kilogram = 1e3 * gram = kg",
    "minute = 60 * second = min",
    "hour = 60 * minute = h = hr",
    "day = 24 * hour = d",
    "week = 7 * day = wk",
    "fortnight = 14 * day",
    "litre = 1e-3 * metre ** 3 = L = l = liter",
    "millilitre = 1e-3 * litre = mL = ml = milliliter",
    "centilitre = 1e-2 * litre = cL = cl = centiliter",
    "decilitre = 1e-1 * litre = dL = dl = deciliter",
    "decalitre = 10 * litre = daL = dal = decaliter = dekaliter",
    "hectolitre = 100 * litre = hL = hl = hectoliter",
    "kilolitre = 1e3 * litre = kL = kl = kiloliter",
    "tonne = 1000 * kilogram = t",
    "quintal = 100 * kilogram",
    "inch = 25.4e-3 * metre = in = inches",
    "foot = 12 * inch = ft = feet",
    "yard = 3 * foot = yd",
    "fathom = 6 * foot",
    "rod = 16.5 * foot = perch = pole",
    "chain = 66 * foot",
    "furlong = 660 * foot",
    "mile = 5280 * foot = mi",
    "mil = 1e-3 * inch = thou",
    "angstrom = 1e-10 * metre = Å",
    "are = 100 * metre ** 2",
    "hectare = 100 * are = ha",
    "acre = 43560 * foot ** 2 = ac",
    "gallon = 231 * inch ** 3 = gal",
    "quart = gallon / 4 = qt",
    "pint = gallon / 8 = pt",
    "cup = gallon / 16",
    "gill = gallon / 32",
    "fluid_ounce = gallon / 128 = floz",
    "tablespoon = fluid_ounce / 2 = tbsp",
    "teaspoon = fluid_ounce / 6 = tsp",
    "barrel = 42 * gallon = bbl",
    "imperial_gallon = 4.54609 * litre = impgal = ukgal",
    "imperial_quart = imperial_gallon / 4 = impqt = ukqt",
    "imperial_pint = imperial_gallon / 8 = imppt = ukpt",
    "imperial_fluid_ounce = imperial_gallon / 160 = impfloz = ukfloz",
    "pound = 0.45359237 * kilogram = lb",
    "ounce = pound / 16 = oz",
    "grain = pound / 7000",
    "stone = 14 * pound",
    "hundredweight = 100 * pound = cwt",
    "short_ton = 2000 * pound",
    "long_ton = 2240 * pound",
)
# only units, powers up to 4, products and quotients: a text from outside never reaches pint's arithmetic
_WORD = r"[A-Za-zµÅ_]+(?:(?:\*\*|\^)?-?[1-4])?"
_ALLOWED = re.compile(rf"{_WORD}(?:\s*[/* ]\s*{_WORD})*")
_POWER = re.compile(r"(?<=[A-Za-zµ])(?:\*\*|\^)?(-?[1-4])(?!\d)")


class UnknownUnitError(LookupError):
    """pint does not know the unit either."""


class OtherDimensionError(LookupError):
    """pint knows the unit, but it measures something else."""


@functools.cache
def registry() -> pint.UnitRegistry[float]:
    """The one registry: quantities of two registries do not mix."""
    import pint

    made: pint.UnitRegistry[float] = pint.UnitRegistry(None, cache_folder=None)
    made.load_definitions(DEFINITIONS)
    return made


def factor(unit: str, to_unit: str) -> float:
    """How many `to_unit` one `unit` is.

    >>> round(factor("furlong", "metre"), 3)
    201.168

    :raises UnknownUnitError: for a unit that pint does not know
    :raises OtherDimensionError: for a unit of another dimension
    """
    if not _ALLOWED.fullmatch(unit):
        raise UnknownUnitError(unit)
    wanted = registry().parse_units(to_unit)
    measured = _parsed(_POWER.sub(r"**\1", unit.replace(" per ", "/")))
    if measured.dimensionality != wanted.dimensionality:
        raise OtherDimensionError(str(measured.dimensionality))
    return float(registry().Quantity(1.0, measured).to(wanted).magnitude)


def _parsed(unit: str) -> pint.Unit:
    import pint

    for spelling in (unit, unit.lower(), unit.replace(" ", "_").lower()):
        try:
            return registry().parse_units(spelling)
        except (pint.UndefinedUnitError, pint.DefinitionSyntaxError, ValueError):
            continue
    raise UnknownUnitError(unit)
