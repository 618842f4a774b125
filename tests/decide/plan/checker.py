"""Checks a plan against its job, from scratch: it shares no code with the planner and takes nothing from it on trust.

A plan is read by its attributes only. `closes` and `opens` answer for the product clocks: (product, window, start,
mass_kg, volume_l, stood_s) -> seconds to the early closing edge, or to the safe opening edge, or None.

Coats named in `Job.etches` are acid: it is neutralised strip by strip as it was laid, so a strip lies for as long as is
between the starts of the two steps, or between their ends.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime, time, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

Clock = Callable[[str, str, datetime, float, float, float], float | None]

ROUNDING = timedelta(seconds=1)
FOLLOWS = {
    "mix": (("measure", "end"),),
    "pour": (("mix", "end"),),
    "cut-in": (("pour", "end"),),
    "squeegee": (("pour", "end"),),
    "roll": (("squeegee", "both"), ("cut-in", "both")),
    "broadcast": (("roll", "both"),),
    "neutralise": (("pour", "both"),),
    "rinse": (("neutralise", "end"),),
}
OWN_WINDOW = {"roll": "back-roll", "broadcast": "broadcast"}
RATE = {"squeegee": "squeegee_m2_h", "roll": "roll_m2_h", "broadcast": "broadcast_m2_h"}
SKILL = {"measure": "mix", "ready": "mix", "neutralise": "prep", "rinse": "prep"}


@dataclass(frozen=True)
class Violation:
    """One thing that the plan does and the job forbids."""

    kind: str
    text: str


@dataclass(frozen=True)
class Job:
    """What the plan is held against. `etches` names each coat of acid with the coat that neutralises it, or None where
    that is done with soda."""

    site: Any
    closes: Clock
    opens: Clock
    forbidden: Callable[[str, datetime], str | None] = lambda _product, _at: None
    etches: Mapping[str, str | None] = field(default_factory=dict)


def violations(plan: Any, job: Job) -> list[Violation]:
    """Everything that is wrong with a plan."""
    checks = (
        *(_booked_twice, _skills, _too_fast, _sequence, _windows, _joints, _coverage, _hours, _conditions, _recoat),
        *(_acid_lies, _neutraliser_ready, _drying),
    )
    return [found for check in checks for found in check(plan, job)]


def _steps(plan: Any, batch: Any) -> dict[str, Any]:
    return {step.kind: step for step in plan.steps if step.batch == batch.number}


def _laid(plan: Any, job: Job) -> list[Any]:
    """The batches that are poured by themselves; a neutraliser goes on in the acid's own steps."""
    return [batch for batch in plan.batches if batch.coat not in job.etches.values()]


def _booked_twice(plan: Any, _: Job) -> Iterator[Violation]:
    for who in {step.who for step in plan.steps}:
        mine = sorted((step for step in plan.steps if step.who == who), key=lambda step: (step.starts, step.ends))
        for one, other in pairwise(mine):
            if other.starts < one.ends:
                yield Violation("double booking", f"{who}: {other.kind} starts before {one.kind} ends")


def _skills(plan: Any, job: Job) -> Iterator[Violation]:
    for step in plan.steps:
        skill = SKILL.get(step.kind, step.kind)
        named = [person.name for person in job.site.crew if not person.does or skill in person.does]
        if named and step.who not in named:
            yield Violation("skill", f"{step.who} is not one who does {step.kind}")


def _too_fast(plan: Any, job: Job) -> Iterator[Violation]:
    sizes = {batch.number: batch for batch in plan.batches}
    people = {person.name: person for person in job.site.crew}
    for step in plan.steps:
        batch, person = sizes.get(step.batch), people.get(step.who)
        if batch is None or person is None:
            continue
        if step.kind == "cut-in":
            work, rate = sum(piece.edge_m for piece in batch.pieces), person.cut_in_m_h
        else:
            work, rate = sum(piece.size_m2 for piece in batch.pieces), getattr(person, RATE.get(step.kind, ""), None)
        rate = (rate or 0.0) + _beside_rate(plan, step, people)
        if rate and (step.ends - step.starts) + ROUNDING < timedelta(hours=work / rate):
            yield Violation("too fast", f"{step.who} can't {step.kind} batch {step.batch} in {step.ends - step.starts}")


def _beside_rate(plan: Any, step: Any, people: Mapping[str, Any]) -> float:
    """What somebody does who rolls the same batch side by side with this person, for as much of the time."""
    lasts = (step.ends - step.starts) / timedelta(hours=1)
    return sum(
        (people[other.who].roll_m2_h or 0.0) * ((other.ends - other.starts) / timedelta(hours=1) / lasts)
        for other in plan.steps
        if step.kind == "roll" and (other.batch, other.kind, other.who) == (step.batch, "roll", step.beside)
    )


