"""A plan made ready to be lived through again: its steps in their order, what each waits for, and what each must keep.

The order of work is the plan's: everybody does one thing at a time, in the order in which it was planned. A step begins
when its person is free and what it waits for is there. Measuring out, mixing and scraping also wait for their hour; a
bucket waits longer where those who need it are behind, but not past the moment at which a wet edge calls for it: what
somebody does who looks before part B goes in.
"""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.plans import BREAK, Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.precedence import FOLLOWING, OPENED_BY, leads_to
from mixclock.decide.plan.judge.replayclocks import Clocks, sigmas
from mixclock.decide.plan.judge.replaylimits import Limit, limits_of
from mixclock.job.steps import INDUCTION, WET_EDGE
from mixclock.values import dataclass

TIMETABLE = frozenset({"ready", "measure", "mix", "scrape", BREAK})
"""Steps that do not begin before their planned hour; all others follow what they wait for."""

ON_A_COAT = frozenset({"mix", "pour"})
"""Steps that wait until the coat below is open."""


@dataclass(frozen=True)
class WorkAhead:
    """The steps that a person still has to do before a bucket, each with its times, and when that person comes to
    it."""

    who: int
    steps: tuple[tuple[float, float], ...]
    comes_s: float


@dataclass(frozen=True)
class Opening:
    """A coat below that has to be open: so long after the end of one of its steps, as its clock runs that day.

    `ahead_s` is how long before the pour a step is done; `draw` names the clock, as in a limit.
    """

    since: int
    likely_s: float
    early_sigma: float
    late_sigma: float
    draw: tuple[str, ...]
    ahead_s: float


@dataclass(frozen=True)
class Task:
    """A step in seconds from the plan's beginning; `waits` are (task, "end" | "start" | "tail", lag): from the other's
    end, from its start, or end to end.

    `ahead` is what a bucket waits for; `called_by` are the wet edges that call for it: (pour, how long after its end
    it has to be begun). `on_time` tells that it waits for its planned hour.
    """

    step: PlannedStep
    who: int
    start_s: float
    span_s: float
    waits: tuple[tuple[int, str, float], ...] = ()
    ahead: tuple[WorkAhead, ...] = ()
    called_by: tuple[tuple[int, float], ...] = ()
    on_time: bool = False
    opened: tuple[Opening, ...] = ()


@dataclass(frozen=True)
class Replay:
    """The tasks in the order of their planned starts, and the limits on them."""

    tasks: tuple[Task, ...]
    limits: tuple[Limit, ...]
    people: int


def replay_of(plan: Plan, bench: Bench) -> Replay:
    """The plan as tasks and limits. Each window is asked with its whole doubt."""
    return _ReplayBuilder(Clocks(plan, bench)).build()


