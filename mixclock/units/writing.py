"""Writes the program's numbers in the crew's units, rounded as a person would say them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime, tzinfo
from typing import Literal

from mixclock.units import scales
from mixclock.units import spellings as kinds
from mixclock.units.converting import unit_keys
from mixclock.units.errors import UnitError
from mixclock.units.figures import in_figures, past, rounded, significant, tenth_below
from mixclock.units.scales import Scale
from mixclock.units.spanwords import write_remaining, write_span
from mixclock.units.wall import write_clock
from mixclock.values import dataclass

QUART_GAL = 0.25
FL_OZ_IN_GAL = 128


@dataclass(frozen=True)
class CrewUnits:
    """The units that a crew thinks in. Every text for a person goes through one of these."""

    system: Literal["metric", "US"] = "metric"
    one_volume: Literal["gal", "fl oz", "L", "mL"] | None = None
    """The one unit in which a page writes all its volumes; None: each in the unit that fits it."""
    one_mass: Literal["kg", "g"] | None = None
    """The same for its weights."""

    @property
    def is_us(self) -> bool:
        """Whether the crew thinks in US units."""
        return self.system == "US"

    def on_one_page(self, largest_l: float) -> CrewUnits:
        """The same units for a page whose largest amount is known: a US crew reads all of it in gallons, or in fluid
        ounces where it is less than a quart; others in litres and kilograms, or in millilitres and grams under a litre.

        >>> US_CREW.on_one_page(16.0).write_volume(0.5), US_CREW.on_one_page(0.5).write_volume(0.5)
        ('0.13 gal', '16.9 fl oz')
        >>> METRIC_CREW.on_one_page(16.0).write_volume(0.5), METRIC_CREW.on_one_page(0.6).write_volume(0.5)
        ('0.5 L', '500 mL')
        >>> METRIC_CREW.on_one_page(16.0).write_mass(0.45), METRIC_CREW.on_one_page(16.0).write_masses([0.45, 0.123])
        ('0.45 kg', ['0.45 kg', '0.123 kg'])
        >>> METRIC_CREW.on_one_page(16.0).write_enough(0.631)
        '0.64 L'
        """
        if not self.is_us:
            return CrewUnits("metric", *(("L", "kg") if largest_l >= 1.0 else ("mL", "g")))
        return CrewUnits("US", "gal" if self.scale("l").shown(largest_l) >= QUART_GAL else "fl oz")

    def scale(self, key: str) -> Scale:
        """How this crew reads a number whose name ends in `key`.

        >>> US_CREW.scale("c").unit, METRIC_CREW.scale("um").unit
        ('°F', 'µm')
        """
        return (scales.US if self.system == "US" else scales.METRIC)[key]

    def _write(self, value: float, key: str, figures: int) -> str:
        """A value to a number of figures."""
        scale = self.scale(key)
        return f"{significant(scale.shown(value), figures)} {scale.unit}"

    def write_temp(self, c: float) -> str:
        """A temperature, to 1°.

        >>> METRIC_CREW.write_temp(22.2), US_CREW.write_temp(22.2)
        ('22 °C', '72 °F')
        """
        scale = self.scale("c")
        return f"{rounded(scale.shown(c))} {scale.unit}"

    def write_temp_past(self, c: float, limit_c: float) -> str:
        """A temperature that is past a limit, to 1° or as fine as shows that.

        >>> METRIC_CREW.write_temp_past(9.7, 10.0), METRIC_CREW.write_temp_past(8.0, 10.0)
        ('9.7 °C', '8 °C')
        """
        scale = self.scale("c")
        return f"{past(scale.shown(c), scale.shown(limit_c))} {scale.unit}"

    def write_difference(self, k: float) -> str:
        """A difference of temperatures, to 1°.

        >>> METRIC_CREW.write_difference(3.2), US_CREW.write_difference(3.2)
        ('3 °C', '6 °F')
        """
        return f"{rounded(self.scale('k').shown(k))} {self.scale('c').unit}"

    def write_margin(self, k: float) -> str:
        """A dew margin to 0.1°, rounded down so that a margin under the limit never looks like the limit.

        >>> METRIC_CREW.write_margin(2.99), US_CREW.write_margin(3.2)
        ('2.9 °C', '5.7 °F')
        """
        return f"{tenth_below(self.scale('k').shown(k))} {self.scale('c').unit}"

    def write_volume(self, litres: float, *, measured: bool = False) -> str:
        """A volume as it is spoken of, to 0.1; `measured` gives the third figure that measuring a part out needs.

        >>> METRIC_CREW.write_volume(5.678), METRIC_CREW.write_volume(0.754), US_CREW.write_volume(5.678)
        ('5.7 L', '750 mL', '1.5 gal')
        >>> US_CREW.write_volume(3.7854)
        '1 gal'
        >>> METRIC_CREW.write_volume(5.678, measured=True), US_CREW.write_volume(3.1, measured=True)
        ('5.68 L', '105 fl oz')
        """
        if self.one_volume is not None:
            return self._in_one_unit([litres], 3 if measured else 2)[0]
        if self.system == "US":
            return _us_volume(litres, measured)
        return _large_or_small(litres, ("L", "mL"), 1000, measured)

    def write_enough(self, litres: float) -> str:
        """A volume to be bought: never rounded down.

        >>> METRIC_CREW.write_enough(10.11), METRIC_CREW.write_enough(0.631), US_CREW.write_enough(5.7)
        ('10.2 L', '640 mL', '1.6 gal')
        """
        said = self.write_volume(litres)
        step_l = self._step_l(said)
        return self.write_volume(math.ceil(litres / step_l - 1e-6) * step_l)

    def _step_l(self, said: str) -> float:
        """How much one more in the last place of a written volume is."""
        number, unit = said.split(" ", 1)
        each = {"L": 1.0, "mL": 0.001, "gal": 1.0, "qt": 0.25, "fl oz": 1 / FL_OZ_IN_GAL}[unit]
        whole = self.scale("l").back(each)
        figures = 2 if unit in ("mL", "fl oz") else 0
        tens = max(0, len(number.split(".")[0]) - figures) if figures else 0
        places = len(number.partition(".")[2])
        return whole * (10**tens if figures else (1.0 if len(number.split(".")[0]) > 2 else min(0.1, 0.1**places)))

    def write_volumes(self, litres: Sequence[float]) -> list[str]:
        """Parts that somebody measures out together, all in the unit of the largest.

        >>> US_CREW.write_volumes([5.11, 2.55]), METRIC_CREW.write_volumes([2.67, 0.85])
        (['1.35 gal', '0.674 gal'], ['2.67 L', '0.85 L'])
        """
        if self.one_volume is not None:
            return self._in_one_unit(litres, 3)
        large, small, each = ("gal", "fl oz", FL_OZ_IN_GAL) if self.system == "US" else ("L", "mL", 1000)
        return _alike([self.scale("l").shown(each_l) for each_l in litres], (large, small), each)

    def write_sum(self, parts_l: Sequence[float], whole_l: float) -> str:
        """What two measured parts make together, in the unit in which they were measured out.

        >>> US_CREW.write_sum([2.91, 1.45], 4.36), US_CREW.write_sum([7.6, 3.8], 11.4)
        ('147 fl oz', '3.01 gal')
        """
        if self.one_volume is not None:
            return self._in_one_unit([whole_l], 3)[0]
        large, small, each = ("gal", "fl oz", FL_OZ_IN_GAL) if self.system == "US" else ("L", "mL", 1000)
        parts, whole = ([self.scale("l").shown(litres) for litres in many] for many in (parts_l, (whole_l,)))
        if max(parts, default=0.0) < 1.0:
            return f"{significant(whole[0] * each, 3)} {small}"
        return f"{significant(whole[0], 3)} {large}"

    def _in_one_unit(self, litres: Sequence[float], figures: int) -> list[str]:
        """Volumes in the unit of the page, to a number of figures and at least to a tenth."""
        each = {"fl oz": FL_OZ_IN_GAL, "mL": 1000}.get(self.one_volume or "", 1)
        if self.one_volume == "mL":
            return [f"{significant(self.scale('l').shown(one_l) * each, figures)} mL" for one_l in litres]
        return [f"{in_figures(self.scale('l').shown(one_l) * each, figures)} {self.one_volume}" for one_l in litres]

    def write_in_line(self, litres: Sequence[float]) -> list[str]:
        """Volumes that stand in one line: in gallons or in fluid ounces, never in both; litres and millilitres may mix.

        >>> US_CREW.write_in_line([15.1, 0.2]), METRIC_CREW.write_in_line([15.1, 0.2])
        (['3.99 gal', '0.0528 gal'], ['15.1 L', '200 mL'])
        """
        return self.write_volumes(litres) if self.system == "US" else [self.write_volume(each) for each in litres]

    def write_masses(self, kg: Sequence[float]) -> list[str]:
        """The same for parts that somebody weighs.

        >>> US_CREW.write_masses([2.0, 0.4]), METRIC_CREW.write_masses([2.0, 0.4])
        (['4.41 lb', '0.882 lb'], ['2 kg', '0.4 kg'])
        """
        if self.one_mass is not None:
            return self._weighed(kg, 3)
        large, small, each = ("lb", "oz", 16) if self.system == "US" else ("kg", "g", 1000)
        return _alike([self.scale("kg").shown(each_kg) for each_kg in kg], (large, small), each)

    def write_mass(self, kg: float, *, measured: bool = False) -> str:
        """A weight, to 0.1 kg or 0.1 lb; small ones in g or oz.

        >>> METRIC_CREW.write_mass(12.04), METRIC_CREW.write_mass(0.4), US_CREW.write_mass(12.04)
        ('12 kg', '400 g', '26.5 lb')
        """
        if self.one_mass is not None:
            return self._weighed([kg], 3 if measured else 2)[0]
        units, small_in_large = (("lb", "oz"), 16) if self.system == "US" else (("kg", "g"), 1000)
        return _large_or_small(self.scale("kg").shown(kg), units, small_in_large, measured)

    def _weighed(self, kg: Sequence[float], figures: int) -> list[str]:
        """Weights in the unit of the page, as its volumes."""
        if self.one_mass == "g":
            return [f"{significant(each_kg * 1000, figures)} g" for each_kg in kg]
        return [f"{in_figures(each_kg, figures)} kg" for each_kg in kg]

    def write_area(self, m2: float) -> str:
        """An area, to 0.1 m² or 1 ft².

        >>> METRIC_CREW.write_area(11.5), US_CREW.write_area(11.5)
        ('11.5 m²', '124 ft²')
        """
        scale = self.scale("m2")
        shown = scale.shown(m2)
        return f"{rounded(shown, 1 if shown < (10 if self.system == 'US' else 100) else 0)} {scale.unit}"

    def write_length(self, m: float) -> str:
        """A length; under 1 m in cm, under 2 ft in inches, as tapes are read.

        >>> METRIC_CREW.write_length(9.0), METRIC_CREW.write_length(0.28), US_CREW.write_length(9.0)
        ('9 m', '28 cm', '29.5 ft')
        >>> US_CREW.write_length(0.4)
        '16 in'
        """
        if self.system == "US":
            inches = m / kinds.LENGTH_M["in"]
            if abs(inches) < 24.0:
                return f"{significant(inches, 2)} in"
            return _large_or_small(inches / 12.0, ("ft", "in"), 12, False)
        return _large_or_small(m, ("m", "cm"), 100, False)

    def write_film(self, um: float) -> str:
        """A film thickness, to 1 µm or 0.1 mil.

        >>> METRIC_CREW.write_film(203.2), US_CREW.write_film(203.2)
        ('203 µm', '8 mil')
        """
        scale = self.scale("um")
        return f"{rounded(scale.shown(um), scale.digits or 0)} {scale.unit}"

    def write_spread(self, m2_l: float) -> str:
        """A spread rate, to two figures.

        >>> METRIC_CREW.write_spread(3.93), US_CREW.write_spread(3.93)
        ('3.9 m²/L', '160 ft²/gal')
        """
        return self._write(m2_l, "m2_l", 2)

    def write_density(self, kg_l: float) -> str:
        """A density, to three figures.

        >>> METRIC_CREW.write_density(1.13), US_CREW.write_density(1.13)
        ('1.13 kg/L', '9.43 lb/gal')
        """
        return self._write(kg_l, "kg_l", 3)

    def write_rate(self, m2_h: float) -> str:
        """A rate of work by area, to two figures.

        >>> METRIC_CREW.write_rate(111.5), US_CREW.write_rate(111.5)
        ('110 m²/h', '1200 ft²/h')
        """
        return self._write(m2_h, "m2_h", 2)

    def write_edge_rate(self, m_h: float) -> str:
        """A rate of work along an edge, to two figures.

        >>> METRIC_CREW.write_edge_rate(35.0), US_CREW.write_edge_rate(35.0)
        ('35 m/h', '110 ft/h')
        """
        return self._write(m_h, "m_h", 2)

    def write_mass_per_area(self, kg_m2: float) -> str:
        """A weight per area, to two figures.

        >>> METRIC_CREW.write_mass_per_area(0.4), US_CREW.write_mass_per_area(0.4)
        ('0.4 kg/m²', '0.082 lb/ft²')
        """
        return self._write(kg_m2, "kg_m2", 2)

    def write_span(self, s: float) -> str:
        """A span of time, to the nearest that a person would say; the same in both systems."""
        return write_span(s)

    def write_remaining(self, s: float) -> str:
        """What is left of a span, never rounded up."""
        return write_remaining(s)

    def write_clock(self, at: datetime, zone: tzinfo, *, up: bool = False) -> str:
        """A time of day on the crew's wall."""
        return write_clock(at, zone, up=up)


