"""The changes that may free a plan, direction by direction, each from the smallest on.

They are only proposed here; `mixclock.decide.plan.judge.explanation` plans each again before it is told to anybody.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, time, timedelta

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.conditions import working_stretches
from mixclock.decide.plan.floor.pieces import neighbours, ordered_areas
from mixclock.decide.plan.floor.plans import Obstacle
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET, in_whole_kits, kit_l, room_l
from mixclock.decide.plan.floor.timing import Bucketful, Span, Timing
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Hours, Person, Site
from mixclock.job.steps import BACK_ROLL, DWELL, INDUCTION, POUR_OUT, RECOAT, RINSE, WET_EDGE
from mixclock.units import write_time_of_day
from mixclock.values import dataclass, replace

MORE_PEOPLE = 3
MORE_HOURS = 4
MORE_DAYS = 3
EARLIEST_H = 5
"""Nobody is told to begin before five in the morning (judgement)."""

MOST_PRODUCTS = 3
MOST_JOINTS = 3
WORTH_A_ROLLER = 0.8
"""A person who rolls at this share of a wide roller's pace already has one (judgement)."""

TASKS_SAID: Mapping[str, str] = {
    "cut-in": "cuts in",
    "roll": "back-rolls",
    "squeegee": "squeegees",
    "mix": "mixes",
    "broadcast": "throws flake",
}
"""What a person may be asked to do besides, the brush first: it is what others wait for most (judgement)."""

SLOWER = (1.25, 1.5, 2.0)
LARGER_VESSELS_L = (30.0, 40.0, 60.0)


@dataclass(frozen=True)
class Option:
    """A change in words, and the bench with it."""

    said: str
    bench: Bench


@dataclass(frozen=True)
class SlowerCure:
    """The clocks of one product stretched, as by a slower hardener; its recoat and the rest stretch along."""

    timing: Timing
    product: str
    factor: float

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The closing edge, later by the factor."""
        return self._scaled(product, self.timing.closes(product, window, start, bucket))

    def opens(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The opening edge, later by the factor; a stand stays as long as it is."""
        found = self.timing.opens(product, window, start, bucket)
        return found if window == INDUCTION else self._scaled(product, found)

    def _scaled(self, product: str, span: Span | None) -> Span | None:
        if span is None or product.casefold() != self.product.casefold():
            return span
        late_s = None if span.late_s is None else span.late_s * self.factor
        return Span(span.early_s * self.factor, span.likely_s * self.factor, late_s)


@dataclass(frozen=True)
class Direction:
    """Changes of one kind from the smallest on. `nested`: each holds the smaller ones in itself; `last_holds_all`: only
    the last of them does. `joinable`: those of them that hold the smaller ones and may be made together with a change
    of another kind."""

    name: str
    options: tuple[Option, ...]
    nested: bool = False
    joinable: tuple[Option, ...] = ()
    last_holds_all: bool = False


HOURS_OR_PRODUCT = ("earlier start", "later end", "another day", "another product")
TOO_SLOW = ("smaller batch", "wider roller", "other tasks", "another person", *HOURS_OR_PRODUCT)
JOINED = ("smaller batch", "wider roller", "other tasks", "taped joint", "another person", *HOURS_OR_PRODUCT)
TOO_LATE = (
    "later end",
    "earlier start",
    "wider roller",
    "other tasks",
    "smaller batch",
    "another person",
    "another day",
    "taped joint",
    "another product",
)
ORDER: Mapping[str, tuple[str, ...]] = {
    BACK_ROLL: TOO_SLOW,
    "broadcast": TOO_SLOW,
    WET_EDGE: JOINED,
    "sequence": JOINED,
    DWELL: TOO_SLOW,
    RINSE: TOO_SLOW,
    POUR_OUT: ("smaller batch", "larger pail", "earlier start", "later end", "another day", "another product"),
    "vessel": ("smaller batch", "larger pail"),
    SMALL_BUCKET: JOINED[1:],
    "hours": TOO_LATE,
    RECOAT: TOO_LATE,
    "conditions": ("another day", "later end", "earlier start", "another product"),
}
"""Which directions can help against a constraint. What costs a crew least comes first."""

SHUTS_TOO_SOON = frozenset({BACK_ROLL, "broadcast", WET_EDGE, "sequence", POUR_OUT, DWELL, RINSE, SMALL_BUCKET})


