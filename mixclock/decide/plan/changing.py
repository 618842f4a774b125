"""The changes that may free a plan, direction by direction, each from the smallest on.

They are only proposed here; `mixclock.decide.plan.infeasible` plans each again before it is told to anybody.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from mixclock.decide.plan.pieces import neighbours, ordered_areas
from mixclock.decide.plan.planning import Bench
from mixclock.decide.plan.quantities import kit_l, room_l
from mixclock.decide.plan.shapes import Obstacle
from mixclock.decide.plan.timing import Bucket, Span, Timing
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Hours, Person, Site

MORE_PEOPLE = 3
MORE_HOURS = 4
MORE_DAYS = 3
MOST_PRODUCTS = 4
MOST_JOINTS = 4
SLOWER = (1.25, 1.5, 2.0)
LARGER_VESSELS_L = (30.0, 40.0, 60.0)


@dataclass(frozen=True)
class Option:
    """A change in words, and the bench with it."""

    said: str
    bench: Bench


@dataclass(frozen=True)
class Slower:
    """The clocks of one product stretched, as by a slower hardener; its recoat and the rest stretch along."""

    timing: Timing
    product: str
    factor: float

    def closes(self, product: str, window: str, start: datetime, bucket: Bucket) -> Span | None:
        """The closing edge, later by the factor."""
        return self._scaled(product, self.timing.closes(product, window, start, bucket))

    def opens(self, product: str, window: str, start: datetime, bucket: Bucket) -> Span | None:
        """The opening edge, later by the factor; a stand stays as long as it is."""
        found = self.timing.opens(product, window, start, bucket)
        return found if window == "induction" else self._scaled(product, found)

    def _scaled(self, product: str, span: Span | None) -> Span | None:
        if span is None or product.casefold() != self.product.casefold():
            return span
        late_s = None if span.late_s is None else span.late_s * self.factor
        return Span(span.early_s * self.factor, span.likely_s * self.factor, late_s)


def directions(bench: Bench, obstacle: Obstacle) -> Iterator[tuple[str, list[Option]]]:
    """The directions in which a plan may be freed, the cheapest for a crew first."""
    site = bench.site
    coat = site.coat(obstacle.coat) if obstacle.coat else None
    if coat is not None:
        yield "smaller batch", list(_smaller(bench, coat))
        yield "larger vessel", list(_larger_vessel(bench, coat))
    yield "another hour", list(_other_hours(bench))
    yield "another day", list(_more_days(bench))
    yield "another person", [_with_people(bench, count) for count in range(1, MORE_PEOPLE + 1)]
    if coat is not None:
        yield "taped joint", list(_taped(bench, coat, obstacle.area))
        yield "another product", [*_other_products(bench, coat, obstacle), *_slower(bench, coat)]


def _with_coat(bench: Bench, coat: Coat) -> Bench:
    coats = tuple(coat if one.name == coat.name else one for one in bench.site.coats)
    return replace(bench, site=replace(bench.site, coats=coats))


def _smaller(bench: Bench, coat: Coat) -> Iterator[Option]:
    """Half kits, then any measured part of one, where only whole ones were allowed."""
    if coat.split or (coat.kit_l is None and coat.kit_kg is None):
        return
    halves = replace(
        coat,
        kit_l=coat.kit_l / 2.0 if coat.kit_l is not None else None,
        kit_kg=coat.kit_kg / 2.0 if coat.kit_kg is not None else None,
    )
    yield Option(
        f"half kits of {coat.product}, A and B each measured, if its maker allows it", _with_coat(bench, halves)
    )
    said = f"measured part kits of {coat.product}, if its maker allows them"
    yield Option(said, _with_coat(bench, replace(coat, split=True)))


def _larger_vessel(bench: Bench, coat: Coat) -> Iterator[Option]:
    """A vessel that takes one kit, where none does."""
    known = practice.vessels(bench.site).value
    profile = bench.profiles.get(coat.product.casefold())
    kit = kit_l(coat, profile) if profile is not None else None
    if kit is None or coat.split or any(room_l(vessel) >= kit for vessel in known):
        return
    largest = max(known, key=lambda vessel: vessel.volume_l)
    for volume_l in LARGER_VESSELS_L:
        if volume_l > largest.volume_l:
            vessel = replace(largest, name=f"vessel of {volume_l:.0f} L", volume_l=volume_l, across_m=None)
            site = replace(bench.site, vessels=(*bench.site.vessels, vessel))
            yield Option(f"a {vessel.name}", replace(bench, site=site))


def _with_people(bench: Bench, count: int) -> Option:
    crew = practice.crew(bench.site).value
    more = tuple(Person(f"person {len(crew) + number}") for number in range(1, count + 1))
    said = "one person more" if count == 1 else f"{count} people more"
    return Option(said, replace(bench, site=replace(bench.site, crew=(*crew, *more))))


def _with_hours(bench: Bench, hours: Hours) -> Bench:
    return replace(bench, site=replace(bench.site, hours=hours))


def _other_hours(bench: Bench) -> Iterator[Option]:
    """Work an hour longer or begin an hour sooner, then two, and so on."""
    hours = practice.hours(bench.site).value
    for more in range(1, MORE_HOURS + 1):
        if hours.end.hour + more < 24:
            end = time(hours.end.hour + more, hours.end.minute)
            yield Option(f"work until {end:%H:%M}", _with_hours(bench, replace(hours, end=end)))
        if hours.start.hour - more >= 0:
            start = time(hours.start.hour - more, hours.start.minute)
            changed = _with_hours(bench, replace(hours, start=start))
            begins = min(bench.begins, _sooner(bench, more))
            yield Option(f"begin at {start:%H:%M}", replace(changed, begins=begins))


def _sooner(bench: Bench, hours: int) -> datetime:
    """A plan that begins with the working day begins that much sooner; one from where things stand does not."""
    usual = practice.hours(bench.site).value.start
    there = bench.begins.astimezone(ZoneInfo(bench.site.zone)).time()
    return bench.begins - timedelta(hours=hours) if there <= usual else bench.begins


def _more_days(bench: Bench) -> Iterator[Option]:
    hours = practice.hours(bench.site).value
    if not hours.days:
        return
    for more in range(1, MORE_DAYS + 1):
        days = (*hours.days, *(max(hours.days) + timedelta(days=ahead) for ahead in range(1, more + 1)))
        said = f"work on {max(days):%A} {max(days).day} as well" if more == 1 else f"{more} days more"
        yield Option(said, _with_hours(bench, replace(hours, days=days)))


def _taped(bench: Bench, coat: Coat, area: str | None) -> Iterator[Option]:
    """One taped joint, at the area in question first; then no wet edge anywhere."""
    if coat.wet_edge is False or len(bench.site.areas) < 2:
        return
    pairs, _ = neighbours(bench.site, ordered_areas(bench.site, coat))
    for one, other in sorted(pairs, key=lambda pair: (area not in pair, _middle(bench.site, pair)))[:MOST_JOINTS]:
        cut = replace(bench.site, saw_cuts=(*bench.site.saw_cuts, (one, other)))
        said = f"stop {coat.name} at a taped line between {one} and {other}"
        yield Option(said, replace(bench, site=cut))
    said = f"tape every joint of {coat.name}: no wet edge from area to area"
    yield Option(said, _with_coat(bench, replace(coat, wet_edge=False)))


def _middle(site: Site, pair: tuple[str, str]) -> float:
    """How far a joint is from the middle of the floor: a cut there helps most."""
    names = [area.name for area in practice.areas_in_order(site)]
    return abs(sum(names.index(name) for name in pair) / 2.0 - (len(names) - 1) / 2.0)


def _other_products(bench: Bench, coat: Coat, obstacle: Obstacle) -> Iterator[Option]:
    """Known products of the same family, the one whose clock is nearest first."""
    own = bench.profiles.get(coat.product.casefold())
    if own is None:
        return
    same = [other for other in bench.profiles.values() if other.family is own.family and other.name != own.name]
    span = _early_s(bench, own, obstacle.constraint)
    ranked = sorted(same, key=lambda other: (abs(_early_s(bench, other, obstacle.constraint) - span), other.name))
    for other in ranked[:MOST_PRODUCTS]:
        yield Option(f"{other.name} instead of {own.name}", _with_coat(bench, replace(coat, product=other.name)))


def _early_s(bench: Bench, profile: Profile, constraint: str) -> float:
    """How long the window in question lasts in a small bucket's film; where it is none, the back-roll."""
    for window in (constraint, "back-roll", "pour-out"):
        found = bench.timing.closes(profile.name, window, bench.begins, Bucket(1.0, 1.0, 240.0))
        if found is not None:
            return found.early_s
    return 0.0


def _slower(bench: Bench, coat: Coat) -> Iterator[Option]:
    """Where no known product does: how much more time a slower hardener would have to give."""
    for factor in SLOWER:
        said = f"a hardener for {coat.product} with {(factor - 1) * 100:.0f} % more time"
        timing, exact = (Slower(each, coat.product, factor) for each in (bench.timing, bench.exact))
        yield Option(said, replace(bench, timing=timing, exact=exact))
