"""A product as `profile show` puts it: the sheet's figures, and each window's edges at the usual temperatures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from textwrap import wrap
from types import MappingProxyType

from mixclock.decide.clocks import NOTHING_LEARNED, Damp, EdgeClock, LearnedFactor, clock_of
from mixclock.formulas.history import Moisture
from mixclock.formulas.rate_law import outside_sheet, tau_s
from mixclock.job import kinds
from mixclock.job.profile import Profile, SheetSpan
from mixclock.job.steps import POUR_OUT
from mixclock.job.tablereading import QuantityKind
from mixclock.job.windownames import is_limit
from mixclock.units import METRIC_CREW, US_CREW, write_narrow_span, write_span
from mixclock.units.vapour import write_vapour
from mixclock.values import dataclass
from mixclock.words.lessons import Lesson, lesson_lines
from mixclock.words.sheetwords import write_quantity, write_sheet_span

TABLE_C = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0)
"""The slab temperatures of the table."""

PAGE_WIDTH = 80
"""Letters in a line of a usual terminal."""

INDENT = 2

TABLE_RH_PCT = 50.0
"""The table's humidity, for products that moisture cures. Sheets state theirs for a laboratory at 50 %."""


@dataclass(frozen=True)
class EdgeAt:
    """One edge at one temperature: early, likely and late in s, and whether the sheet states so far."""

    temp_c: float
    early_s: float
    likely_s: float
    late_s: float
    outside_sheet: bool


@dataclass(frozen=True)
class EdgeRow:
    """One edge of one window: what the sheet says, and what follows at each temperature of the table."""

    window: str
    edge: str
    after: str
    stated: str
    at: tuple[EdgeAt, ...]
    factor: float = 1.0


def edge_rows(
    profile: Profile,
    learned: Mapping[str, LearnedFactor] = MappingProxyType({}),
    temps_c: Sequence[float] = TABLE_C,
) -> list[EdgeRow]:
    """Every edge of every window; `learned` gives what observations say of a window's clock, by its name.

    The pour-out row is the sheet's own mass; another bucket lives shorter or longer. Humidity is 50 %. What was learned
    moves a maker's limit in its likely time; its early is never later and its late never sooner than the sheet's.
    """
    rows = []
    if profile.pot_life is not None:
        rows.append(_row(profile, POUR_OUT, "closes", "mixed", profile.pot_life.span, learned, temps_c))
    for rule in profile.windows:
        for edge, span in (("opens", rule.opens), ("closes", rule.closes)):
            if span is not None:
                rows.append(_row(profile, rule.name, edge, rule.after, span, learned, temps_c))
    return rows


def _row(
    profile: Profile,
    window: str,
    edge: str,
    after: str,
    span: SheetSpan,
    learned: Mapping[str, LearnedFactor],
    temps_c: Sequence[float],
) -> EdgeRow:
    known = learned.get(window, NOTHING_LEARNED)
    clock = clock_of(window, span, profile.family, known, edge == "closes")
    at = tuple(_at(clock, temp_c) for temp_c in temps_c)
    return EdgeRow(window, edge, after, write_sheet_span(span), at, known.factor)


def _at(clock: EdgeClock, temp_c: float) -> EdgeAt:
    rates = _damp_rates(clock.damp)
    likely_s = tau_s(clock.likely, temp_c) / rates[0]
    by_sheet = 1.0 / clock.learned.factor if clock.limit else 1.0
    early_s = min(likely_s, tau_s(clock.fast, temp_c) / max(rates)) * min(1.0, by_sheet)
    late_s = max(likely_s, tau_s(clock.slow, temp_c) / min(rates)) * max(1.0, by_sheet)
    return EdgeAt(temp_c, early_s, likely_s, late_s, outside_sheet(clock.free, temp_c))


def _damp_rates(damp: Damp | None) -> tuple[float, ...]:
    """How the air's water changes the rate at the table's humidity, by the likely exponent first, then by its band."""
    if damp is None:
        return (1.0,)
    relative = TABLE_RH_PCT / damp.reference_rh_pct
    return tuple(Moisture.factor_of(relative, exponent) for exponent in (damp.exponent, damp.low, damp.high))


def figures(profile: Profile) -> list[tuple[str, str]]:
    """The sheet's figures that are no windows, each with its name."""
    rows = [("family", profile.family.value), ("source", profile.source or "none stated")]
    rows += _mix(profile)
    if profile.pot_life is not None:
        mass = profile.pot_life.mass_kg
        of = write_quantity(kinds.MASS, mass) if mass is not None else "a mass that is not stated"
        rows.append(("pot life", f"{write_sheet_span(profile.pot_life.span)}, of {of}, until {profile.pot_life.end}"))
    return [*rows, *_film(profile), *_limits(profile), *_dilution(profile), *sorted(profile.notes.items())]


def _mix(profile: Profile) -> list[tuple[str, str]]:
    mix, rows = profile.mix, []
    for name, ratio in (("by volume", mix.ratio_by_volume), ("by mass", mix.ratio_by_mass)):
        if ratio is not None:
            rows.append((f"mix ratio {name}", f"{ratio[0]:g} to {ratio[1]:g}"))
    if mix.density_kg_l is not None:
        rows.append(("density", ", ".join(write_quantity(kinds.DENSITY, density) for density in mix.density_kg_l)))
    if mix.time_s is not None:
        rows.append(("mixing", write_span(mix.time_s)))
    return rows