def directions(bench: Bench, obstacle: Obstacle) -> Iterator[Direction]:
    """The directions in which a plan may be freed."""
    for name in ORDER.get(obstacle.constraint, TOO_SLOW):
        options = tuple(_options(name, bench, obstacle))
        slower = tuple(option for option in options if option.bench.timing is not bench.timing)
        others = tuple(option for option in options if option not in slower)
        if others and name == "other tasks":
            yield Direction(name, others, joinable=others[-1:], last_holds_all=True)
        elif others:
            yield Direction(name, others, name in NESTED, others if name in NESTED else ())
        if slower:
            yield Direction(name, slower, obstacle.constraint in SHUTS_TOO_SOON, slower)


BY_COAT = frozenset({"another product"})
"""Two coats may each need a change of this kind."""

NESTED = frozenset(
    {"smaller batch", "wider roller", "another person", "taped joint", "earlier start", "later end", "another day"}
)


def _options(name: str, bench: Bench, obstacle: Obstacle) -> Iterator[Option]:
    coat = bench.site.coat(obstacle.coat) if obstacle.coat else None
    hours: Mapping[str, Callable[[Bench], Iterator[Option]]] = {
        "earlier start": _sooner,
        "later end": _later,
        "another day": _more_days,
    }
    if name in hours:
        yield from _worth_it(bench, coat, obstacle, hours[name](bench))
    elif name == "another person":
        yield from (_with_people(bench, count) for count in range(1, MORE_PEOPLE + 1))
    elif name == "wider roller":
        yield from _wider_roller(bench)
    elif name == "other tasks":
        yield from _more_tasks(bench)
    elif coat is None:
        return
    elif name == "smaller batch":
        yield from _smaller(bench, coat)
    elif name == "larger pail":
        yield from _larger_vessel(bench, coat)
    elif name == "taped joint":
        yield from _taped(bench, coat, obstacle.area)
    elif name == "another product":
        yield from _other_products(bench, coat, obstacle)
        yield from _slower(bench, coat)


def _worth_it(bench: Bench, coat: Coat | None, obstacle: Obstacle, options: Iterator[Option]) -> Iterator[Option]:
    """The options that are worth a try. Against a window that shuts too soon only hours help in which it stays open
    longer."""
    profile = bench.profiles.get(coat.product.casefold()) if coat is not None else None
    if profile is None or obstacle.constraint not in SHUTS_TOO_SOON:
        yield from options
        return
    best_s = _longest_s(bench, profile, obstacle.constraint)
    for option in options:
        if _longest_s(option.bench, profile, obstacle.constraint) > 1.01 * best_s:
            yield option


def _longest_s(bench: Bench, profile: Profile, constraint: str) -> float:
    """The longest that the window in question stays open at any hour of the working days."""
    longest = 0.0
    for stretch in working_stretches(bench.site, bench.begins):
        at = stretch.start
        while at < stretch.end:
            longest = max(longest, _early_s(bench, profile, constraint, at))
            at += timedelta(hours=1)
    return longest


def _with_coat(bench: Bench, coat: Coat) -> Bench:
    coats = tuple(coat if one.name == coat.name else one for one in bench.site.coats)
    return replace(bench, site=replace(bench.site, coats=coats))


def _smaller(bench: Bench, coat: Coat) -> Iterator[Option]:
    """Half kits, then any measured part of one, where only whole ones were allowed."""
    profile = bench.profiles.get(coat.product.casefold())
    if profile is None or not in_whole_kits(coat, profile):
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
    if (
        profile is None
        or kit is None
        or not in_whole_kits(coat, profile)
        or any(room_l(vessel) >= kit for vessel in known)
    ):
        return
    largest = max(known, key=lambda vessel: vessel.volume_l)
    for volume_l in LARGER_VESSELS_L:
        if volume_l > largest.volume_l:
            name = f"pail of {bench.site.units.write_volume(volume_l)}"
            vessel = replace(largest, name=name, volume_l=volume_l, across_m=None)
            site = replace(bench.site, vessels=(*bench.site.vessels, vessel))
            yield Option(f"a {vessel.name}", replace(bench, site=site))


def _with_people(bench: Bench, count: int) -> Option:
    crew = practice.crew(bench.site).value
    more = tuple(Person(f"person {len(crew) + number}") for number in range(1, count + 1))
    said = "one person more" if count == 1 else f"{count} people more"
    return Option(said, _with_crew(bench, (*crew, *more)))


def _wider_roller(bench: Bench) -> Iterator[Option]:
    """A roller of twice the width, where the crew rolls at the pace of a narrow one."""
    crew, wide = practice.crew(bench.site).value, practice.WIDE_ROLL_M2_H
    if all(practice.roll_rate_m2_h(person) < WORTH_A_ROLLER * wide.value for person in crew):
        faster = tuple(replace(person, roll_m2_h=wide.value) for person in crew)
        yield Option(wide.told(bench.site.units), _with_crew(bench, faster))


