"""Where nothing fits: the nearest plan there is, with what it breaks and by how much.

What is in the way is loosened by as little as lets the floor be done: hours by the half hour, windows by a share of
themselves, a recoat or conditions left out of account. Then every step is held against the edges as they are. A bucket
is never planned past its pour-out: that heats itself in somebody's hands.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, time, timedelta

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.coattask import STOPPED
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.days.timetable import film_of
from mixclock.decide.plan.floor.conditions import objection, working_stretches
from mixclock.decide.plan.floor.films import below_of
from mixclock.decide.plan.floor.pailsinuse import small_buckets
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.plan.floor.plans import Obstacle, Plan, PlannedStep
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.judge.changes import MORE_DAYS
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job import practice
from mixclock.job.steps import BACK_ROLL, DWELL, NEUTRALISE, RECOAT, RINSE, WET_EDGE
from mixclock.units import write_span
from mixclock.values import replace

STRETCHED = (1.1, 1.25, 1.5, 2.0, 3.0)
LONGER_H = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0)
WINDOWS = frozenset({BACK_ROLL, "broadcast", WET_EDGE, DWELL, RINSE, "sequence"})
LEFT_OUT = frozenset({RECOAT, "conditions", SMALL_BUCKET})
MOST_LOOSENED = 4
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


def nearest_plan(
    bench: Bench,
    obstacle: Obstacle,
    ways: Ways,
    standpoint: Standpoint | None = None,
    short: Callable[[], Ways] | None = None,
) -> Plan | None:
    """The nearest plan with what it breaks; None where only a bucket past its time, or no vessel, would make one.

    `short` gives the ways of each try: one that comes to nothing is left for the next, which loosens more.
    """
    loosened, at = bench, obstacle
    for _ in range(MOST_LOOSENED):
        found: Plan | None = None
        for option, known in _worth_loosening(loosened, at, short() if short else ways, standpoint):
            if ways.stop():
                return None
            found, loosened = known or make_plan(option, short() if short else ways, standpoint), option
            if found.feasible:
                breaks = (*_breaks(bench, found), *_bare(standpoint, found))
                return replace(found, breaks=breaks[:MOST_TOLD], warnings=())
        if found is None or found.obstacle is None or found.obstacle.constraint in (at.constraint, STOPPED):
            return None
        at = found.obstacle
    return None


def _worth_loosening(
    bench: Bench, obstacle: Obstacle, ways: Ways, standpoint: Standpoint | None
) -> Sequence[tuple[Bench, Plan | None]]:
    """All steps of loosening, the last with its plan where that is known. Windows are loosened step by step only if the
    last step frees the floor. Where something else is then in the way, no smaller step frees it either."""
    options = list(_loosened(bench, obstacle))
    if obstacle.constraint not in WINDOWS or not options:
        return [(option, None) for option in options]
    last = make_plan(options[-1], ways, standpoint)
    smaller = [(option, None) for option in options[:-1]] if last.feasible else []
    freed = last.obstacle is None or last.obstacle.constraint not in (obstacle.constraint, STOPPED)
    return [*smaller, (options[-1], last)] if freed else ()


def untied(bench: Bench, plan: Plan, coat: str) -> Plan:
    """A plan that leaves out the wet edge, as the nearest there is: each joint has to be taped."""
    said = f"{coat}: no batch meets the wet edge of the one before it: end each at a straight, taped line"
    return replace(plan, breaks=(said, *_breaks(bench, plan))[:MOST_TOLD], warnings=())


def _loosened(bench: Bench, obstacle: Obstacle) -> Iterator[Bench]:
    """The same job with what is in the way loosened more and more."""
    if obstacle.constraint in LEFT_OUT:
        yield replace(bench, ignore=bench.ignore | {obstacle.constraint})
    elif obstacle.constraint == "hours":
        hours = practice.hours(bench.site).value
        for more_h in LONGER_H:
            minutes = hours.end.hour * 60 + hours.end.minute + round(more_h * 60)
            end = time(23, 59) if minutes >= 24 * 60 else time(minutes // 60, minutes % 60)
            yield replace(bench, site=replace(bench.site, hours=replace(hours, end=end)))
        for more in range(1, MORE_DAYS + 1) if hours.days else ():
            yield replace(bench, site=replace(bench.site, hours=hours.with_days_more(more)))
    elif obstacle.constraint in WINDOWS:
        for share in STRETCHED:
            coat = obstacle.coat or ""
            if share > bench.loosened.get(coat, bench.reserve):
                yield replace(bench, loosened={**bench.loosened, coat: share})


def _breaks(bench: Bench, plan: Plan) -> Iterator[str]:
    """What a plan breaks of the job as it is, in words."""
    yield from _other_days(bench, plan)
    yield from _overtime(bench, plan)
    yield from _forbidden(bench, plan)
    yield from _shut(bench, plan)
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
    many = len(set(step.areas)) > 1
    done = _done_by_many(step.kind) if many else DONE_LATE.get(step.kind, f"has its {step.kind}")
    return f"{areas_said(step.areas)} {done} {write_span(-(step.slack_s or 0.0))} late"


def _shut(bench: Bench, plan: Plan) -> Iterator[str]:
    """Coats that go on after the recoat below them has shut."""
    films = [film_of(batch, plan.steps) for batch in plan.batches]
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
    zone = bench.site.wall
    units = bench.site.units
    last: dict[datetime, datetime] = {}
    for stretch in working_stretches(bench.site, bench.begins):
        ends = [s.ends for s in plan.steps if stretch.start <= s.starts and s.starts.date() == stretch.start.date()]
        if ends and max(ends) > stretch.end:
            last[stretch.end] = max(ends)
    for end, over in last.items():
        day = end.astimezone(zone)
        past = write_span((over - end).total_seconds())
        until = units.write_clock(over, zone, up=True)
        yield f"on {day:%a} {day.day} the work goes on until {until}, {past} past your hours"


def _other_days(bench: Bench, plan: Plan) -> Iterator[str]:
    """Days on which nobody was to work."""
    days = practice.hours(bench.site).value.days
    days = (*days, *(start.astimezone(bench.site.wall).date() for start, _ in bench.site.also_works)) if days else days
    worked = dict.fromkeys(step.starts.astimezone(bench.site.wall).date() for step in plan.steps)
    for day in (day for day in worked if days and day not in days):
        yield f"there is work on {day:%a} {day.day}, which is none of your days"


def _forbidden(bench: Bench, plan: Plan) -> Iterator[str]:
    for batch in plan.batches:
        profile = bench.profiles[batch.product.casefold()]
        why = objection(profile.limits, bench.outlook.at(batch.poured_at), bench.site.units)
        if why is not None:
            yield f"{areas_said(batch.areas)}, {batch.coat}: {why}"
            return
