"""A plan cut into stretches of work that fit one picture each: rows of people and tasks, with the windows behind."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise

from mixclock.decide.plan.floor.acid import etch_under
from mixclock.decide.plan.floor.films import coats_under
from mixclock.decide.plan.floor.plans import BREAK, PlannedStep, PlannedWindow
from mixclock.job.steps import NEUTRALISE, RECOAT, RINSE
from mixclock.values import dataclass
from mixclock.words.plan.sheet import PlanSheet

PAUSE = timedelta(hours=2)
LONGEST = timedelta(minutes=150)
ROWS = (
    "set-up",
    "scrape",
    "ready",
    "measure",
    "mix",
    "pour",
    "cut-in",
    "squeegee",
    "roll",
    "broadcast",
    NEUTRALISE,
    RINSE,
    "clean",
    "break",
)
MOST_LEVELS = 3


def has_an_edge(step: PlannedStep) -> bool:
    """Whether a step is drawn as one that must end by an edge. The latest end of a break is no edge of any film."""
    return step.by is not None and step.kind != BREAK


@dataclass(frozen=True)
class Band:
    """The window behind a step: from its start to its early edge; `level` keeps overlapping ones apart."""

    starts: datetime
    closes: datetime
    batch: int
    level: int


@dataclass(frozen=True)
class PersonRow:
    """One task of one person."""

    who: str
    kind: str
    said: str
    steps: tuple[PlannedStep, ...]
    bands: tuple[Band, ...]


@dataclass(frozen=True)
class DayPanel:
    """One stretch of work."""

    title: str
    starts: datetime
    ends: datetime
    rows: tuple[PersonRow, ...]

    def people(self) -> list[tuple[str, list[PersonRow]]]:
        """The rows person by person."""
        return [(who, list(rows)) for who, rows in groupby(self.rows, key=lambda row: row.who)]


def panels(sheet: PlanSheet) -> list[DayPanel]:
    """The stretches of a plan. Each begins after a pause, or where the picture before it is full."""
    return [_panel(sheet, steps) for steps in _stretches(sheet.plan.steps)]


def _stretches(steps: Sequence[PlannedStep]) -> Iterator[list[PlannedStep]]:
    """The steps from pause to pause. A stretch too long for one picture is cut into equal lengths."""
    for run in _runs(sorted(steps, key=lambda step: (step.starts, step.ends))):
        begins, ends = run[0].starts, max(step.ends for step in run)
        length = (ends - begins) / math.ceil((ends - begins) / LONGEST)
        for _, group in groupby(run, key=lambda step: (step.starts - begins) // length):
            yield list(group)


def _runs(steps: Sequence[PlannedStep]) -> Iterator[list[PlannedStep]]:
    run: list[PlannedStep] = []
    for step in steps:
        if run and step.starts - max(one.ends for one in run) > PAUSE:
            yield run
            run = []
        run.append(step)
    if run:
        yield run


def _panel(sheet: PlanSheet, steps: Sequence[PlannedStep]) -> DayPanel:
    starts = min(step.starts for step in steps)
    ends = max(step.ends for step in steps)
    busy = {step.coat for step in steps}
    coats = ", ".join(coat.name for coat in sheet.site.coats if coat.name in busy)
    title = f"{sheet.day(starts)}, {sheet.clock(starts)} to {sheet.clock(ends, up=True)}: {coats}"
    return DayPanel(title, starts, ends, tuple(_rows(sheet, steps)))


def _rows(sheet: PlanSheet, steps: Sequence[PlannedStep]) -> Iterator[PersonRow]:
    windows = {(window.name, window.closes): window for batch in sheet.plan.batches for window in batch.windows}
    for who in sheet.people():
        for kind in ROWS:
            mine = [step for step in steps if step.who == who and step.kind == kind]
            if mine:
                yield PersonRow(who, kind, sheet.step_said(mine[0]), tuple(mine), tuple(_bands(mine, windows)))


def _bands(
    steps: Sequence[PlannedStep], windows: Mapping[tuple[str, datetime | None], PlannedWindow]
) -> Iterator[Band]:
    free = [datetime.min.replace(tzinfo=steps[0].starts.tzinfo)] * MOST_LEVELS
    for step in steps:
        if step.window is None or step.by is None:
            continue
        window = windows.get((step.window, step.by))
        starts = window.starts if window is not None else min(step.starts, step.by)
        level = next((index for index, until in enumerate(free) if until <= starts), None)
        if level is None:
            level = min(range(MOST_LEVELS), key=lambda index: free[index])
        free[level] = step.by
        yield Band(starts, step.by, step.batch or 0, level)


@dataclass(frozen=True)
class CoatSpan:
    """When a coat is worked on, and the span that the coat below leaves it."""

    coat: str
    work: tuple[tuple[datetime, datetime], ...]
    opens: datetime | None
    closes: datetime | None
    below: str | None


def coat_spans(sheet: PlanSheet) -> list[CoatSpan]:
    """The coats over the days: work, and the recoat window of what lies below."""
    found = []
    for coat in sheet.site.coats:
        steps = [step for step in sheet.plan.steps if step.coat == coat.name and step.batch is not None]
        if steps and etch_under(sheet.site, sheet.profiles, coat) is None:
            under = coats_under(sheet.site, sheet.profiles, coat).values()
            opens, closes = _recoat(sheet, {name for names in under for name in names})
            found.append(CoatSpan(coat.name, tuple(_merged(steps)), opens, closes, coat.after))
    return found


def _recoat(sheet: PlanSheet, below: Collection[str]) -> tuple[datetime | None, datetime | None]:
    """The span in which all batches are open: from the last that opens to the first that shuts."""
    windows = [
        window
        for batch in sheet.plan.batches
        if batch.coat in below
        for window in batch.windows
        if window.name in (RECOAT, "dry")
    ]
    opens = [window.opens for window in windows if window.opens is not None]
    closes = [window.closes for window in windows if window.closes is not None]
    return max(opens, default=None), min(closes, default=None)


def _merged(steps: Sequence[PlannedStep]) -> Iterator[tuple[datetime, datetime]]:
    ordered = sorted(steps, key=lambda step: step.starts)
    begins = ordered[0].starts
    until = ordered[0].ends
    for _, step in pairwise(ordered):
        if step.starts - until > PAUSE:
            yield begins, until
            begins = step.starts
        until = max(until, step.ends)
    yield begins, until
