"""A plan in the terminal, 80 columns: whether it fits, what to buy, mix sheets, a timed list for each person."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Iterator
from itertools import groupby

from mixclock.decide.plan.floor.plans import BREAK, Plan, PlannedBatch
from mixclock.decide.plan.floor.precedence import SHUT_BY
from mixclock.words.plan.compared import compared_lines
from mixclock.words.plan.daylist import named, person_rows, spare
from mixclock.words.plan.floorshapes import shape_said
from mixclock.words.plan.mixsheet import (
    every_buckets_cautions,
    how_to_mix,
    mix_sheet,
    own_cautions,
    working_cautions,
)
from mixclock.words.plan.purchases import area_line, coat_lines, tool_lines, total_lines
from mixclock.words.plan.sheet import PlanSheet
from mixclock.words.stepwords import words_of

WIDTH = 80
MOST_TIGHT = 5
LIKELY = 0.8
"""Under this chance the answer says how to ask for a surer plan (judgement)."""

MOST_BREAKS = 3
TIMED = 20
"""Where the words of a timed line begin."""

TIMED_LINE = re.compile(r" {4,5}\d?\d:\d\d to ")


def plan_lines(sheet: PlanSheet) -> list[str]:
    """The whole plan for a terminal."""
    parts = [
        list(_answer(sheet)),
        _headed("TO BUY", _buying(sheet)),
        _headed("AREA BY AREA", _by_area(sheet)),
        *_mixing(sheet),
        *(_headed(who.upper(), person_lines(sheet, who)) for who in sheet.people()),
        _headed("TIGHTEST STEPS", _tight(sheet)),
        _headed("ONE PRODUCT FOR ANOTHER", compared_lines(sheet)),
        _headed("MIND", (f"  ! {line}" for line in working_cautions(sheet))),
        _headed("ASSUMED", (f"  {line}" for line in assumed(sheet))),
    ]
    return [fitted for part in parts if part for line in (*part, "") for fitted in fit(line)][:-1]


def answer_lines(sheet: PlanSheet) -> list[str]:
    """The answer in short: does it fit, when is it done, what is tight, how likely."""
    return [line.strip() for line in _answer(sheet)]


def _answer(sheet: PlanSheet) -> Iterator[str]:
    plan = sheet.plan
    yield f"{sheet.site.name}: {_verdict(sheet)}"
    if plan.obstacle is not None:
        yield from _nearest(sheet)
        yield f"In the way: {plan.obstacle.said}."
        yield from _changes(sheet)
    for line in plan.changed:
        yield f"Changed: {line}."
    for line in plan.warnings:
        yield f"Look out: {line}."
    tight = plan.tightest
    if plan.feasible and tight is not None and tight.slack_s is not None:
        yield f"Tightest: {named(sheet, tight)}, {spare(sheet, tight)}."
    yield from chance_lines(sheet)
    if plan.stopped_early:
        by_then = "below stands what was planned by then" if plan.steps else "nothing was planned by then"
        what = "this is the best so far" if plan.feasible else by_then
        yield f"Stopped before the search was done: {what}."
    if plan.kept:
        kept = f"batch {plan.kept[0]} is" if len(plan.kept) == 1 else f"{len(plan.kept)} batches are"
        yield f"{kept[0].upper()}{kept[1:]} stated already and kept. The plan goes on from there."


def _nearest(sheet: PlanSheet) -> Iterator[str]:
    """What the nearest plan breaks. It is shown so that somebody can mend it; nobody should work by it. If there is
    none, what the steps below are all the same."""
    plan = sheet.plan
    planned = {batch.coat for batch in plan.batches}
    if plan.breaks:
        yield f"The nearest plan: {'; '.join(plan.breaks)}. {_not_to_work_by(plan)}"
    elif plan.stopped_early:
        return
    elif not plan.steps:
        yield "No plan that comes near was found either."
    elif not planned:
        yield "No plan that comes near was found. Below stands what is still due on the floor, and nothing else."
    elif any(coat.coat not in planned for coat in sheet.take.coats):
        yield f"No plan that comes near was found. Below stands {' and '.join(sorted(planned))} alone."
    else:
        yield not_to_work_by(sheet)


def _not_to_work_by(plan: Plan) -> str:
    lies = any(step.batch in plan.kept for step in plan.steps)
    return f"Do not work by it as it stands.{' Finish what lies all the same.' if lies else ''}"


def not_to_work_by(sheet: PlanSheet) -> str:
    """What stands over each list of a plan that does not fit, for whoever has that list alone in hand; else nothing."""
    plan = sheet.plan
    if plan.obstacle is None or not (plan.breaks or plan.obstacle.coat in {batch.coat for batch in plan.batches}):
        return ""
    return f"It does not fit: {(*plan.breaks, plan.obstacle.said)[0]}. {_not_to_work_by(plan)}"


def _verdict(sheet: PlanSheet) -> str:
    plan = sheet.plan
    if plan.obstacle is not None:
        if plan.stopped_early and not plan.changes:
            return f"stopped before {'all of it was planned' if plan.steps else 'a plan was found'}."
        return "no plan fits."
    if plan.finish is None:
        return "nothing is left to do."
    counts = [(coat, len(list(group))) for coat, group in groupby(plan.batches, key=lambda batch: batch.coat)]
    said = ", ".join(f"{count} {'batch' if count == 1 else 'batches'} of {coat}" for coat, count in counts)
    head = "it fits."
    if plan.chance is not None and plan.chance.holds < LIKELY:
        head = f"there is a plan, but it holds with {in_ten(plan.chance.holds)} only."
    return f"{head} {said or 'no more batches'}; done {sheet.day_and_clock(plan.finish, up=True)}."


def _changes(sheet: PlanSheet) -> Iterator[str]:
    if not sheet.plan.changes and sheet.plan.stopped_early:
        yield "The search stopped early: it may fit, and what would make it fit is not known."
    elif not sheet.plan.changes:
        yield "mixclock tried changes, alone and two together: none of those makes it fit."
    for change in sheet.plan.changes:
        count = f"{change.batches} batch{'es' if change.batches != 1 else ''}"
        done = f", done {sheet.day_and_clock(change.finish, up=True)}" if change.finish else ""
        yield f"To make it fit: {change.said}. Then {count}{done}."


def chance_lines(sheet: PlanSheet) -> Iterator[str]:
    """How likely it holds, and what breaks it first."""
    chance = sheet.plan.chance
    if chance is None:
        return
    yield (
        f"All of it holds with {in_ten(chance.holds)} ({_at_least(chance.holds)}), of {chance.days} days played with "
        f"step times and cure that vary; a day's cure is shared by its batches (seed {chance.seed})."
    )
    if sheet.plan.soonest is not None and sheet.plan.finish is not None:
        done, sooner = sheet.plan.finish, sheet.plan.soonest
        said, other = _apart(chance.holds, sooner.holds)
        yield (
            f"Done {sheet.day_and_clock(done, up=True)}, {said}; it could be "
            f"{sheet.day_and_clock(sooner.finish, up=True)}, but that holds with {other} only."
        )
    for place, (name, share) in enumerate(chance.breaks[:MOST_BREAKS]):
        if share < 0.005 and place:
            break
        where, colon, window = name.rpartition(": ")
        yield f"  first to go on {_pct(share)} of the days: {where}{colon}{words_of(window).window}"
    if chance.holds < LIKELY and not sheet.plan.warnings:
        yield "  Batches can be sized to be surer: plan with --sure 90."


def _apart(holds: float, sooner: float) -> tuple[str, str]:
    """Two chances so that a reader sees which is the better.

    >>> _apart(0.83, 0.44), _apart(0.97, 0.91)
    (('8 chances in 10', '4 chances in 10'), ('97 chances in 100', '91 chances in 100'))
    """
    said, other = in_ten(holds), in_ten(sooner)
    if said != other:
        return said, other
    return f"{int(holds * 100.0 + 1e-9)} chances in 100", f"{int(sooner * 100.0 + 1e-9)} chances in 100"


def in_ten(share: float) -> str:
    """A chance as a foreman says it, never better than it is.

    >>> in_ten(0.83), in_ten(0.99), in_ten(0.04), in_ten(0.1)
    ('8 chances in 10', '9 chances in 10', 'less than 1 chance in 10', '1 chance in 10')
    """
    tenths = int(share * 10.0 + 1e-9)
    if tenths == 0:
        return "less than 1 chance in 10"
    return f"{tenths} chance{'s' if tenths > 1 else ''} in 10"


def _at_least(share: float) -> str:
    """A chance in percent, never better than it is, so that it agrees with the chances in ten.

    >>> _at_least(0.899), _at_least(0.9996), _at_least(1.0), _at_least(0.0004)
    ('89 %', 'over 99 %', '100 %', 'under 1 %')
    """
    return _pct(max(0.01, int(share * 100.0 + 1e-9) / 100.0) if 0.01 <= share <= 0.99 else share)


def _pct(share: float) -> str:
    """A share in percent; never 100 % where a day failed, never 0 % where one held.

    >>> _pct(0.934), _pct(0.9996), _pct(0.0004), _pct(1.0)
    ('93 %', 'over 99 %', 'under 1 %', '100 %')
    """
    if 0.99 < share < 1.0:
        return "over 99 %"
    return "under 1 %" if 0.0 < share < 0.01 else f"{share * 100:.0f} %"


def _headed(title: str, lines: Iterable[str]) -> list[str]:
    found = list(lines)
    return [title, *found] if found else []


def _buying(sheet: PlanSheet) -> Iterator[str]:
    for coat in sheet.take.coats:
        yield f"  {coat.coat}: {coat.product}"
        for line in coat_lines(sheet, coat):
            yield f"    {line}"
    if sheet.take.coats:
        for line in (*tool_lines(sheet), *total_lines(sheet)):
            yield f"  {line}"


def _by_area(sheet: PlanSheet) -> Iterator[str]:
    names = list(dict.fromkeys(area.area for coat in sheet.take.coats for area in coat.areas))
    for name in names:
        mine = [(coat.coat, area) for coat in sheet.take.coats for area in coat.areas if area.area == name]
        yield f"  {name}, {sheet.units.write_area(max(area.size_m2 for _, area in mine))}{_measured(sheet, name)}"
        for coat, area in mine:
            yield f"    {coat}: {area_line(sheet, area)}"


def _measured(sheet: PlanSheet, name: str) -> str:
    """How an area was measured, where the job file says more than its size."""
    area = sheet.site.area(name)
    shape = area.shape if area is not None else None
    return f": {shape_said(shape, sheet.units)}" if shape is not None else ""


def _mixing(sheet: PlanSheet) -> Iterator[list[str]]:
    """The mix sheets coat by coat, each coat with its own cautions first; those of every bucket stand before them."""
    yield _headed("MIXING, EVERY BUCKET", (f"  ! {line}" for line in every_buckets_cautions(sheet)))
    for coat, batches in groupby(sheet.plan.batches, key=lambda batch: batch.coat):
        group = list(batches)
        profile = sheet.profile(group[0].product)
        lines = [f"MIX SHEETS: {coat}, {profile.name}"]
        lines += [f"  ! {line}" for line in own_cautions(sheet, profile)]
        lines += [f"  {line}" for line in how_to_mix(profile)]
        for batch in group:
            lines += _mix_lines(sheet, batch)
        yield lines


def _mix_lines(sheet: PlanSheet, batch: PlannedBatch) -> Iterator[str]:
    found = mix_sheet(sheet, batch)
    where = sheet.places((piece.said for piece in batch.pieces), batch)
    yield f"  BATCH {found.number}   {found.when}   {where}"
    for name, volume, mass, do in found.parts:
        yield f"    {name:<7} {volume:>9} {mass:>9}   {do}"
    for line in (*found.steps, found.size):
        yield f"    {line}"


def person_lines(sheet: PlanSheet, who: str) -> Iterator[str]:
    """One person's timed list, day by day."""
    for day, rows in groupby(person_rows(sheet, who), key=lambda row: row[0]):
        yield f"  {day}"
        for _, begins, ends, told in rows:
            yield f"    {begins:>5} to {ends:>5}  {told}"


def _tight(sheet: PlanSheet) -> Iterator[str]:
    bounded = [step for step in sheet.plan.steps if step.slack_s is not None and step.kind != BREAK]
    for step in sorted(bounded, key=lambda step: ((step.slack_s or 0.0) // 60.0, step.starts))[:MOST_TIGHT]:
        of_another = step.window not in SHUT_BY.get(step.kind, ())
        window = f" ({words_of(step.window).window})" if step.window and of_another else ""
        yield f"  {spare(sheet, step)}: {named(sheet, step)}{window}, {step.who}, {sheet.day_and_clock(step.ends)}"


def assumed(sheet: PlanSheet) -> list[str]:
    """What the plan and the quantities assume because nobody stated it, each line once."""
    return list(dict.fromkeys((*sheet.plan.assumed, *sheet.take.assumed)))


def fit(line: str) -> list[str]:
    """A line of at most 80 columns; what runs on is set in under it."""
    if len(line) <= WIDTH:
        return [line]
    lead = len(line) - len(line.lstrip())
    under = TIMED if TIMED_LINE.match(line) else lead + 2
    return textwrap.wrap(line, WIDTH, subsequent_indent=" " * under, break_on_hyphens=False)