@dataclass(frozen=True)
class TypedFigures:
    """Figures as somebody typed them, to read them back: in the crew's units, and never rounded to what one would say.

    A figure typed in units other than the crew's has no more decimals than a person could have measured.
    """

    units: CrewUnits

    def _write(self, value: float, key: str, places: int) -> str:
        scale = self.units.scale(key)
        return f"{rounded(scale.shown(value), places)} {scale.unit}"

    def write_temp(self, c: float) -> str:
        """A temperature.

        >>> TypedFigures(METRIC_CREW).write_temp(18.25), TypedFigures(US_CREW).write_temp(16.8722222)
        ('18.25 °C', '62.37 °F')
        """
        return self._write(c, "c", 2)

    def write_volume(self, litres: float) -> str:
        """A volume.

        >>> TypedFigures(METRIC_CREW).write_volume(5.678), TypedFigures(US_CREW).write_volume(1.255 * 3.785411784)
        ('5.678 L', '1.255 gal')
        """
        if self.units.system == "metric":
            return f"{rounded(litres, 3)} L" if litres >= 1 else f"{rounded(litres * 1000, 1)} mL"
        gallons = self.units.scale("l").shown(litres)
        if gallons > 0.9999:
            return f"{rounded(gallons, 3)} gal"
        return (
            f"{rounded(gallons * 4, 3)} qt" if gallons >= QUART_GAL else f"{rounded(gallons * FL_OZ_IN_GAL, 2)} fl oz"
        )

    def write_mass(self, kg: float) -> str:
        """A weight.

        >>> TypedFigures(METRIC_CREW).write_mass(12.045), TypedFigures(METRIC_CREW).write_mass(0.4255)
        ('12.045 kg', '425.5 g')
        """
        shown = self.units.scale("kg").shown(kg)
        large, small, each = ("lb", "oz", 16) if self.units.system == "US" else ("kg", "g", 1000)
        return f"{rounded(shown, 3)} {large}" if shown >= 0.9999 else f"{rounded(shown * each, 2)} {small}"

    def write_film(self, um: float) -> str:
        """A film thickness.

        >>> TypedFigures(US_CREW).write_film(209.55)
        '8.25 mil'
        """
        return self._write(um, "um", 2)

    def write_area(self, m2: float) -> str:
        """An area.

        >>> TypedFigures(METRIC_CREW).write_area(11.25)
        '11.25 m²'
        """
        return self._write(m2, "m2", 2)


