"""The kinds of quantity in profiles and job files, with the values that make sense for a floor."""

from __future__ import annotations

from mixclock import units
from mixclock.job.steps import STEPS
from mixclock.job.tablereading import QuantityKind

_YEAR_S = 366 * 86_400.0

CLOSING = tuple(row.name for row in STEPS.values() if "closes" in row.edges)
"""The steps that a crew is warned of before their time is over."""

SPAN = QuantityKind(units.span_s, "30 min", "s (a year)", above=0.0, high=_YEAR_S)
LEAD = QuantityKind(units.span_s, "5 min", "s (half a minute to an hour)", low=30.0, high=3600.0)
SPAN_OR_ZERO = QuantityKind(units.span_s, "30 min", "s (a year)", low=0.0, high=_YEAR_S)
TEMP = QuantityKind(units.temp_c, "20 °C", "°C", low=-40.0, high=70.0)
TEMP_DIFFERENCE = QuantityKind(units.temp_difference_k, "3 °C", "K", low=0.0, high=30.0)
HUMIDITY = QuantityKind(units.pct, "50 %", "%", above=0.0, high=100.0)
SHARE_ABOVE_ZERO = QuantityKind(units.pct, "45 %", "%", above=0.0, high=100.0)
WASTE = QuantityKind(units.pct, "8 %", "%", low=0.0, high=90.0)
DENSITY = QuantityKind(units.density_kg_l, "1.13 kg/L", "kg/L", low=0.5, high=4.0)
DOSE = QuantityKind(units.density_kg_l, "60 g/L", "kg/L", above=0.0, high=1.0)
MASS = QuantityKind(units.mass_kg, "1.0 kg", "kg", above=0.0, high=1_000.0)
VOLUME = QuantityKind(units.volume_l, "20 L", "L", above=0.0, high=10_000.0)
FILM = QuantityKind(units.film_um, "300 um", "µm", above=0.0, high=50_000.0)
SPREAD = QuantityKind(units.spread_m2_l, "4 m2/L", "m²/L", above=0.0, high=1_000.0)
AREA = QuantityKind(units.area_m2, "11.5 m2", "m²", above=0.0, high=1_000_000.0)
LENGTH = QuantityKind(units.length_m, "9 m", "m", low=0.0, high=100_000.0)
ACROSS = QuantityKind(units.length_m, "28 cm", "m", above=0.0, high=5.0)
AREA_RATE = QuantityKind(units.rate_m2_h, "75 m2/h", "m²/h", above=0.0, high=100_000.0)
LENGTH_RATE = QuantityKind(units.rate_m_h, "35 m/h", "m/h", above=0.0, high=100_000.0)
THROWN = QuantityKind(units.mass_per_area_kg_m2, "0.4 kg/m2", "kg/m²", above=0.0, high=100.0)