def _sequence(plan: Any, job: Job) -> Iterator[Violation]:
    for batch in _laid(plan, job):
        steps = _steps(plan, batch)
        for kind, before in FOLLOWS.items():
            for other, how in before:
                if kind not in steps or other not in steps:
                    continue
                one, two = steps[other], steps[kind]
                wrong = two.starts < one.ends if how == "end" else two.starts < one.starts or two.ends < one.ends
                if wrong:
                    yield Violation("sequence", f"batch {batch.number}: {kind} is ahead of {other}")
        bucket = (batch.mass_kg, batch.volume_l, 0.0)
        stand = job.opens(batch.product, "induction", steps["mix"].ends, *bucket)
        if stand is not None and steps["pour"].starts + ROUNDING < steps["mix"].ends + timedelta(seconds=stand):
            yield Violation("induction", f"batch {batch.number} is poured before its stand is over")


def _bucket(plan: Any, batch: Any) -> tuple[float, float, float]:
    steps = _steps(plan, batch)
    return batch.mass_kg, batch.volume_l, (steps["pour"].ends - steps["mix"].starts).total_seconds()


def _windows(plan: Any, job: Job) -> Iterator[Violation]:
    for batch in _laid(plan, job):
        steps, bucket = _steps(plan, batch), _bucket(plan, batch)
        mixed, poured = steps["mix"].starts, steps["pour"].ends
        out = job.closes(batch.product, "pour-out", mixed, *bucket)
        if out is not None and poured > mixed + timedelta(seconds=out) + ROUNDING:
            yield Violation("pour-out", f"batch {batch.number} is out after its early edge")
        for kind, window in OWN_WINDOW.items():
            shut = job.closes(batch.product, window, poured, *bucket)
            if kind in steps and shut is not None and steps[kind].ends > poured + timedelta(seconds=shut) + ROUNDING:
                yield Violation(window, f"batch {batch.number}: {kind} ends after its early edge")


def _joints(plan: Any, job: Job) -> Iterator[Violation]:
    """Where a later batch touches an earlier one its film must meet a living edge, and flake the strip in time."""
    laid = _laid(plan, job)
    for place, later in enumerate(laid):
        coat = job.site.coat(later.coat)
        earlier = [one for one in laid[:place] if one.coat == later.coat and _touch(one, later, job.site)]
        if coat.wet_edge is False or later.coat in job.etches:
            continue
        for one in earlier:
            poured, bucket = _steps(plan, one)["pour"].ends, _bucket(plan, one)
            spread = _steps(plan, later)["squeegee"]
            met = spread.starts if len(earlier) == 1 else spread.ends
            edge = job.closes(one.product, "wet-edge", poured, *bucket)
            if edge is not None and met > poured + timedelta(seconds=edge) + ROUNDING:
                yield Violation("cold joint", f"batch {later.number} meets batch {one.number} after its wet edge")
            thrown = _steps(plan, later).get("broadcast")
            shut = job.closes(one.product, "broadcast", poured, *bucket)
            if thrown and shut is not None and thrown.starts > poured + timedelta(seconds=shut) + ROUNDING:
                yield Violation("strip", f"the strip between {one.number} and {later.number} is flaked too late")


def _touch(one: Any, later: Any, site: Any) -> bool:
    for a in one.pieces:
        for b in later.pieces:
            if a.area == b.area:
                if b.part == a.part + 1:
                    return True
            elif b.area in site.area(a.area).next_to and a.part == a.parts and b.part == 1:
                return True
    return False


def _coverage(plan: Any, job: Job) -> Iterator[Violation]:
    for coat in job.site.coats:
        for area in job.site.areas:
            if coat.areas and area.name not in coat.areas:
                continue
            done = sum(
                piece.size_m2
                for batch in plan.batches
                if batch.coat == coat.name
                for piece in batch.pieces
                if piece.area == area.name
            )
            if abs(done - area.size_m2) > 1e-6 * area.size_m2:
                yield Violation("coverage", f"{coat.name} on {area.name}: {done:g} of {area.size_m2:g} m²")


def _hours(plan: Any, job: Job) -> Iterator[Violation]:
    hours, zone = job.site.hours, ZoneInfo(job.site.zone)
    if hours is None:
        return
    for step in plan.steps:
        starts, ends = step.starts.astimezone(zone), step.ends.astimezone(zone)
        outside = starts.time() < hours.start or ends.date() != starts.date() or ends.time() > hours.end
        if hours.start <= time(0, 1) and hours.end >= time(23, 59):  # worked through the night
            outside = bool(hours.days) and ends.date() not in hours.days
        if outside or (hours.days and starts.date() not in hours.days):
            yield Violation("hours", f"{step.kind} of batch {step.batch} lies outside working hours")


