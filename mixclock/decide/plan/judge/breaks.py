"""What the nearest plan breaks, step by step against the edges as they are, and by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, time, timedelta, tzinfo

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.timetable import film_of
from mixclock.decide.plan.floor.conditions import objection, working_stretches
from mixclock.decide.plan.floor.films import LaidFilm, below_of
from mixclock.decide.plan.floor.pailsinuse import small_buckets
from mixclock.decide.plan.floor.placenames import area_of, areas_said
from mixclock.decide.plan.floor.plans import Plan, PlannedStep
from mixclock.decide.plan.judge.replaylimits import AT_THE_PAIL
from mixclock.job import practice
from mixclock.job.site import Coat
from mixclock.job.steps import NEUTRALISE, RINSE
from mixclock.units import write_span

A_LOOK, A_DAY = timedelta(minutes=1), timedelta(hours=18)
MOST_TOLD = 6
MOST_EACH = 3
"""If more steps of one kind are late, the worst are named and the others counted."""

DONE_LATE = {
    "roll": "is back-rolled",
    "broadcast": "is flaked",
    "squeegee": "meets its neighbour",
    "pour": "is poured",
    NEUTRALISE: "is neutralised",
    RINSE: "is rinsed",
}


AS_MANY = {"squeegee": "meet their neighbours"}
"""What is said of several steps, if it does not begin with "are"."""


def breaks_of(
    bench: Bench, plan: Plan, standpoint: Standpoint | None = None, said: str | None = None
) -> tuple[str, ...]:
    """What a plan breaks of the job as it is, in words; `said` stands before it."""
    before = () if said is None else (said,)
    laid = standpoint.films if standpoint is not None else ()
    return (*before, *_breaks(bench, plan, laid), *_bare(standpoint, plan))[:MOST_TOLD]


def _breaks(bench: Bench, plan: Plan, laid: Sequence[LaidFilm]) -> Iterator[str]:
    yield from _other_days(bench, plan)
    yield from _overtime(bench, plan)
    yield from _forbidden(bench, plan)
    yield from _shut(bench, plan, laid)
    yield from small_buckets(plan.batches, bench.site, bench.profiles)
    yield from _late(plan)


def _late(plan: Plan) -> Iterator[str]:
    """The steps that end past their edge, the latest first; many of one kind are counted."""
    late = [step for step in plan.steps if step.slack_s is not None and step.slack_s < -1.0]
    late.sort(key=lambda step: step.slack_s or 0.0)
    for kind in dict.fromkeys(step.kind for step in late):
        mine = [step for step in late if step.kind == kind]
        each = mine if len(mine) <= MOST_EACH else mine[: MOST_EACH - 1]
        yield from dict.fromkeys(_late_said(step) for step in each)
        if len(mine) > len(each):
            rest = mine[len(each) :]
            yield f"{len(rest)} more {_done_by_many(kind)} up to {write_span(-(rest[0].slack_s or 0.0))} late"


def _bare(standpoint: Standpoint | None, plan: Plan) -> Iterator[str]:
    """The joints to film that lies, where the flake comes too late to stick on that film's bare strip."""
    flaked_by = standpoint.flaked_by if standpoint is not None else {}
    for step in (step for step in plan.steps if step.kind == "broadcast"):
        edges = [by for (coat, area), by in flaked_by.items() if coat == step.coat and area in step.areas]
        if edges and step.starts > min(edges):
            late = write_span((step.starts - min(edges)).total_seconds())
            yield f"{areas_said(step.areas)}: its flake comes {late} late for the strip at the joint to what lies"


def _done_by_many(kind: str) -> str:
    return AS_MANY.get(kind, f"are {DONE_LATE[kind].partition(' ')[2]}" if kind in DONE_LATE else f"have their {kind}")


def _late_said(step: PlannedStep) -> str:
    many = len({area_of(area) for area in step.areas}) > 1
    done = _done_by_many(step.kind) if many else DONE_LATE.get(step.kind, f"has its {step.kind}")
    return f"{areas_said(step.areas)} {done} {write_span(-(step.slack_s or 0.0))} late"


