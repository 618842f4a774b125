"""What a plan must keep when it is lived through: each step inside its windows, the work inside working hours."""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.decide.plan.floor.conditions import Stretch, allowed, working_stretches
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.plan.floor.plans import BREAK, PlannedBatch, PlannedStep, PlannedWindow
from mixclock.decide.plan.floor.precedence import FOLLOWING, OPENED_BY
from mixclock.decide.plan.floor.timing import Span
from mixclock.decide.plan.judge.replayclocks import Clocks, sigmas
from mixclock.job.steps import POUR_OUT, WET_EDGE
from mixclock.job.windownames import carries_bucket
from mixclock.values import dataclass, replace

OF_HOURS = ("hours",)
"""The clock of working hours: no doubt moves it."""

WEATHER = ("weather",)
"""The clock of what the sheet allows of the weather: it follows the forecast, and no doubt moves it."""

AT_THE_PAIL = frozenset({"ready", "measure", "mix"})
"""Steps that lay nothing: no weather spoils them."""

STOOD_LONGER_S = 240.0
"""How much longer a bucket stands in the second look at its floor windows."""


@dataclass(frozen=True)
class Limit:
    """A task's end (or start) must come before an edge, or after it where the edge opens.

    The edge lies `likely_s` after the end (or start) of another task; without one, that long after the beginning.
    `draw` names the clock, whose doubt is a log-normal factor with one spread towards early and one towards late.
    A bucket that stands longer than `stood_s` in between takes `per_stood_s` a second from the floor.
    """

    task: int
    at_start: bool
    since: int | None
    since_start: bool
    likely_s: float
    early_sigma: float
    late_sigma: float
    draw: tuple[str, ...]
    name: str
    opens: bool = False
    mixed: int | None = None
    stood_s: float = 0.0
    per_stood_s: float = 0.0


def limits_of(clocks: Clocks) -> Iterator[Limit]:
    """All limits of a plan."""
    yield from _Limits(clocks).all()