def _more_tasks(bench: Bench) -> Iterator[Option]:
    """One person of the crew with one task more, then everybody with all of them: where the brush or the roller is in
    one hand only, the others stand idle beside it."""
    crew = practice.crew(bench.site).value
    for task, said in TASKS_SAID.items():
        for place, person in enumerate(crew):
            if person.does and task not in person.does:
                more = replace(person, does=(*person.does, task))
                yield Option(
                    f"{person.name} {said} as well", _with_crew(bench, (*crew[:place], more, *crew[place + 1 :]))
                )
    everybody = tuple(replace(person, does=()) for person in crew)
    if len(crew) > 1 and everybody != crew:
        yield Option("everybody does every task", _with_crew(bench, everybody))


def _with_crew(bench: Bench, crew: tuple[Person, ...]) -> Bench:
    return replace(bench, site=replace(bench.site, crew=crew))


def _with_hours(bench: Bench, hours: Hours) -> Bench:
    return replace(bench, site=replace(bench.site, hours=hours))


def _later(bench: Bench) -> Iterator[Option]:
    """Work half an hour longer, then an hour, and so on."""
    hours = practice.hours(bench.site).value
    for more_min in range(30, 60 * MORE_HOURS + 1, 30):
        hour, minute = divmod(60 * hours.end.hour + hours.end.minute + more_min, 60)
        if hour < 24:
            end = time(hour, minute)
            yield Option(
                f"work until {write_time_of_day(end.replace(tzinfo=bench.site.wall))}",
                _with_hours(bench, replace(hours, end=end)),
            )


def _sooner(bench: Bench) -> Iterator[Option]:
    """Begin an hour sooner, then two. A plan from where things stand begins now, so only its later days begin
    sooner."""
    hours = practice.hours(bench.site).value
    there = bench.begins.astimezone(bench.site.wall).time()
    for more in range(1, MORE_HOURS + 1):
        if hours.start.hour - more >= EARLIEST_H:
            start = time(hours.start.hour - more, hours.start.minute)
            begins = bench.begins - timedelta(hours=more) if there == hours.start else bench.begins
            changed = _with_hours(bench, replace(hours, start=start))
            yield Option(
                f"begin at {write_time_of_day(start.replace(tzinfo=bench.site.wall))}", replace(changed, begins=begins)
            )


def _more_days(bench: Bench) -> Iterator[Option]:
    hours = practice.hours(bench.site).value
    if not hours.days:
        return
    for more in range(1, MORE_DAYS + 1):
        longer = hours.with_days_more(more)
        said = f"work on {max(longer.days):%A} {max(longer.days).day} as well" if more == 1 else f"{more} days more"
        yield Option(said, _with_hours(bench, longer))


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


def alone(bench: Bench, coat: Coat) -> Bench:
    """The job with this coat only, on a floor that is open from the start: what refuses it here refuses it anywhere.

    Benches that differ in nothing that this coat asks for are equal.
    """
    timing, exact = (_for_product(each, coat.product) for each in (bench.timing, bench.exact))
    site = replace(bench.site, coats=(replace(coat, after=None),))
    return replace(bench, site=site, timing=timing, exact=exact)


def _for_product(timing: Timing, product: str) -> Timing:
    """The clocks without what was changed for other products."""
    while isinstance(timing, SlowerCure) and timing.product.casefold() != product.casefold():
        timing = timing.timing
    return timing


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


def _early_s(bench: Bench, profile: Profile, constraint: str, at: datetime | None = None) -> float:
    """How long the window in question lasts for a small bucket; if its sheet has none, the back-roll or the
    pour-out."""
    for window in (constraint, BACK_ROLL, POUR_OUT):
        found = bench.timing.closes(profile.name, window, at or bench.begins, Bucketful(1.0, 1.0, 240.0))
        if found is not None:
            return found.early_s
    return 0.0


def _slower(bench: Bench, coat: Coat) -> Iterator[Option]:
    """If no known product frees the plan: how much more time a slower hardener would have to give."""
    profile = bench.profiles.get(coat.product.casefold())
    if profile is None or not profile.two_part:
        return
    for factor in SLOWER:
        said = f"a hardener for {coat.product} with {(factor - 1) * 100:.0f} % more time"
        timing, exact = (SlowerCure(each, coat.product, factor) for each in (bench.timing, bench.exact))
        yield Option(said, replace(bench, timing=timing, exact=exact))
