"""Random floors, and small ones made by hand, for the tests of the plan. Clocks stand still: answers are exact."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.standpoint import standpoint_of, with_changes
from mixclock.decide.plan.floor.conditions import ExpectedConditions
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.timing import Bucketful, Span
from mixclock.decide.plan.search.schedule import Ways
from mixclock.decide.tracks import Track
from mixclock.job.profile import Family, Limits, MixRule, Profile, SheetPoint, SheetSpan, WindowRule
from mixclock.job.progress import Standing
from mixclock.job.site import Area, Coat, Hours, Person, Site, Vessel

PRODUCT = "Slow epoxy base"
BEGINS = datetime(2026, 4, 13, 6, 0, tzinfo=UTC)
DAYS = (date(2026, 4, 13), date(2026, 4, 14), date(2026, 4, 15))


@dataclass(frozen=True)
class FixedTiming:
    """Clocks that do not move: (product, window) to seconds, early and likely."""

    closing: Mapping[tuple[str, str], Span] = field(default_factory=dict)
    opening: Mapping[tuple[str, str], Span] = field(default_factory=dict)

    def closes(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The span of that name, whatever the hour."""
        return self.closing.get((product, window))

    def opens(self, product: str, window: str, start: datetime, bucket: Bucketful) -> Span | None:
        """The span of that name, whatever the hour."""
        return self.opening.get((product, window))


class MildDay:
    """Twenty degrees and dry, all day."""

    def at(self, instant: datetime) -> ExpectedConditions:
        """The same at any hour."""
        return ExpectedConditions(20.0, 50.0, 20.0)


def minutes(**windows: float) -> dict[str, float]:
    """Closing windows in minutes by name, written with underscores."""
    return {name.replace("_", "-"): span for name, span in windows.items()}


def profile(name: str, windows: Sequence[str], family: Family = Family.EPOXY) -> Profile:
    """A product with these windows; their times come from the fixed clocks."""
    span = SheetSpan((SheetPoint(60.0),))
    rules = tuple(WindowRule(window, "poured", closes=span) for window in windows)
    mix = MixRule((2.0, 1.0), density_kg_l=(1.1, 1.0), time_s=180.0)
    return Profile(name, family, "test", mix=mix, limits=Limits(), windows=rules)


def bench(site: Site, closing: dict[str, float], opening: dict[str, float] | None = None) -> Bench:
    """A bench with fixed clocks, in minutes, for every product of the site."""
    products = {coat.product for coat in site.coats}
    shut = {(name, window): Span(span * 60.0, span * 75.0) for name in products for window, span in closing.items()}
    opens = {
        (name, window): Span(span * 60.0, span * 60.0) for name in products for window, span in (opening or {}).items()
    }
    timing = FixedTiming(shut, opens)
    names = [*closing, *(opening or {})]
    profiles = {
        name.casefold(): profile(name, [one for one in dict.fromkeys(names) if one != "pour-out"]) for name in products
    }
    return Bench(site, profiles, timing, timing, MildDay(), BEGINS)


def row_of(sizes: Sequence[float], edges: Sequence[float]) -> tuple[Area, ...]:
    """Bays in a row, each touching the next."""
    names = [f"bay {number}" for number in range(1, len(sizes) + 1)]
    return tuple(
        Area(
            name,
            size,
            edge,
            place + 1,
            tuple(names[other] for other in (place - 1, place + 1) if 0 <= other < len(names)),
        )
        for place, (name, size, edge) in enumerate(zip(names, sizes, edges, strict=True))
    )


def random_floor(seed: int) -> tuple[Site, dict[str, float]]:
    """A floor of three to six bays for one to three people, with the windows of its product."""
    dice = random.Random(seed)
    people = seed % 3 + 1
    count = dice.randint(3, 6)
    sizes = [round(dice.uniform(5.0, 12.0), 1) for _ in range(count)]
    edges = [round(dice.uniform(2.0, 6.0), 1) for _ in range(count)]
    crew = tuple(
        Person(
            f"person {number}",
            (),
            dice.choice((90.0, 110.0, 130.0)),
            dice.choice((60.0, 75.0, 90.0)),
            dice.choice((50.0, 60.0, 70.0)),
            dice.choice((30.0, 35.0, 45.0)),
        )
        for number in range(1, people + 1)
    )
    flake = 0.4 if dice.random() < 0.6 else None
    coat = Coat("base", PRODUCT, 300.0, flake_kg_m2=flake, kit_l=9.0, split=True)
    vessels = (Vessel("pail", 12.0, 0.28), Vessel("second pail", 12.0, 0.28))
    site = Site("Boat shed", "UTC", row_of(sizes, edges), (coat,), crew, vessels, Hours(DAYS, time(6), time(23)))
    slow = 1.9 if people == 1 else 1.0
    closing = minutes(
        pour_out=20.0,
        back_roll=dice.choice((45.0, 55.0, 65.0)) * slow,
        wet_edge=dice.choice((50.0, 60.0)) * slow,
        broadcast=dice.choice((65.0, 75.0)) * slow,
    )
    return site, closing


def replan(
    standing: Standing, tracks: Sequence[Track], bench: Bench, ways: Ways | None = None, before: Plan | None = None
) -> Plan:
    """The plan of what is left at `bench.begins`, from where things stand, as the command puts it together."""
    stood = standpoint_of(standing, tracks, bench, bench.begins)
    return with_changes(make_plan(bench, ways, stood.standpoint), stood, before, bench.site.units)