def _conditions(plan: Any, job: Job) -> Iterator[Violation]:
    for batch in plan.batches:
        steps = [step for step in plan.steps if step.batch == batch.number and step.kind != "measure"]
        at, end = min(step.starts for step in steps), max(step.ends for step in steps)
        while at <= end:
            why = job.forbidden(batch.product, at)
            if why:
                yield Violation("conditions", f"batch {batch.number}: {why}")
                break
            at += timedelta(minutes=5)


def _recoat(plan: Any, job: Job) -> Iterator[Violation]:
    for batch in _laid(plan, job):
        below = job.site.coat(batch.coat).after
        areas = {piece.area for piece in batch.pieces}
        poured = _steps(plan, batch)["pour"].ends
        for one in plan.batches:
            if one.coat != below or one not in _laid(plan, job) or not areas & {piece.area for piece in one.pieces}:
                continue
            since, bucket = _steps(plan, one)["pour"].ends, _bucket(plan, one)
            opened = job.opens(one.product, "recoat", since, *bucket)
            shut = job.closes(one.product, "recoat", since, *bucket)
            started = _steps(plan, batch)["pour"].starts
            if opened is not None and started + ROUNDING < since + timedelta(seconds=opened):
                yield Violation("recoat", f"batch {batch.number} goes on before batch {one.number} is ready")
            if shut is not None and poured > since + timedelta(seconds=shut) + ROUNDING:
                yield Violation("recoat", f"batch {batch.number} goes on after batch {one.number} has shut")


def _strips(before: Any, after: Any) -> tuple[timedelta, timedelta]:
    """How long the first and the last strip lie between two steps that go over the floor alike."""
    return after.starts - before.starts, after.ends - before.ends


def _acid_lies(plan: Any, job: Job) -> Iterator[Violation]:
    """No strip of acid may lie too short or too long before the neutraliser, nor the neutraliser before the rinse."""
    for batch in plan.batches:
        if batch.coat not in job.etches:
            continue
        steps, bucket = _steps(plan, batch), _bucket(plan, batch)
        if not {"pour", "neutralise", "rinse"} <= steps.keys():
            yield Violation("acid left", f"batch {batch.number} is not neutralised and rinsed")
            continue
        follows = (("pour", "neutralise", ("dwell", "neutralise")), ("neutralise", "rinse", ("rinse",)))
        for first, then, windows in follows:
            lies = _strips(steps[first], steps[then])
            for window in windows:
                shut = job.closes(batch.product, window, steps[first].ends, *bucket)
                opened = job.opens(batch.product, window, steps[first].ends, *bucket)
                if shut is not None and max(lies) > timedelta(seconds=shut) + ROUNDING:
                    yield Violation(window, f"batch {batch.number} lies too long before it is {then}d")
                if opened is not None and min(lies) + ROUNDING < timedelta(seconds=opened):
                    yield Violation(f"{window} short", f"batch {batch.number} is {then}d too soon")


def _neutraliser_ready(plan: Any, job: Job) -> Iterator[Violation]:
    """Before any acid is poured the neutraliser for it stands mixed."""
    for batch in plan.batches:
        if batch.coat not in job.etches:
            continue
        own = job.etches[batch.coat]
        buckets = [one for one in plan.batches if one.coat == own and set(one.pieces) & set(batch.pieces)]
        mixed = [step for step in plan.steps for one in buckets if (step.kind, step.batch) == ("mix", one.number)]
        mixed += [step for step in plan.steps if own is None and (step.kind, step.coat) == ("ready", batch.coat)]
        poured = _steps(plan, batch)["pour"].starts
        covered = own is None or set(batch.pieces) <= {piece for one in buckets for piece in one.pieces}
        if not covered or not any(step.ends <= poured for step in mixed):
            yield Violation("not ready", f"batch {batch.number} is poured before its neutraliser stands ready")


def _drying(plan: Any, job: Job) -> Iterator[Violation]:
    """A coat goes on an etched floor when it has dried since its rinse."""
    for batch in _laid(plan, job):
        below = job.site.coat(batch.coat).after
        etches = {etch for etch, own in job.etches.items() if below is not None and below in (etch, own)}
        areas = {piece.area for piece in batch.pieces}
        for one in plan.batches:
            if one.coat not in etches or not areas & {piece.area for piece in one.pieces}:
                continue
            rinse = _steps(plan, one).get("rinse")
            since = rinse.ends if rinse is not None else _steps(plan, one)["pour"].ends
            dry = job.opens(one.product, "dry", since, *_bucket(plan, one))
            if dry is not None and _steps(plan, batch)["pour"].starts + ROUNDING < since + timedelta(seconds=dry):
                yield Violation("wet slab", f"batch {batch.number} goes on before batch {one.number} has dried")
