"""The windows of a plan with their whole doubt, and which batches meet. A plan that is played again is measured by
these."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from functools import cached_property

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.acid import AFTER, OWN_WINDOWS, neutraliser_for
from mixclock.decide.plan.floor.films import GATES, coats_under
from mixclock.decide.plan.floor.plans import FloorPiece, Plan, PlannedBatch, PlannedStep, PlannedWindow
from mixclock.decide.plan.floor.precedence import STEP_OF
from mixclock.decide.plan.floor.timing import Bucketful, Span
from mixclock.formulas.rate_law import P90_SIGMAS
from mixclock.job.steps import WET_EDGE
from mixclock.values import replace


def sigmas(span: Span) -> tuple[float, float]:
    """The spread of a clock towards early and towards late, so that its 10th and 90th percentile are the edges."""
    early = math.log(span.likely_s / span.early_s) / P90_SIGMAS if 0.0 < span.early_s < span.likely_s else 0.0
    if span.late_s is None or span.likely_s <= 0.0:
        return early, early
    return early, math.log(max(span.late_s, span.likely_s) / span.likely_s) / P90_SIGMAS


class Clocks:
    """A plan's steps in the order of their starts, its batches by number, and its windows as their own hours give them.

    `at` holds the place of each step of a batch; where it is done strip by strip that of the last, `first_at` of the
    first.
    """

    def __init__(self, plan: Plan, bench: Bench) -> None:
        """Keep the plan. The windows are asked only when somebody needs them."""
        self.plan, self.bench = plan, bench
        self.steps = sorted(plan.steps, key=lambda step: (step.starts, step.ends, step.who, step.kind))
        self.at: dict[tuple[int | None, str], int] = {
            (step.batch, step.kind): index for index, step in enumerate(self.steps) if step.batch is not None
        }
        self.first_at: dict[tuple[int | None, str], int] = {}
        self._of_kind: dict[tuple[int | None, str], list[int]] = {}
        for index, step in enumerate(self.steps):
            self.first_at.setdefault((step.batch, step.kind), index)
            self._of_kind.setdefault((step.batch, step.kind), []).append(index)
        self.batches = {batch.number: batch for batch in plan.batches}
        self._spans: dict[tuple[int, str, bool], Span | None] = {}
        self._besides: dict[int, list[PlannedBatch]] = {}
        self._gates: dict[int, list[tuple[PlannedBatch, PlannedWindow]]] = {}
        self._under: dict[str, dict[str, tuple[str, ...]]] = {}

    @cached_property
    def _on_area(self) -> dict[str, list[PlannedBatch]]:
        """The batches that go on each area."""
        found: dict[str, list[PlannedBatch]] = {}
        for batch in self.plan.batches:
            for area in batch.areas:
                found.setdefault(area, []).append(batch)
        return found

    @cached_property
    def _taped(self) -> set[frozenset[str]]:
        return {frozenset(pair) for pair in self.bench.site.saw_cuts}

    def batch_of(self, step: PlannedStep) -> PlannedBatch | None:
        """The planned batch of a step. None if the step belongs to a live batch or to no batch."""
        return self.batches.get(step.batch) if step.batch is not None else None

    def of_batch(self, step: PlannedStep, kind: str) -> list[int]:
        """The steps of one kind of the same batch; of a live batch those on the same strip, or, if it lies
        in portions, on the same areas."""
        if step.batch is None:
            return []
        found = ((index, self.steps[index]) for index in self._of_kind.get((step.batch, kind), ()))
        if step.batch in self.batches:
            return [index for index, other in found if other.strip in (None, step.strip)]
        return [
            index
            for index, other in found
            if other.strip == step.strip and (step.strip is not None or set(other.areas) & set(step.areas))
        ]

    def strip_before(self, step: PlannedStep, kind: str) -> int | None:
        """A step on the strip of the same bucket that lies before this one's."""
        if step.strip is None or step.strip == 1:
            return None
        found = self.of_batch(replace(step, strip=step.strip - 1), kind)
        return found[0] if found else None

    def seconds(self, at: datetime) -> float:
        """Seconds from the plan's beginning."""
        return (at - self.plan.begins).total_seconds()

    def window(self, batch: PlannedBatch, name: str) -> PlannedWindow | None:
        """A window of a batch."""
        return next((each for each in batch.windows if each.name == name), None)

    def beside(self, batch: PlannedBatch) -> list[PlannedBatch]:
        """The earlier batches whose wet edge this one meets."""
        if batch.number not in self._besides:
            self._besides[batch.number] = self._joins(batch)
        return self._besides[batch.number]

    def _joins(self, batch: PlannedBatch) -> list[PlannedBatch]:
        spread = self.first_at.get((batch.number, "squeegee"))
        if spread is None or self.steps[spread].window != WET_EDGE:
            return []
        reached = {piece.area for piece in batch.pieces}
        reached |= {area for one in reached for area in self.bench.site.neighbours.get(one, ())}
        near = {other.number for area in reached for other in self._on_area.get(area, ())}
        return [
            other
            for other in self.plan.batches
            if other.number in near
            and other.coat == batch.coat
            and other.number < batch.number
            and any(self._touch(one, piece) for one in other.pieces for piece in batch.pieces)
        ]

    def _touch(self, earlier: FloorPiece, later: FloorPiece) -> bool:
        if earlier.area == later.area:
            return later.part == earlier.part + 1
        meet = later.area in self.bench.site.neighbours.get(earlier.area, ())
        joined = meet and frozenset((earlier.area, later.area)) not in self._taped
        return joined and earlier.part == earlier.parts and later.part == 1

    def gates(self, batch: PlannedBatch) -> list[tuple[PlannedBatch, PlannedWindow]]:
        """The windows of planned batches below that open the floor to this one."""
        if batch.number not in self._gates:
            self._gates[batch.number] = self._gates_below(batch)
        return self._gates[batch.number]

    def _gates_below(self, batch: PlannedBatch) -> list[tuple[PlannedBatch, PlannedWindow]]:
        under, areas = self._coats_under(batch.coat), batch.areas
        below = {
            other.number for area in areas for other in self._on_area.get(area, ()) if other.coat in under.get(area, ())
        }
        return [
            (other, window)
            for other in self.plan.batches
            if other.number in below
            for window in other.windows
            if window.name in GATES
        ]

    def _coats_under(self, name: str) -> dict[str, tuple[str, ...]]:
        if name not in self._under:
            coat = self.bench.site.coat(name)
            self._under[name] = coats_under(self.bench.site, self.bench.profiles, coat) if coat is not None else {}
        return self._under[name]

    def neutralisers(self, batch: PlannedBatch) -> list[PlannedBatch]:
        """The buckets of neutraliser that are ready before this acid is poured."""
        coat = self.bench.site.coat(batch.coat)
        own = neutraliser_for(self.bench.site, self.bench.profiles, coat) if coat is not None else None
        return [
            other
            for other in self.plan.batches
            if own is not None and other.coat == own.name and set(other.pieces) & set(batch.pieces)
        ]

    def span(self, batch: PlannedBatch, name: str, closing: bool) -> Span | None:
        """A window of a planned batch with its whole doubt, as its own hour gives it."""
        key = (batch.number, name, closing)
        if key not in self._spans:
            window = self.window(batch, name)
            self._spans[key] = self.asked(batch, window, closing) if window else None
        return self._spans[key]

    def asked(self, batch: PlannedBatch, window: PlannedWindow, closing: bool, longer_s: float = 0.0) -> Span | None:
        """The same where the bucket stands longer by some seconds before it is poured."""
        if (window.closes if closing else window.opens) is None:
            return None
        stood_s = (batch.poured_at - batch.mixed_at).total_seconds() + longer_s
        bucket = Bucketful(batch.mass_kg, batch.volume_l, stood_s)
        start = window.starts + timedelta(seconds=longer_s)
        ask = self.bench.exact.closes if closing else self.bench.exact.opens
        coat = self.bench.site.coat(batch.coat)
        own = neutraliser_for(self.bench.site, self.bench.profiles, coat) if coat is not None else None
        asked = [(batch.product, window.name)]
        asked += [(own.product, name) for name in OWN_WINDOWS.get(window.name, ())] if own is not None else []
        spans = [span for product, name in asked if (span := ask(product, name, start, bucket)) is not None]
        if closing:
            return min(spans, key=lambda span: span.early_s, default=None)
        return max(spans, key=lambda span: span.safe_open_s, default=None)

    def began(self, batch: PlannedBatch, window: PlannedWindow) -> int | None:
        """The task with whose end a window begins."""
        profile = self.bench.profiles.get(batch.product.casefold())
        rule = profile.window(window.name) if profile else None
        after = rule.after if rule else AFTER.get(window.name, "poured")
        return self.at.get((batch.number, STEP_OF.get(after, after)), self.at.get((batch.number, "pour")))
