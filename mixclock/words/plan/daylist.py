"""The day of one person, row by row: when, what, where, by when at the latest and what is then to spare."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from mixclock.decide.plan.floor.crew import SET_UP
from mixclock.decide.plan.floor.plans import BREAK, FROM_THE_JOINT, PlannedStep
from mixclock.values import replace
from mixclock.words.plan.acidwords import acid_note
from mixclock.words.plan.mixsheet import BY_MASS, BY_VOLUME, mix_sheet
from mixclock.words.plan.sheet import THROW_SAND, PlanSheet

Row = tuple[str, str, str, str]


def person_rows(sheet: PlanSheet, who: str) -> Iterator[Row]:
    """Day, begin, end and what to do, step by step. What follows on one strip of a bucket stands in one row."""
    told_place: dict[int | None, str] = {}
    for steps in _runs(_in_one_go(step for step in sheet.plan.steps if step.who == who)):
        first, last = steps[0], steps[-1]
        if first.strip is None:
            told = _told(sheet, first)
        else:
            place = _strip_place(sheet, first)
            told = _strip_told(sheet, steps, "" if told_place.get(first.batch) == place else place)
            told_place[first.batch] = place
        yield sheet.day(first.starts), sheet.clock(first.starts), sheet.clock(last.ends), told


def _in_one_go(steps: Iterable[PlannedStep]) -> Iterator[PlannedStep]:
    """The steps, but a scraping that only goes on, as under one more bucket of the same area, is no row of its own."""
    before: PlannedStep | None = None
    for step in steps:
        if before is not None and step.kind == "scrape" and step == replace(before, starts=before.ends, ends=step.ends):
            before = replace(before, ends=step.ends)
            continue
        if before is not None:
            yield before
        before = step
    if before is not None:
        yield before


def _runs(steps: Iterable[PlannedStep]) -> Iterator[list[PlannedStep]]:
    """Each step alone, but those that follow each other on the same strip together."""
    for (_, strip), group in groupby(steps, key=lambda step: (step.batch, step.strip)):
        if strip is None:
            yield from ([step] for step in group)
        else:
            yield list(group)


def _strip_place(sheet: PlanSheet, step: PlannedStep) -> str:
    """Where a strip lies: the pieces of its bucket in the areas that it goes over."""
    batch = sheet.batch(step.batch)
    pieces = [piece.said for piece in batch.pieces if piece.area in step.areas] if batch is not None else []
    return sheet.places(pieces or step.areas, batch)


def _strip_told(sheet: PlanSheet, steps: Sequence[PlannedStep], place: str) -> str:
    """All that one person does on a strip before they go on; only the tightest of its edges has its reserve said."""
    tightest = min(
        (step for step in steps if _is_told(sheet, step)), key=lambda step: step.slack_s or 0.0, default=None
    )
    done = ", ".join(_on_strip(sheet, step, step is tightest) for step in steps)
    notes = [step.note for step in steps if step.note and step.note != FROM_THE_JOINT]
    where = f", {place}" if place else ""
    return "; ".join([f"{_strip_named(sheet, steps[0])}{where}: {done}", *notes])


def _strip_named(sheet: PlanSheet, step: PlannedStep) -> str:
    batch = sheet.batch(step.batch)
    return f"batch {step.batch}, strip {step.strip}{f' of {batch.strips}' if batch is not None else ''}"


def _is_told(sheet: PlanSheet, step: PlannedStep) -> bool:
    """Whether an edge is worth a word on a strip: a bucket has to be empty with its last one, not before."""
    batch = sheet.batch(step.batch)
    return step.by is not None and (step.kind != "pour" or batch is None or step.strip == batch.strips)


def _on_strip(sheet: PlanSheet, step: PlannedStep, is_tightest: bool) -> str:
    joint = " from the joint" if step.note == FROM_THE_JOINT else ""
    said = f"{sheet.step_said(step)}{joint}{_amounts(sheet, step)}"
    if step.by is None or not _is_told(sheet, step):
        return said
    return f"{said} by {sheet.clock(step.by)}{f' ({spare(sheet, step)})' if is_tightest else ''}"


def _told(sheet: PlanSheet, step: PlannedStep) -> str:
    if step.kind == BREAK:
        return BREAK
    by = f": {_due(step)} {sheet.clock(step.by)}, {spare(sheet, step)}" if step.by is not None else ""
    note = "".join(f"; {each}" for each in (step.note, acid_note(sheet, step)) if each)
    return f"{named(sheet, step)}{_amounts(sheet, step)}{by}{note}"


def _amounts(sheet: PlanSheet, step: PlannedStep) -> str:
    """How much is measured out, or thrown: whoever has this list in hand has no mix sheet."""
    batch = sheet.batch(step.batch)
    if batch is None or step.kind not in ("measure", "broadcast"):
        return ""
    if step.kind == "broadcast":
        return f", {sheet.units.write_mass(batch.flake_kg / batch.strips)}" if batch.flake_kg else ""
    whole = round(batch.kits) if batch.kits is not None else 0
    if whole and batch.kits == whole:
        return f": {whole} kit{'s' if whole != 1 else ''}"
    parts = mix_sheet(sheet, batch).parts
    return f": {', '.join(f'{name} {_either(volume, mass)}' for name, volume, mass, _ in parts)}"


def _either(volume: str, mass: str) -> str:
    """An amount by volume or by mass, or by both where both are known."""
    known = [said for said in (volume, mass) if said not in (BY_MASS, BY_VOLUME)]
    return " or ".join(known)


def _due(step: PlannedStep) -> str:
    """A squeegee must reach the joint in time, other steps must end."""
    if step.kind == "squeegee" and step.by is not None and step.slack_s is not None:
        to_the_joint_s = (step.by - step.starts).total_seconds()
        return "reach the joint by" if abs(to_the_joint_s - step.slack_s) < 1.0 else "by"
    return "by"


def named(sheet: PlanSheet, step: PlannedStep) -> str:
    """A step with its batch and where."""
    said = sheet.step_said(step)
    if step.strip is not None:
        return f"{said} {_strip_named(sheet, step)}, {_strip_place(sheet, step)}"
    where = sheet.places(step.areas, sheet.batch(step.batch))
    if step.kind == SET_UP:
        return said
    if step.batch is None:
        return ", ".join(part for part in (said, step.coat, where) if part)
    if step.kind in ("ready", "measure", "mix"):
        return f"{said}: batch {step.batch}, {step.coat}"
    on = " on" if said == THROW_SAND else ""
    return f"{said}{on} batch {step.batch}, {where}" if where else f"{said} {step.batch}"


def spare(sheet: PlanSheet, step: PlannedStep) -> str:
    """What is left of a step's time, or by how much it is late."""
    slack_s = step.slack_s or 0.0
    if slack_s < 0.0:
        return f"{sheet.units.write_span(-slack_s)} too late"
    return f"{sheet.units.write_remaining(slack_s)} to spare"