class _Limits:
    def __init__(self, clocks: Clocks) -> None:
        self.clocks = clocks
        self.at, self.steps, self.ignore = clocks.at, clocks.steps, clocks.bench.ignore

    def all(self) -> Iterator[Limit]:
        for index in range(len(self.steps)):
            yield from self._limits(index)
        yield from self._hours()
        yield from self._weather()

    def _limits(self, index: int) -> Iterator[Limit]:
        step = self.steps[index]
        batch = self.clocks.batch_of(step)
        if batch is None:
            if step.by is not None and step.kind != BREAK:  # lunch an hour late harms no floor
                yield Limit(index, False, None, False, self.clocks.seconds(step.by), 0.0, 0.0, ("live",), _said(step))
            return
        yield from self._own(index, batch, step)
        if step.strip is not None and step.strip > 1:
            yield from self._at_the_strip_before(index, batch, step)
            return
        beside = self.clocks.beside(batch)
        for other in beside:
            if step.kind == "squeegee":
                yield from self._closing(index, other, WET_EDGE, at_start=len(beside) == 1)
            if step.kind == "broadcast":
                yield from self._closing(index, other, "broadcast", at_start=True)
        if step.kind == "pour":
            for other, window in self.clocks.gates(batch):
                yield from self._closing(index, other, window.name, at_start=True)

    def _at_the_strip_before(self, index: int, batch: PlannedBatch, step: PlannedStep) -> Iterator[Limit]:
        """A strip meets the living edge of the one before it out of the same bucket, and is flaked while flake sticks
        there."""
        poured = self.clocks.strip_before(step, "pour")
        window = {"squeegee": WET_EDGE, "broadcast": "broadcast"}.get(step.kind)
        if window is not None and poured is not None and (step.kind != "squeegee" or step.window == WET_EDGE):
            for limit in self._closing(index, batch, window, at_start=True):
                yield replace(limit, since=poured)

    def _own(self, index: int, batch: PlannedBatch, step: PlannedStep) -> Iterator[Limit]:
        """The windows of the step's own batch."""
        if step.kind in FOLLOWING:
            yield from self._following(index, batch, step)
        elif step.window is not None and step.kind != "squeegee":
            yield from self._closing(index, batch, step.window, at_start=False)
        for name in OPENED_BY.get(step.kind, ()):
            if self.clocks.span(batch, name, closing=False) is not None:
                yield from self._opening(index, batch, name, at_start=step.kind not in FOLLOWING)

    def _following(self, index: int, batch: PlannedBatch, step: PlannedStep) -> Iterator[Limit]:
        """A step that follows another over the floor: neither the first strip nor the last may lie too long in
        between."""
        for name in OPENED_BY[step.kind]:
            for limit in self._closing(index, batch, name, at_start=False):
                yield limit
                yield replace(limit, at_start=True, since_start=True)

    def _closing(self, index: int, of: PlannedBatch, name: str, at_start: bool) -> Iterator[Limit]:
        window = self.clocks.window(of, name)
        span = self.clocks.span(of, name, closing=True)
        if window is None or span is None or name in self.ignore:
            return
        since = self.at.get((of.number, "mix")) if name == POUR_OUT else self.clocks.began(of, window)
        step = self.steps[index]
        if since is not None and step.batch == of.number and self.steps[since].strip is not None:
            since = next(iter(self.clocks.of_batch(step, self.steps[since].kind)), since)
        if since is None:
            return
        mixed, stood_s, per_stood_s = self._standing(of, window, span)
        early, late = sigmas(span)
        yield Limit(
            index, at_start, since, name == POUR_OUT, span.likely_s, early, late, (of.product, name),
            _said(self.steps[index], name), mixed=mixed, stood_s=stood_s, per_stood_s=per_stood_s,
        )  # fmt: skip

    def _standing(self, of: PlannedBatch, window: PlannedWindow, span: Span) -> tuple[int | None, float, float]:
        """What a second longer in the bucket takes from a floor window."""
        mixed, pour = self.at.get((of.number, "mix")), self.at.get((of.number, "pour"))
        if window.name == POUR_OUT or not carries_bucket(window.name) or mixed is None or pour is None:
            return None, 0.0, 0.0
        longer = self.clocks.asked(of, window, closing=True, longer_s=STOOD_LONGER_S)
        lost_s = max(0.0, span.likely_s - longer.likely_s) if longer else 0.0
        stood_s = (self.steps[pour].ends - self.steps[mixed].starts).total_seconds()
        return mixed, stood_s, lost_s / STOOD_LONGER_S

    def _opening(self, index: int, batch: PlannedBatch, name: str, at_start: bool) -> Iterator[Limit]:
        """The coat below sets no limit, since a person who finds it too soft waits."""
        window = self.clocks.window(batch, name)
        span = self.clocks.span(batch, name, closing=False)
        since = self.clocks.began(batch, window) if window else None
        if window is None or span is None or since is None or since == index:
            return
        early, late = sigmas(span)
        said = f"batch {batch.number}, {areas_said(batch.areas)}: {name} not open yet"
        yield Limit(
            index, at_start, since, False, span.likely_s, early, late, (batch.product, name, "opens"), said, True
        )

    def _weather(self) -> Iterator[Limit]:
        """What is laid before the air or the slab passes a limit of the sheet is laid by then."""
        at = self.clocks.bench
        hours = [] if "conditions" in self.ignore else working_stretches(at.site, self.clocks.plan.begins)
        for product in dict.fromkeys(batch.product for batch in self.clocks.batches.values()):
            stretches, refused = allowed(hours, at.profiles[product.casefold()].limits, at.outlook, at.site.units)
            turns = {each.at for each in refused}
            for stretch in (each for each in stretches if each.end in turns):
                good = f"the weather, good until {at.site.units.write_clock(stretch.end, at.site.wall)}"
                end_s = self.clocks.seconds(stretch.end)
                for index in self._last_laid(product, stretch):
                    said = _said(self.steps[index], good)
                    yield Limit(index, False, None, False, end_s, 0.0, 0.0, WEATHER, said)

    def _last_laid(self, product: str, stretch: Stretch) -> list[int]:
        """Each person's last step on the floor with a product in a stretch."""
        last: dict[str, int] = {}
        for index, step in enumerate(self.steps):
            batch = self.clocks.batch_of(step)
            on_it = batch is not None and batch.product == product and step.kind not in AT_THE_PAIL
            if on_it and stretch.holds(step.starts) and step.ends <= stretch.end:
                last[step.who] = index
        return list(last.values())

    def _hours(self) -> Iterator[Limit]:
        """Everybody's last step of a day ends in working hours."""
        if "hours" in self.ignore:
            return
        for stretch in working_stretches(self.clocks.bench.site, self.clocks.plan.begins):
            last: dict[str, int] = {}
            for index, step in enumerate(self.steps):
                if stretch.holds(step.starts) and step.ends <= stretch.end:
                    last[step.who] = index
            for index in last.values():
                yield Limit(
                    index, False, None, False, self.clocks.seconds(stretch.end), 0.0, 0.0, OF_HOURS, "working hours"
                )


def _said(step: PlannedStep, window: str | None = None) -> str:
    where = areas_said(step.areas)
    head = f"batch {step.batch}, {where}" if step.batch is not None else where
    return f"{head}: {window or step.window or step.kind}"
