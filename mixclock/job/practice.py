"""Figures of common practice for what a job file or a data sheet leaves out, each with its source.

Mixclock says aloud what it takes from here. The functions give an `Assumption`, and its words stand beside the deadline
or the quantity that rests on it. A figure that the file states has no such words.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType
from typing import Generic, TypeVar

from mixclock.job.profile import Family, Profile
from mixclock.job.sharedsides import MOST_SHARED
from mixclock.job.site import Area, Coat, Hours, Person, Site, Vessel
from mixclock.job.stepkinds import Skill
from mixclock.units import METRIC_CREW, CrewUnits, write_time_of_day
from mixclock.values import dataclass, replace

PRACTICE = "common practice, no source"
JUDGEMENT = "judgement"

_Value = TypeVar("_Value")


@dataclass(frozen=True)
class Assumption(Generic[_Value]):
    """A value, with the words for what it rests on. If the file states the value, there are no words."""

    value: _Value
    words: str = ""

    @property
    def stated(self) -> bool:
        """Whether the file states it."""
        return not self.words


@dataclass(frozen=True)
class UsualFigure:
    """One figure of practice: its value, how a person says it, and its source.

    If `said` holds the name of a quantity in braces, the value replaces it, in the crew's units.
    """

    value: float
    said: str
    source: str

    def told(self, units: CrewUnits = METRIC_CREW) -> str:
        """The figure as a person of that crew says it.

        >>> from mixclock.units import US_CREW
        >>> SQUEEGEE_M2_H.told(), SQUEEGEE_M2_H.told(US_CREW)
        ('a person squeegees 110 m² an hour', 'a person squeegees 1200 ft² an hour')
        """
        if "{" not in self.said:
            return self.said
        writers: dict[str, Callable[[float], str]] = {
            "area_an_hour": lambda value: units.write_rate(value).replace("/h", " an hour"),
            "length_an_hour": lambda value: units.write_edge_rate(value).replace("/h", " an hour"),
            "length": units.write_length,
            "film": units.write_film,
            "volume": units.write_volume,
            "mass": units.write_mass,
            "spread": units.write_spread,
            "mass_per_area": units.write_mass_per_area,
            "density": units.write_density,
        }
        named = (name for name in writers if f"{{{name}}}" in self.said)
        return self.said.format_map({name: writers[name](self.value) for name in named})

    def words(self, units: CrewUnits = METRIC_CREW) -> str:
        """The figure with its source, as the list of assumptions shows it."""
        return f"{self.told(units)} ({self.source})"

    def value_instead_of(self, stated: float | None) -> float:
        """What the file states, else this figure, without words: a search asks for it a hundred thousand times."""
        return stated if stated is not None else self.value

    def instead_of(self, stated: float | None, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
        """What the file states, else this figure with its words."""
        return Assumption(stated) if stated is not None else Assumption(self.value, self.words(units))


# One person. Spread of what crews report: squeegee 93 to 140 m²/h, 9 in roller 55 to 93, hand flake 46 to 75,
# cutting in 30 to 45 m/h; the figures are a little below the middle.
SQUEEGEE_M2_H = UsualFigure(110.0, "a person squeegees {area_an_hour}", PRACTICE)
ROLL_M2_H = UsualFigure(75.0, "a person back-rolls {area_an_hour} with a 9 in roller", PRACTICE)
WIDE_ROLL_M2_H = UsualFigure(140.0, "an 18 in roller in place of a 9 in one: {area_an_hour} a person", PRACTICE)
BROADCAST_M2_H = UsualFigure(60.0, "a person flakes {area_an_hour} by hand", PRACTICE)
CUT_IN_M_H = UsualFigure(35.0, "a person cuts in {length_an_hour}", PRACTICE)
SCRAPE_M2_H = UsualFigure(45.0, "a person scrapes and sweeps {area_an_hour}", JUDGEMENT)

POUR_S = UsualFigure(60.0, "a bucket is poured out in a minute, in ribbons", JUDGEMENT)
SET_UP_S = UsualFigure(180.0, "measuring out a bucket takes three minutes, stirring part A with it", JUDGEMENT)
FLAKE_LAG_S = UsualFigure(300.0, "flake follows the roller by five minutes", PRACTICE)
UNFLAKED_STRIP_M = UsualFigure(0.4, "a strip of {length} stays unflaked at the joint to the next batch", PRACTICE)

PAIL_L = UsualFigure(20.0, "a pail of {volume}", PRACTICE)
PAIL_ACROSS_M = UsualFigure(0.28, "a pail {length} across", PRACTICE)
FILL_SHARE = UsualFigure(0.8, "a pail is filled to four fifths, to leave room to mix", PRACTICE)

WASTE_SHARE = UsualFigure(0.05, "5 % stays in pails and rollers", JUDGEMENT)
FLAKE_FULL_KG_M2 = UsualFigure(0.488, "{mass_per_area} of flake sticks at full cover", PRACTICE)
FLAKE_THROWN_PER_STUCK = UsualFigure(1.5, "half as much flake again is thrown as sticks, and is swept back", PRACTICE)
ETCH_SPREAD_M2_L = UsualFigure(
    1.1,
    "where neither job file nor sheet says how far an etch goes, it goes {spread}",
    "read, an etching how-to page: 40 to 50 ft² a gallon",
)
WATER_TO_ACID = UsualFigure(3.0, "three parts of water to one of acid, acid into water", PRACTICE)
FILLED_KG_L = UsualFigure(
    1.6,
    "a kit sold by weight whose sheet states no densities is taken at {density}, as a filled resin: it makes least",
    JUDGEMENT,
)
POT_LIFE_MASS_KG = UsualFigure(0.15, "the pot life is taken to be that of 150 g", JUDGEMENT)

TEXTURE_UM: Mapping[str, UsualFigure] = MappingProxyType(
    {
        "smooth": UsualFigure(0.0, "a smooth slab takes nothing extra", JUDGEMENT),
        "ground": UsualFigure(30.0, "a ground slab takes {film} before any film stands on it", JUDGEMENT),
        "blasted": UsualFigure(80.0, "a shot-blasted slab takes {film} before any film stands on it", JUDGEMENT),
        "rough": UsualFigure(200.0, "a rough slab takes {film} before any film stands on it", JUDGEMENT),
    }
)

_THREE_MINUTES = UsualFigure(180.0, "mixing takes 3 min, with the change of pail", PRACTICE)
MIXING_S: Mapping[Family, UsualFigure] = MappingProxyType(
    {
        Family.WATERBORNE_EPOXY: UsualFigure(240.0, "mixing takes 4 min, as a waterborne needs", PRACTICE),
        Family.POLYASPARTIC: UsualFigure(60.0, "mixing takes 1 min, as a polyaspartic allows", PRACTICE),
        Family.ACID_ETCH: UsualFigure(60.0, "acid is stirred into its water for a minute, by hand", JUDGEMENT),
        Family.NEUTRALISER: UsualFigure(60.0, "a neutraliser is stirred into its water for a minute", JUDGEMENT),
    }
)

USUAL_HOURS = Hours()
"""The hours if the job file names none: half past seven to half past five (common practice, no source)."""


def squeegee_rate(person: Person | None, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """How fast this person squeegees, in m²/h."""
    return SQUEEGEE_M2_H.instead_of(person.squeegee_m2_h if person else None, units)


def roll_rate(person: Person | None, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """How fast this person back-rolls, in m²/h."""
    return ROLL_M2_H.instead_of(person.roll_m2_h if person else None, units)


def broadcast_rate(person: Person | None, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """How fast this person throws flake, in m²/h."""
    return BROADCAST_M2_H.instead_of(person.broadcast_m2_h if person else None, units)


def cut_in_rate(person: Person | None, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """How fast this person cuts in, in m/h."""
    return CUT_IN_M_H.instead_of(person.cut_in_m_h if person else None, units)


def squeegee_rate_m2_h(person: Person | None) -> float:
    """The rate alone, for callers that say the words elsewhere."""
    return SQUEEGEE_M2_H.value_instead_of(person.squeegee_m2_h if person else None)


def roll_rate_m2_h(person: Person | None) -> float:
    """The rate alone, for callers that say the words elsewhere."""
    return ROLL_M2_H.value_instead_of(person.roll_m2_h if person else None)


def broadcast_rate_m2_h(person: Person | None) -> float:
    """The rate alone, for callers that say the words elsewhere."""
    return BROADCAST_M2_H.value_instead_of(person.broadcast_m2_h if person else None)


def cut_in_rate_m_h(person: Person | None) -> float:
    """The rate alone, for callers that say the words elsewhere."""
    return CUT_IN_M_H.value_instead_of(person.cut_in_m_h if person else None)


def usual_spread(profile: Profile) -> Assumption[float] | None:
    """How far a product goes, in m²/L, if the job file tells neither film nor spread. The sheet may tell it of the
    ready solution; an etch has a usual figure; for the rest it is None, since only the job file can tell."""
    if profile.dilution.spread_m2_l is not None:
        return Assumption(profile.dilution.spread_m2_l)
    if profile.family is not Family.ACID_ETCH:
        return None
    return Assumption(ETCH_SPREAD_M2_L.value, ETCH_SPREAD_M2_L.words())


def stated_film_um(coat: Coat, profile: Profile | None) -> float | None:
    """The wet film that job file and sheet ask for. Over flake it is the sheet's figure for flake, if that is more.

    >>> stated_film_um(Coat("top", "Top", spread_m2_l=8.0), None)
    125.0
    """
    own = coat.wet_film_um or (1000.0 / coat.spread_m2_l if coat.spread_m2_l else None)
    goes_m2_l = profile.film.over_flake_m2_l if profile is not None and coat.over_flake else None
    return own if goes_m2_l is None else max(own or 0.0, 1000.0 / goes_m2_l)


def mixing_time(profile: Profile | None) -> Assumption[float]:
    """How long mixing takes, in s: the sheet's time, else its family's usual one.

    >>> mixing_time(None)
    Assumption(value=180.0, words='mixing takes 3 min, with the change of pail (common practice, no source)')
    """
    if profile is None:
        return _THREE_MINUTES.instead_of(None)
    return MIXING_S.get(profile.family, _THREE_MINUTES).instead_of(profile.mix.time_s)


def pot_life_mass(profile: Profile) -> Assumption[float]:
    """The mass for which the sheet's pot life holds, in kg."""
    return POT_LIFE_MASS_KG.instead_of(profile.pot_life.mass_kg if profile.pot_life else None)