def _film(profile: Profile) -> list[tuple[str, str]]:
    rows = []
    if profile.film.volume_solids_pct is not None:
        rows.append(("volume solids", f"{profile.film.volume_solids_pct:g} %"))
    if profile.film.wet_um is not None:
        rows.append(("wet film", _range(kinds.FILM, profile.film.wet_um)))
    if profile.film.over_flake_m2_l is not None:
        rows.append(("over flake", write_quantity(kinds.SPREAD, profile.film.over_flake_m2_l)))
    return rows


def _limits(profile: Profile) -> list[tuple[str, str]]:
    limits, rows = profile.limits, []
    for name, pair in (("slab", limits.slab_c), ("air", limits.air_c), ("pails", limits.material_c)):
        if pair is not None:
            rows.append((name, _range(kinds.TEMP, pair)))
    if limits.humidity_max_pct is not None:
        rows.append(("humidity at most", f"{limits.humidity_max_pct:g} %"))
    if limits.dew_margin_min_k is not None:
        margin = write_quantity(kinds.TEMP_DIFFERENCE, limits.dew_margin_min_k)
        rows.append(("over the dew point by at least", margin))
    if limits.moisture_max_pct is not None:
        rows.append(("slab moisture at most", f"{limits.moisture_max_pct:g} %"))
    if limits.vapour_max_g_m2_d is not None:
        both = " or ".join(write_vapour(limits.vapour_max_g_m2_d, us) for us in (True, False))
        rows.append(("slab moisture by weight at most", both))
    return rows


def _dilution(profile: Profile) -> list[tuple[str, str]]:
    dilution, rows = profile.dilution, []
    if dilution.water_to_product is not None:
        rows.append(("water to product", f"{dilution.water_to_product:g} to 1"))
    if dilution.spread_m2_l is not None:
        rows.append(("ready solution goes", write_quantity(kinds.SPREAD, dilution.spread_m2_l)))
    if dilution.acid_pct is not None:
        rows.append(("acid as it comes", f"{dilution.acid_pct:g} %"))
    return rows


def _range(kind: QuantityKind, pair: tuple[float, float]) -> str:
    return " to ".join(write_quantity(kind, value) for value in pair)


def page(profile: Profile, origin: str, rows: Sequence[EdgeRow], lessons: Sequence[Lesson] = ()) -> list[str]:
    """The whole page, line by line; nothing but a path is wider than a terminal."""
    named = figures(profile)
    width = max(len(name) for name, _ in named)
    lines = [profile.name, f"from {origin}", ""]
    for name, value in named:
        lines += _wrapped(f"  {name:<{width}}  ", value)
    lines += ["", *window_lines(rows)]
    for line in lesson_lines(lessons):
        lines += _wrapped(line[: len(line) - len(line.lstrip())], line.lstrip()) or [""]
    for caution in profile.cautions:
        lines += _wrapped("! ", caution)
    return lines


def _wrapped(head: str, words: str) -> list[str]:
    """A heading with its words beside it; more lines are set under the first."""
    return wrap(words, PAGE_WIDTH, initial_indent=head, subsequent_indent=" " * len(head))


def window_lines(rows: Sequence[EdgeRow]) -> list[str]:
    """The table of windows: closing edges by their early time, opening ones by their late time, as a crew works."""
    if not rows:
        return []
    cells = [["", *(METRIC_CREW.write_temp(at.temp_c) for at in rows[0].at)]]
    cells.append(["", *(US_CREW.write_temp(at.temp_c) for at in rows[0].at)])
    for after, group in groupby(rows, key=lambda row: row.after):
        cells += [[f"counted from {after}:"], *(_line(row) for row in group)]
    return [
        "Windows by slab temperature, at 50 % humidity.",
        "From: the late time at which it opens. By: the early time at which it closes.",
        *(" " * INDENT + line for line in _table(cells)),
        "  ~ outside the data sheet; d are days",
        *(
            ["  pour-out is that of the sheet's own mass: a full bucket is gone sooner"]
            if rows[0].window == POUR_OUT
            else []
        ),
        "",
    ]


def _line(row: EdgeRow) -> list[str]:
    factor = f" ×{row.factor:.2f}" if _moves_what_is_shown(row) else ""
    edge = "from" if row.edge == "opens" else "by"
    return [f"{row.window} {edge}{factor}", *(_cell(row.edge, at) for at in row.at)]


def _moves_what_is_shown(row: EdgeRow) -> bool:
    """Whether a row's figures hold the learned factor. A maker's limit moves to the safe side only."""
    if is_limit(row.window):
        return row.factor > 1.0 if row.edge == "opens" else row.factor < 1.0
    return row.factor != 1.0


def _table(cells: Sequence[Sequence[str]]) -> list[str]:
    """Columns under each other, as far apart as the page allows; a line of one cell stands alone."""
    whole = [line for line in cells if len(line) > 1]
    widths = [max(len(line[column]) for line in whole) for column in range(len(whole[0]))]
    gap = 2 if INDENT + sum(widths) + 2 * (len(widths) - 1) <= PAGE_WIDTH else 1
    return [
        line[0]
        if len(line) == 1
        else line[0].ljust(widths[0])
        + "".join(cell.rjust(gap + width) for cell, width in zip(line[1:], widths[1:], strict=True))
        for line in cells
    ]


def _cell(edge: str, at: EdgeAt) -> str:
    shown_s = at.early_s if edge == "closes" else at.late_s
    told = write_narrow_span(shown_s if shown_s >= 1.0 else 0.0, up=edge == "opens")
    return f"~{told}" if at.outside_sheet else told