def _shut(bench: Bench, plan: Plan, laid: Sequence[LaidFilm]) -> Iterator[str]:
    """Coats that go on after the recoat below them has shut, be it planned or `laid` already."""
    films = [*laid, *(film_of(batch, plan.steps) for batch in plan.batches)]
    for coat in bench.site.coats:
        gates = below_of(bench.site, coat, films, bench.profiles, bench.exact).gates
        worst: tuple[timedelta, str] | None = None
        for batch in (batch for batch in plan.batches if batch.coat == coat.name):
            for area in batch.areas:
                shuts = gates[area].closes if area in gates else None
                if shuts is not None and batch.poured_at > shuts:
                    worst = max(worst or (timedelta(0), ""), (batch.poured_at - shuts, area))
        if worst is not None:
            late = write_span(worst[0].total_seconds())
            yield f"{coat.name} goes on {worst[1]} {late} after the recoat below has shut"


def _overtime(bench: Bench, plan: Plan) -> Iterator[str]:
    """Days on which somebody works past the hours, also where these are over when the plan begins."""
    zone = bench.site.wall
    units = bench.site.units
    last: dict[datetime, datetime] = {}
    for stretch in working_stretches(bench.site, _midnight_before(bench.begins, zone)):
        day = stretch.start.astimezone(zone).date()
        ends = [s.ends for s in plan.steps if stretch.start <= s.starts and s.starts.astimezone(zone).date() == day]
        if ends and max(ends) > stretch.end:
            last[stretch.end] = max(ends)
    for end, over in last.items():
        day = end.astimezone(zone)
        # to the full minute that the page names, or 17:33 stood beside 2 minutes
        past = write_span(60 * math.ceil((over - end).total_seconds() / 60.0))
        until = units.write_clock(over, zone, up=True)
        yield f"on {day:%a} {day.day} the work goes on until {until}, {past} past your hours"


def _midnight_before(at: datetime, zone: tzinfo) -> datetime:
    return datetime.combine(at.astimezone(zone).date(), time(), zone).astimezone(UTC)


def _other_days(bench: Bench, plan: Plan) -> Iterator[str]:
    """Days on which nobody was to work."""
    days = practice.hours(bench.site).value.days
    days = (*days, *(start.astimezone(bench.site.wall).date() for start, _ in bench.site.also_works)) if days else days
    worked = dict.fromkeys(step.starts.astimezone(bench.site.wall).date() for step in plan.steps)
    for day in (day for day in worked if days and day not in days):
        yield f"there is work on {day:%a} {day.day}, which is none of your days"


def _forbidden(bench: Bench, plan: Plan) -> Iterator[str]:
    """Coats that are laid in conditions that forbid it, and until how long after these came."""
    for coat in bench.site.coats:
        mine = (step for step in plan.steps if step.coat == coat.name and step.batch is not None)
        on_floor = sorted((step for step in mine if step.kind not in AT_THE_PAIL), key=lambda step: step.starts)
        found = _first_objection(bench, coat, on_floor)
        if found is not None:
            at, why = found
            ends = (step.ends for step in on_floor if step.ends - at < A_DAY)
            past = write_span((max(ends) - at).total_seconds())
            yield f"{coat.name}: {why}, and the work on it goes on for {past} after that comes"


def _first_objection(bench: Bench, coat: Coat, steps: Sequence[PlannedStep]) -> tuple[datetime, str] | None:
    """The first minute of these steps at which the conditions forbid the coat, and why."""
    limits = bench.profiles[coat.product.casefold()].limits
    looks = (step.starts + count * A_LOOK for step in steps for count in range((step.ends - step.starts) // A_LOOK + 1))
    found = ((at, objection(limits, bench.outlook.at(at), bench.site.units)) for at in looks)
    return next(((at, why) for at, why in found if why is not None), None)