class _ReplayBuilder:
    def __init__(self, clocks: Clocks) -> None:
        self.clocks = clocks
        self.at, self.steps = clocks.at, clocks.steps
        self.who = {name: index for index, name in enumerate(sorted({step.who for step in self.steps}))}
        self.first_of = {step.who: index for index, step in reversed(list(enumerate(self.steps)))}

    def build(self) -> Replay:
        tasks = tuple(self._task(index) for index in range(len(self.steps)))
        return Replay(tasks, tuple(limits_of(self.clocks)), len(self.who))

    def _task(self, index: int) -> Task:
        step = self.steps[index]
        batch = self.clocks.batch_of(step)
        waits = [*self._inside(step), *((*self._across(step, batch), *self._scraped(step, batch)) if batch else ())]
        next_strip = step.kind == "pour" and (step.strip or 1) > 1
        mixes = batch is not None and (step.kind == "mix" or next_strip)
        return Task(
            step=step,
            who=self.who[step.who],
            start_s=self.clocks.seconds(step.starts),
            span_s=(step.ends - step.starts).total_seconds(),
            waits=tuple(wait for wait in waits if wait[0] < index),
            ahead=tuple(self._ahead(index)) if mixes else (),
            called_by=tuple(self._called_by(step, batch)) if batch is not None and mixes else (),
            opened=tuple(gate for gate, _ in self._opened_below(step, batch))
            if batch and step.kind in ON_A_COAT
            else (),
            on_time=step.kind in TIMETABLE or next_strip or self.first_of[step.who] == index,
        )

    def _inside(self, step: PlannedStep) -> Iterator[tuple[int, str, float]]:
        for lead in leads_to(step.kind):
            for other in self.clocks.of_batch(step, lead.first):
                lags = (("end", lead.end_to_start), ("start", lead.start_to_start), ("tail", lead.end_to_end))
                yield from ((other, how, float(lag)) for how, lag in lags if lag is not None)
        for kind in ("pour", "squeegee"):
            strip = self.clocks.strip_before(step, kind) if step.kind == kind else None
            if strip is not None:
                yield strip, "end", 0.0
        if step.beside is not None and step.kind == "roll":
            yield from ((other, "start", 0.0) for other in self.clocks.of_batch(step, step.kind))
        yield from self._opened(step)
        if step.kind == "clean":
            for index, before in enumerate(self.steps):
                if before.coat == step.coat and before.kind == "roll" and before.ends <= step.starts:
                    yield index, "end", 0.0

    def _opened(self, step: PlannedStep) -> Iterator[tuple[int, str, float]]:
        """The stand of the mixture, or the dwell on the floor, before a step."""
        batch = self.clocks.batch_of(step)
        if batch is None:
            return
        for name in OPENED_BY.get(step.kind, ()):
            span, window = self.clocks.span(batch, name, closing=False), self.clocks.window(batch, name)
            since = self.at.get((batch.number, "mix")) if name == INDUCTION else None
            since = self.clocks.began(batch, window) if window is not None and since is None else since
            if span is not None and since is not None and since != self.at.get((batch.number, step.kind)):
                hows = ("start", "tail") if step.kind in FOLLOWING else ("end",)
                yield from ((since, how, span.safe_open_s) for how in hows)

    def _across(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[int, str, float]]:
        """What a step waits for in other batches: their buckets, their film at the joint, the coat below."""
        if step.kind in ("pour", "mix"):
            yield from self._buckets(step, batch)
        if step.kind == "squeegee":
            for other in self.clocks.beside(batch):
                if (spread := self.at.get((other.number, "squeegee"))) is not None:
                    yield spread, "end", 0.0
        if step.kind in ON_A_COAT:
            for gate, safe_s in self._opened_below(step, batch):
                yield gate.since, "end", safe_s - gate.ahead_s
        if step.kind == "pour":
            for other in self.clocks.neutralisers(batch):
                if (mixed := self.at.get((other.number, "mix"))) is not None:
                    yield mixed, "end", 0.0

    def _scraped(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[int, str, float]]:
        """A floor is scraped before a bucket is mixed for it."""
        for index, other in enumerate(self.steps if step.kind == "mix" else ()):
            if other.kind == "scrape" and other.ends <= step.starts and set(other.areas) & set(batch.areas):
                yield index, "end", 0.0

    def _opened_below(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[Opening, float]]:
        """The coat below has to be open when the bucket is poured; nobody mixes sooner than that asks for.

        The crew goes by the clock and by the thumb: where the film is not ready at its hour, they wait.
        """
        pour = self.clocks.first_at.get((batch.number, "pour"))
        if pour is None:
            return
        ahead_s = (self.steps[pour].starts - step.starts).total_seconds()
        for other, window in self.clocks.gates(batch):
            span = self.clocks.span(other, window.name, closing=False)
            since = self.clocks.began(other, window)
            if span is not None and since is not None:
                draw = (other.product, window.name, "opens")
                planned_s = span.safe_open_s if window.sure else span.likely_s
                yield Opening(since, span.likely_s, *sigmas(span), draw, ahead_s), planned_s

    def _buckets(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[int, str, float]]:
        back = 1 if step.kind == "pour" else len(self.clocks.bench.site.vessels)
        before = self.clocks.batches.get(batch.number - back) if back else None
        if before is not None and before.coat == batch.coat:
            pour = self.at.get((before.number, "pour"))
            if pour is not None and self.steps[pour].ends <= step.starts:
                yield pour, "end", 0.0

    def _ahead(self, index: int) -> Iterator[WorkAhead]:
        """What the others have to finish before they come to this bucket."""
        step = self.steps[index]
        for name, who in self.who.items():
            if name == step.who:
                continue
            before: list[tuple[float, float]] = []
            for other in self.steps[index + 1 :]:
                if other.who != name:
                    continue
                if other.batch == step.batch and step.strip in (None, other.strip):
                    yield WorkAhead(who, tuple(before), self.clocks.seconds(other.starts))
                    break
                before.append((self.clocks.seconds(other.starts), (other.ends - other.starts).total_seconds()))

    def _called_by(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[int, float]]:
        if step.strip is not None:
            yield from self._called_by_the_strip_before(step, batch)
            return
        beside = self.clocks.beside(batch)
        spread = self.clocks.first_at.get((batch.number, "squeegee"))
        mix = self.at.get((batch.number, "mix"))
        if spread is None or mix is None:
            return
        reached = self.steps[spread].starts if len(beside) == 1 else self.steps[spread].ends
        needed_s = (reached - self.steps[mix].starts).total_seconds()
        for other in beside:
            span = self.clocks.span(other, WET_EDGE, closing=True)
            pour = self.at.get((other.number, "pour"))
            if span is not None and pour is not None and pour < mix:
                yield pour, span.early_s - needed_s

    def _called_by_the_strip_before(self, step: PlannedStep, batch: PlannedBatch) -> Iterator[tuple[int, float]]:
        before = self.clocks.strip_before(step, "pour")
        span = self.clocks.span(batch, WET_EDGE, closing=True)
        if before is None or span is None:
            return
        for spread in self.clocks.of_batch(step, "squeegee"):
            yield before, span.early_s - (self.steps[spread].starts - step.starts).total_seconds()
