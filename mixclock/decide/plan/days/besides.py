"""What a crew does beside the floor: it sets up before the first bucket, and has its breaks."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.days.coattask import CoatTask
from mixclock.decide.plan.floor.crew import BREAK_LATER_S, BREAK_SOONER_S, SET_UP
from mixclock.decide.plan.floor.plans import BREAK, PlannedStep
from mixclock.decide.plan.floor.setting import CoatSetting, OpenStep
from mixclock.job import practice
from mixclock.job.site import Site

AROUND = timedelta(seconds=BREAK_LATER_S + BREAK_SOONER_S)
Waiting = tuple[OpenStep, datetime | None, datetime | None]


def set_up(setting: CoatSetting) -> tuple[OpenStep, ...]:
    """The step of laying out tools and sheeting before anybody measures, by whoever is there, if the job file asks for
    it."""
    hours = setting.site.hours
    if hours is None or not hours.set_up_s:
        return ()
    return (OpenStep(SET_UP, None, (), (math.ceil(hours.set_up_s),) * len(setting.crew.people), at_once=True),)


def breaks_within(task: CoatTask, begins: datetime, ends: datetime) -> tuple[Waiting, ...]:
    """The breaks of everybody that should begin while the coat is laid."""
    site = task.setting.site
    zone = site.wall
    found: list[Waiting] = []
    for at, span_s in site.hours.breaks if site.hours is not None else ():
        meant = datetime.combine(begins.astimezone(zone).date(), at, zone)
        if not begins < meant < ends:
            continue
        soonest = max(begins, meant - timedelta(seconds=BREAK_SOONER_S))
        latest = meant + timedelta(seconds=BREAK_LATER_S + span_s)
        for who in range(len(task.setting.crew.people)):
            times = tuple(math.ceil(span_s) if who == other else None for other in range(len(task.setting.crew.people)))
            found.append((OpenStep(BREAK, None, (), times), soonest, latest))
    return tuple(found)


def breaks_left_out(site: Site, steps: Sequence[PlannedStep]) -> Iterator[str]:
    """The breaks of the job file that fall into the work but found no place in it, in words."""
    zone, units = site.wall, site.units
    for at, span_s in site.hours.breaks if site.hours is not None else ():
        for day in sorted({step.starts.astimezone(zone).date() for step in steps}):
            meant = datetime.combine(day, at, zone)
            ends = meant + timedelta(seconds=span_s)
            of_day = [step for step in steps if step.starts.astimezone(zone).date() == day]
            rests = [step for step in of_day if step.kind == BREAK and abs(step.starts - meant) <= AROUND]
            busy = any(step.starts < ends and step.ends > meant for step in of_day)
            if busy and not rests:
                when = units.write_clock(meant, zone)
                free = "".join(f"{said} or " for said in _free_before(site, of_day, meant, span_s))
                last = units.write_clock(max(step.ends for step in of_day), zone, up=True)
                yield f"no break at {when} on {day:%a} {day.day}: the wet edge leaves none; have it {free}after {last}"


def _free_before(site: Site, of_day: Sequence[PlannedStep], meant: datetime, span_s: float) -> Iterator[str]:
    """The last time before a break was meant at which nobody works for as long: between two steps, or before all."""
    zone, units = site.wall, site.units
    begun = datetime.combine(meant.date(), practice.hours(site).value.start, zone)
    gaps, free_from = [], begun
    for step in sorted(of_day, key=lambda step: step.starts):
        if step.starts <= meant and (step.starts - free_from).total_seconds() >= span_s:
            gaps.append((free_from, step.starts))
        free_from = max(free_from, step.ends)
    for starts, ends in gaps[-1:]:
        until = units.write_clock(ends, zone)
        yield (
            f"before {until}" if starts == begun else f"between {units.write_clock(starts, zone, up=True)} and {until}"
        )
