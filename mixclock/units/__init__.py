"""Reads what crews type ("72F", "8 mil", "1.5 gal", "1 h 30 min") and writes numbers back in the crew's own units.

Only `uncommon` knows pint. It loads pint only for a unit that the table of `spellings` does not hold.
"""

from mixclock.units.errors import UnitError
from mixclock.units.figures import past
from mixclock.units.reading import (
    Amount,
    amount,
    area_m2,
    density_kg_l,
    film_um,
    length_m,
    mass_kg,
    mass_per_area_kg_m2,
    number,
    pct,
    rate_m2_h,
    rate_m_h,
    sides_of,
    spread_m2_l,
    strength_mpa,
    temp_c,
    temp_difference_k,
    two_lengths_m,
    volume_l,
)
from mixclock.units.scales import Scale, degrees_scale
from mixclock.units.spans import TypedTime, clock_time, span_s
from mixclock.units.spanwords import say_remaining, write_narrow_span, write_remaining, write_span
from mixclock.units.text import inches_joined
from mixclock.units.wall import (
    CLOCKS,
    says_month_first,
    says_twelve_hours,
    wall_zone,
    write_clock,
    write_date,
    write_day,
    write_time_of_day,
)
from mixclock.units.writing import METRIC_CREW, US_CREW, CrewUnits, TypedFigures, crew_units_for