def vessels(site: Site) -> Assumption[tuple[Vessel, ...]]:
    """The vessels to mix in; a usual pail if the file names none."""
    if site.vessels:
        return Assumption(site.vessels)
    usual = Vessel("pail", PAIL_L.value, PAIL_ACROSS_M.value)
    across = site.units.write_length(PAIL_ACROSS_M.value)
    return Assumption((usual,), f"mixed in {PAIL_L.told(site.units)}, {across} across ({PRACTICE})")


def across_m(vessel: Vessel, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """The inner diameter; without one, that of a pail of the usual shape with the same volume."""
    if vessel.across_m is not None:
        return Assumption(vessel.across_m)
    value = PAIL_ACROSS_M.value * (vessel.volume_l / PAIL_L.value) ** (1.0 / 3.0)
    across = units.write_length(value)
    return Assumption(value, f"{vessel.name} is taken to be shaped like a pail, {across} across ({JUDGEMENT})")


def crew(site: Site) -> Assumption[tuple[Person, ...]]:
    """Who is there. If the file names nobody, one person does everything."""
    if site.crew:
        return Assumption(site.crew)
    return Assumption((Person("crew"),), "one person does everything (the job file names no crew)")


def hours(site: Site) -> Assumption[Hours]:
    """When the crew is on the floor."""
    if site.hours is not None:
        return Assumption(site.hours)
    begin, end = (write_time_of_day(at.replace(tzinfo=site.wall)) for at in (USUAL_HOURS.start, USUAL_HOURS.end))
    return Assumption(USUAL_HOURS, f"working hours from {begin} to {end} ({PRACTICE})")


def edge_m(area: Area) -> Assumption[float]:
    """The length to cut in along an area, in m. If the file is silent, it is all four sides of a square of that size,
    less what it shares with its neighbours."""
    if area.edge_m is not None:
        return Assumption(area.edge_m)
    measured = area.shape.edge_m if area.shape is not None else None
    round_m = 4.0 * math.sqrt(area.size_m2) if measured is None else measured
    value = max(round_m - area.shared_m, (1.0 - MOST_SHARED) * round_m)
    but = " but where it meets its neighbours" if area.shared_m else ""
    by = f"as if it were square ({JUDGEMENT})" if measured is None else "by the sides that were measured"
    return Assumption(value, f"{area.name} is cut in all round{but}, {by}")


def is_taken_as_filled(coat: Coat, profile: Profile) -> bool:
    """Whether how much floor a kit makes has to be guessed from its weight alone."""
    return coat.kit_l is None and coat.kit_kg is not None and profile.mix.density_kg_l is None


def texture_um(area: Area, units: CrewUnits = METRIC_CREW) -> Assumption[float]:
    """How much film the slab's texture swallows before any stands on it, in µm."""
    if area.texture is None:
        return Assumption(0.0, f"{area.name} is taken to be smooth (the job file states no texture)")
    figure = TEXTURE_UM[area.texture]
    return Assumption(figure.value, figure.words(units))


def waste_share(coat: Coat) -> Assumption[float]:
    """The share of what is mixed that never reaches the floor."""
    return WASTE_SHARE.instead_of(coat.waste)


def areas_in_order(site: Site) -> tuple[Area, ...]:
    """The areas in the order of work: first by `order`, then those without an `order`, by name.

    The order in which the file lists areas plays no part, so that sorting a file changes no plan.
    """
    return site.areas_in_order


TASKS_WITH_RATES = (Skill.SQUEEGEE, Skill.ROLL, Skill.BROADCAST, Skill.CUT_IN)


def completed(site: Site) -> tuple[Site, tuple[str, ...]]:
    """The site with crew, rates, vessels and hours filled in, and one line for each thing that was assumed."""
    found: list[str] = []
    flaked = any(coat.flake_kg_m2 for coat in site.coats)
    there = _noted(crew(site), found)
    people = tuple(_with_rates(person, there, site.units, flaked, found) for person in there)
    buckets = tuple(
        replace(vessel, across_m=_noted(across_m(vessel, site.units), found)) for vessel in _noted(vessels(site), found)
    )
    areas = tuple(replace(area, edge_m=_noted(edge_m(area), found)) for area in site.areas)
    whole = replace(site, crew=people, vessels=buckets, hours=_noted(hours(site), found), areas=areas)
    return whole, tuple(dict.fromkeys(found))


def _with_rates(person: Person, there: Sequence[Person], units: CrewUnits, flaked: bool, found: list[str]) -> Person:
    """How fast somebody is at what they never do is no assumption of the plan."""
    of: dict[str, list[str]] = {task: found if _may_do(person, task, there) else [] for task in TASKS_WITH_RATES}
    return replace(
        person,
        squeegee_m2_h=_noted(squeegee_rate(person, units), of[Skill.SQUEEGEE]),
        roll_m2_h=_noted(roll_rate(person, units), of[Skill.ROLL]),
        broadcast_m2_h=_noted(broadcast_rate(person, units), of[Skill.BROADCAST] if flaked else []),
        cut_in_m_h=_noted(cut_in_rate(person, units), of[Skill.CUT_IN]),
    )


def _may_do(person: Person, task: str, there: Sequence[Person]) -> bool:
    """Whether a task may fall to somebody: who is named for it or for helping, and everybody where nobody is."""
    named = [each for each in there if not each.does or task in each.does]
    return person in named or task in person.helps or not named


def _noted(assumed: Assumption[_Value], found: list[str]) -> _Value:
    if assumed.words:
        found.append(assumed.words)
    return assumed.value
