"""Nothing fits: which constraint is in the way, and the smallest change in each direction that frees it.

Nothing is guessed: every change that is offered was planned again and fits; the constraint is the one without which
the plan fits.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, time, timedelta

from mixclock.decide.plan.planning import Bench, Standpoint, make_plan
from mixclock.decide.plan.schedule import Ways
from mixclock.decide.plan.search import Effort
from mixclock.decide.plan.shapes import Change, Obstacle, Plan
from mixclock.decide.plan.timing import Bucket, Span, Timing
from mixclock.job import practice
from mixclock.job.site import Person, Site

QUICK = Effort(600, 400, 2)
RELAXABLE = ("wet-edge", "back-roll", "broadcast", "pour-out", "recoat", "hours", "conditions", "induction")
SLOWER = (1.1, 1.25, 1.5, 2.0, 3.0)
MORE_PEOPLE = 3
MORE_HOURS = (1, 2, 3, 4)
MORE_DAYS = (1, 2, 3)


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
        """The opening edge, later by the factor."""
        found = self.timing.opens(product, window, start, bucket)
        return found if window == "induction" else self._scaled(product, found)

    def _scaled(self, product: str, span: Span | None) -> Span | None:
        if span is None or product.casefold() != self.product.casefold():
            return span
        late_s = None if span.late_s is None else span.late_s * self.factor
        return Span(span.early_s * self.factor, span.likely_s * self.factor, late_s)


def explain(bench: Bench, plan: Plan, ways: Ways, standpoint: Standpoint | None = None) -> Plan:
    """The plan with the constraint in the way confirmed and the changes that free it; a feasible plan as it is."""
    if plan.obstacle is None:
        return plan
    quick = replace(ways, effort=QUICK)
    obstacle = _confirmed(bench, plan.obstacle, quick, standpoint)
    changes = tuple(_changes(bench, obstacle, quick, standpoint))
    return replace(plan, obstacle=obstacle, changes=changes)


def _confirmed(bench: Bench, obstacle: Obstacle, ways: Ways, standpoint: Standpoint | None) -> Obstacle:
    """The constraint without which it fits; the one that was met first if no single one is enough."""
    for name in sorted(RELAXABLE, key=lambda name: name != obstacle.constraint):
        if ways.stop():
            break
        ways.progress(f"what is in the way: {name}?", 0.6)
        tried = make_plan(replace(bench, ignore=bench.ignore | {name}), ways, standpoint)
        if tried.feasible:
            same = name == obstacle.constraint
            return obstacle if same else replace(obstacle, constraint=name, said=f"{obstacle.said} ({name})")
    return obstacle


def _changes(bench: Bench, obstacle: Obstacle, ways: Ways, standpoint: Standpoint | None) -> Iterator[Change]:
    for direction, options in _directions(bench, obstacle):
        for said, changed in options:
            if ways.stop():
                return
            ways.progress(f"what would free it: {said}?", 0.8)
            tried = make_plan(changed, ways, standpoint)
            if tried.feasible:
                yield Change(direction, said, tried.finish, len(tried.batches))
                break


def _directions(bench: Bench, obstacle: Obstacle) -> Iterator[tuple[str, list[tuple[str, Bench]]]]:
    """The directions, each with its changes from the smallest on."""
    site = bench.site
    yield "smaller batch", _smaller(bench, obstacle)
    people = [_with_people(site, count) for count in range(1, MORE_PEOPLE + 1)]
    yield (
        "another person",
        [
            (f"{count} person more" if count == 1 else f"{count} people more", replace(bench, site=changed))
            for count, changed in enumerate(people, 1)
        ],
    )
    yield "another hour", [*_longer(bench), *_more_days(bench)]
    coat = site.coat(obstacle.coat) if obstacle.coat else None
    if coat is not None:
        yield (
            "another hardener",
            [
                (
                    f"a hardener for {coat.product} with {(factor - 1) * 100:.0f} % more time",
                    replace(
                        bench,
                        timing=Slower(bench.timing, coat.product, factor),
                        exact=Slower(bench.exact, coat.product, factor),
                    ),
                )
                for factor in SLOWER
            ],
        )
        if coat.wet_edge is not False and len(site.areas) > 1:
            said = f"tape {coat.name} at the saw cut between areas, without a wet edge there"
            coats = tuple(replace(one, wet_edge=False) if one.name == coat.name else one for one in site.coats)
            yield "joints", [(said, replace(bench, site=replace(site, coats=coats)))]


def _smaller(bench: Bench, obstacle: Obstacle) -> list[tuple[str, Bench]]:
    """Measured part kits where only whole ones were allowed."""
    coat = bench.site.coat(obstacle.coat) if obstacle.coat else None
    if coat is None or coat.split or (coat.kit_l is None and coat.kit_kg is None):
        return []
    coats = tuple(replace(one, split=True) if one.name == coat.name else one for one in bench.site.coats)
    said = f"measured part kits of {coat.product}, if its maker allows them"
    return [(said, replace(bench, site=replace(bench.site, coats=coats)))]


def _with_people(site: Site, count: int) -> Site:
    crew = practice.crew(site).value
    more = tuple(Person(f"person {len(crew) + number}") for number in range(1, count + 1))
    return replace(site, crew=(*crew, *more))


def _longer(bench: Bench) -> list[tuple[str, Bench]]:
    hours = practice.hours(bench.site).value
    found = []
    for more in MORE_HOURS:
        if hours.end.hour + more > 23:
            break
        end = time(hours.end.hour + more, hours.end.minute)
        changed = replace(hours, end=end)
        found.append((f"work until {end:%H:%M}", replace(bench, site=replace(bench.site, hours=changed))))
    for more in MORE_HOURS[:2]:
        if hours.start.hour - more < 0:
            break
        start = time(hours.start.hour - more, hours.start.minute)
        changed = replace(hours, start=start)
        found.append((f"begin at {start:%H:%M}", replace(bench, site=replace(bench.site, hours=changed))))
    return found


def _more_days(bench: Bench) -> list[tuple[str, Bench]]:
    hours = practice.hours(bench.site).value
    if not hours.days:
        return []
    found = []
    for more in MORE_DAYS:
        days = (*hours.days, *(max(hours.days) + timedelta(days=ahead) for ahead in range(1, more + 1)))
        said = "a day more" if more == 1 else f"{more} days more"
        found.append((said, replace(bench, site=replace(bench.site, hours=replace(hours, days=days)))))
    return found
