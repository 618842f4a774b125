"""What a profile leaves out: what mixclock assumes instead, which questions it can't answer, and what looks doubtful.

None of it is a mistake. `profile check` says it beforehand, so that no crew finds out on the floor that its data sheet
is silent.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from mixclock.formulas.air import absolute_humidity_g_m3
from mixclock.formulas.history import moisture_exponent
from mixclock.job import practice
from mixclock.job.profile import Family, Profile, SheetSpan, WindowRule
from mixclock.job.sheetspans import fitted_energies_kj_mol, say_point, span_at
from mixclock.job.steps import (
    BACK_ROLL,
    BROADCAST,
    FOOT_TRAFFIC,
    FULL_CURE,
    POUR_OUT,
    RECOAT,
    SCRAPE,
    TACK_FREE,
    VEHICLE_TRAFFIC,
    Work,
    questions_for,
)
from mixclock.job.windownames import (
    SUSPECT_ABOVE_KJ_MOL,
    SUSPECT_BELOW_KJ_MOL,
    DefaultEnergy,
    default_energy,
)
from mixclock.units import write_span

_H = 3600.0
SENSE_S = {
    (BACK_ROLL, "closes"): (60.0, 6 * _H),
    (BROADCAST, "closes"): (60.0, 8 * _H),
    (TACK_FREE, "opens"): (300.0, 4 * 24 * _H),
    (RECOAT, "opens"): (600.0, 10 * 24 * _H),
    (FOOT_TRAFFIC, "opens"): (_H, 21 * 24 * _H),
    (VEHICLE_TRAFFIC, "opens"): (3 * _H, 60 * 24 * _H),
    (FULL_CURE, "opens"): (12 * _H, 90 * 24 * _H),
}
"""The shortest and the longest time that sheets of coatings state for an edge. Beyond these, somebody took the wrong
unit (judgement)."""

_MOISTURE_DRIVEN = frozenset({Family.POLYASPARTIC})
_WORK = {Family.ACID_ETCH: Work.ETCH, Family.NEUTRALISER: Work.NEUTRALISER}


FIRST_OF_TWO = (
    (BACK_ROLL, "closes", TACK_FREE, "opens", "nobody rolls a film that has set"),
    (BACK_ROLL, "closes", BROADCAST, "closes", "nobody rolls through flake"),
    (TACK_FREE, "opens", RECOAT, "opens", "a coat on a wet film sinks into it"),
    (SCRAPE, "opens", RECOAT, "opens", "loose flake comes off before the next coat"),
    (TACK_FREE, "opens", FOOT_TRAFFIC, "opens", "soles stick to a tacky film"),
    (FOOT_TRAFFIC, "opens", VEHICLE_TRAFFIC, "opens", "wheels need a harder film than soles"),
    (VEHICLE_TRAFFIC, "opens", FULL_CURE, "opens", "it is hard before it is fully cured"),
    (FOOT_TRAFFIC, "opens", FULL_CURE, "opens", "it is hard before it is fully cured"),
    (TACK_FREE, "opens", VEHICLE_TRAFFIC, "opens", "wheels stick to a tacky film"),
)
"""Pairs of windows: which comes first, which after it, and why. A sheet that says otherwise is doubtful."""


def assumptions(profile: Profile) -> list[str]:
    """One line for each thing that is assumed because the profile leaves it out."""
    return [
        *_head(profile),
        *_pot_life(profile),
        *(line for rule in profile.windows for line in _window(rule)),
        *_ranges(profile),
        *_humidity(profile),
        *_limits(profile),
    ]


def not_answered(profile: Profile) -> list[str]:
    """One line for each question that this profile can't answer."""
    lines = []
    if profile.two_part and profile.pot_life is None:
        lines.append("no pot-life: until when the bucket must be poured out")
    rules = {rule.name: rule for rule in profile.windows}
    lines += [
        f"no windows.{name}: {question}"
        for name, question in questions_for(_work(profile)).items()
        if name not in rules
    ]
    recoat = rules.get(RECOAT)
    if recoat is not None and recoat.opens is None:
        lines.append("no windows.recoat.opens: from when the next coat may go on")
    if recoat is not None and recoat.closes is None:
        lines.append("no windows.recoat.closes: until when it bonds without abrading")
    if profile.two_part and profile.mix.density_kg_l is None:
        lines.append("no mix.density: kilograms from litres, and litres from kilograms")
    return lines