METRIC_CREW = CrewUnits("metric")
US_CREW = CrewUnits("US")


def crew_units_for(texts: Iterable[str]) -> CrewUnits:
    """The units of most texts in a job file; metric if they do not tell.

    >>> crew_units_for(["120 ft²", "8 mil", "9 L"]).system
    'US'
    """
    us = metric = 0
    for text in texts:
        try:
            keys = unit_keys(text)
        except UnitError:
            continue
        us += any(key in kinds.US_SPELLINGS for key in keys)
        metric += any(key in kinds.METRIC_SPELLINGS for key in keys)
    return US_CREW if us > metric else METRIC_CREW


def _us_volume(litres: float, measured: bool) -> str:
    gallons = scales.US["l"].shown(litres)
    if measured or gallons > 0.9999 or gallons < 0.25:
        return _large_or_small(gallons, ("gal", "fl oz"), FL_OZ_IN_GAL, measured)
    return f"{rounded(gallons * 4, 1)} qt"


def _large_or_small(value: float, units: tuple[str, str], small_in_large: int, measured: bool) -> str:
    """From 1 on in the large unit to a tenth, below 1 in the small unit to two figures. To measure by, it has one
    figure more."""
    large, small = units
    few = significant(value * small_in_large, 3 if measured else 2)
    if abs(value) < 1 and float(few) < small_in_large:
        return f"{few} {small}"
    places = 1 if measured else 0
    return f"{rounded(value, places + (1 if abs(value) < 100 else 0))} {large}"


def _alike(values: Sequence[float], units: tuple[str, str], small_in_large: int) -> list[str]:
    large, small = units
    if max((abs(value) for value in values), default=0.0) < 1:
        return [f"{significant(value * small_in_large, 3)} {small}" for value in values]
    return [f"{significant(value, 3)} {large}" for value in values]