def doubts(profile: Profile) -> list[str]:
    """One line for each thing that a sheet can say but that looks like a slip of the pen."""
    return [*_suspect_slopes(profile), *_suspect_humidity(profile), *_out_of_order(profile), *_senseless(profile)]


def _work(profile: Profile) -> Work:
    return _WORK.get(profile.family, Work.COATING)


def _head(profile: Profile) -> Iterator[str]:
    if not profile.source:
        yield "source: none is stated, so no deadline can say on which sheet it rests"
    if profile.two_part and profile.mix.time_s is None:
        yield f"mix.time: {practice.mixing_time(profile).words}"
    if profile.two_part and profile.filled is None:
        yield "film.filled: taken to be unfilled, which heats itself more in the bucket (judgement)"


def _ranges(profile: Profile) -> Iterator[str]:
    """Which end of a printed range counts."""
    spans = [("pot-life.at", profile.pot_life.span if profile.pot_life else None, "shorter")]
    for rule in profile.windows:
        spans += [(f"windows.{rule.name}.opens", rule.opens, "longer")]
        spans += [(f"windows.{rule.name}.closes", rule.closes, "shorter")]
    for where, span, end in spans:
        yield from (
            f"{where}: of {each.printed} the {end} counts" for each in (span.points if span else ()) if each.printed
        )


def _pot_life(profile: Profile) -> Iterator[str]:
    pot_life = profile.pot_life
    if pot_life is None:
        return
    if pot_life.mass_kg is None:
        yield f"pot-life.mass: {practice.pot_life_mass(profile).words}; a full bucket depends on it much"
    if not pot_life.end_stated:
        yield f"pot-life.end: taken to be '{pot_life.end}' (judgement)"
    yield from _span("pot-life.at", pot_life.span, default_energy(POUR_OUT))


def _window(rule: WindowRule) -> Iterator[str]:
    if not rule.after_stated:
        yield f"windows.{rule.name}.after: counts from '{rule.after}' (judgement)"
    for edge, span in (("opens", rule.opens), ("closes", rule.closes)):
        if span is not None:
            yield from _span(f"windows.{rule.name}.{edge}", span, default_energy(rule.name))


def _span(where: str, span: SheetSpan, energy: DefaultEnergy) -> Iterator[str]:
    if span.undated:
        taken = span.reckoned(closing=not where.endswith(".opens")).points[0]
        yield (
            f"{where}: no temperature is stated, so it is taken to hold at {say_point(taken)}, the safe side of a "
            "room's; ask for the sheet's temperature, or write constant = true if it stands still"
        )
    elif not span.depends_on_temperature:
        if span.points[0].span_s > 0.0:
            yield f"{where}: no temperature is stated, and it stands still at any"
    elif len({point.temp_c for point in span.points}) == 1:
        yield (
            f"{where}: one temperature only; for others {energy.likely_kj_mol:g} kJ/mol stands in "
            f"({energy.low_kj_mol:g} to {energy.high_kj_mol:g}; {energy.source})"
        )


def _humidity(profile: Profile) -> Iterator[str]:
    spans = [span for rule in profile.windows for span in (rule.opens, rule.closes) if span is not None]
    depends = any(span.depends_on_humidity for span in spans)
    if profile.family in _MOISTURE_DRIVEN and not depends:
        yield "humidity: the sheet gives one only, so the floor's rate goes with the root of the moisture (judgement)"
    if profile.family not in _MOISTURE_DRIVEN and depends:
        yield f"humidity: not used for {profile.family.value}; the times nearest to 50 % hold"


def _limits(profile: Profile) -> Iterator[str]:
    if profile.limits.slab_c is None:
        yield "limits.slab: none is stated, so no slab is refused as too cold or too warm"
    if _work(profile) is not Work.COATING:
        return
    if profile.limits.humidity_max_pct is None:
        yield "limits.humidity_max: 85 % (customary with ISO 8502-4)"
    if profile.limits.dew_margin_min_k is None:
        yield "limits.dew_margin_min: 3 °C (ISO 8502-4 practice)"


def _spans(profile: Profile) -> Iterator[tuple[str, SheetSpan]]:
    if profile.pot_life is not None:
        yield "pot-life.at", profile.pot_life.span
    for rule in profile.windows:
        for edge, span in (("opens", rule.opens), ("closes", rule.closes)):
            if span is not None:
                yield f"windows.{rule.name}.{edge}", span


def _suspect_slopes(profile: Profile) -> Iterator[str]:
    for where, span in _spans(profile):
        for energy in fitted_energies_kj_mol(span):
            if not SUSPECT_BELOW_KJ_MOL <= energy <= SUSPECT_ABOVE_KJ_MOL:
                change = "hardly changes" if energy < SUSPECT_BELOW_KJ_MOL else "changes very much"
                yield (
                    f"{where}: {change} with temperature ({energy:.0f} kJ/mol; resins show "
                    f"{SUSPECT_BELOW_KJ_MOL:.0f} to {SUSPECT_ABOVE_KJ_MOL:.0f}): look at the figures again"
                )


def _suspect_humidity(profile: Profile) -> Iterator[str]:
    if profile.family not in _MOISTURE_DRIVEN:
        return
    for where, span in _spans(profile):
        exponent = _stated_exponent(span)
        if exponent is None:
            continue
        if exponent < 0.0:
            yield f"{where}: slower in damp air, while moisture drives this family: look whether two times were swapped"
            continue
        dried = sorted((temp_c, tau_s * water**exponent) for temp_c, water, tau_s in _damp_points(span))
        if any(warm[1] > cold[1] * 1.001 for cold, warm in pairwise(dried)):
            yield (
                f"{where}: the humidity figures ask for so much that, in equally damp air, warmer would be slower: "
                "look at them again"
            )


def _damp_points(span: SheetSpan) -> list[tuple[float, float, float]]:
    """Temperature, water in the air in g/m³, and time of each point that states a humidity."""
    return [
        (point.temp_c, absolute_humidity_g_m3(point.temp_c, point.rh_pct), point.span_s)
        for point in span.points
        if point.temp_c is not None and point.rh_pct is not None
    ]


def _stated_exponent(span: SheetSpan) -> float | None:
    """How strongly the water in the air drives this span, from the first temperature with two humidities."""
    points = sorted(_damp_points(span))
    for (temp_c, dry_g, dry_s), (other_c, humid_g, humid_s) in pairwise(points):
        if temp_c == other_c and humid_g > dry_g:
            return moisture_exponent((humid_g, humid_s), (dry_g, dry_s))
    return None


def _senseless(profile: Profile) -> Iterator[str]:
    """Doubts about minutes typed for hours, or hours for minutes: nobody drives on a coat after minutes, or rolls one
    for half a day."""
    if _work(profile) is not Work.COATING:
        return
    for rule in profile.windows:
        for edge, span in (("opens", rule.opens), ("closes", rule.closes)):
            low_s, high_s = SENSE_S.get((rule.name, edge), (0.0, float("inf")))
            for point in span.points if span is not None else ():
                if not low_s <= point.span_s <= high_s:
                    slip = "minutes typed for hours" if point.span_s < low_s else "hours typed for minutes"
                    yield f"windows.{rule.name}.{edge}: {write_span(point.span_s)}: were {slip}?"
                    break


def _out_of_order(profile: Profile) -> Iterator[str]:
    rules = {rule.name: rule for rule in profile.windows}
    for first, first_edge, second, second_edge, why in FIRST_OF_TWO:
        before, after = rules.get(first), rules.get(second)
        if before is None or after is None or before.after != after.after:
            continue
        early, late = getattr(before, first_edge), getattr(after, second_edge)
        if early is not None and late is not None:
            yield from _swapped(first, early, second, late, why)


def _swapped(first: str, early: SheetSpan, second: str, late: SheetSpan, why: str) -> Iterator[str]:
    for point in (*early.points, *late.points):
        early_s = span_at(early, point, default_energy(first).likely_kj_mol)
        late_s = span_at(late, point, default_energy(second).likely_kj_mol)
        if early_s > late_s * 1.001:
            yield (
                f"windows.{first}: {write_span(early_s)} at {say_point(point)}, "
                f"after windows.{second} ({write_span(late_s)}): {why}"
            )
            return
