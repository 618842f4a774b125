"""Things that are so or are not, told in words by the record: a lot of its own, a sign that was seen, a tick."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.gauge import Gatherer
from mixclock.decide.why.layers import Fact, Gap, Layer, Value
from mixclock.job.entry import Entry, Noted
from mixclock.job.ticks import AT_ANY_TIME, Tick
from mixclock.values import dataclass


@dataclass(frozen=True)
class Observation:
    """One thing that is so or is not. `tick` is the fact that a person ticks for it, if there is one."""

    quantity: str
    says: str
    gather: Gatherer
    tick: Tick | None = None


def ticked(tick: Tick, *speak_for: str) -> Observation:
    """The observation that a tick gives. These of its answers speak for the cause; the others speak against it."""
    said = " or ".join(speak_for)

    def read(case: Case, layer: Layer) -> Fact:
        return _read(case, layer, tick, speak_for)

    return Observation(f"{tick.fact}: {said}", tick.fact, read, tick)


def _read(case: Case, layer: Layer, tick: Tick, speak_for: Iterable[str]) -> Fact:
    answers = [(entry, tick.answered(entry.facts.text), everywhere)
               for entry, everywhere in _notes(case, layer)
               if isinstance(entry.facts, Noted) and _counts(case, layer, tick, entry)]  # fmt: skip
    known = [(entry, answer, everywhere) for entry, answer, everywhere in answers if answer is not None]
    for entry, answer, everywhere in known:
        if answer in speak_for:
            told = f"“{tick.fact}: {answer}”, {clock_text(case.standing, entry.happened)}"
            return Value(told, at=entry.happened, holds_elsewhere=everywhere)
    if known:
        entry, answer, _ = known[-1]
        return Value(0.0, told=f"{answer}, {clock_text(case.standing, entry.happened)}", at=entry.happened)
    return Gap(tick.ask, tick.find_out, tick)


def _notes(case: Case, layer: Layer) -> Iterator[tuple[Entry, bool]]:
    """Notes that hold for this coat here, and whether they hold for the whole floor."""
    batches = {batch.id for batch in layer.batches}
    for entry in case.notes:
        facts = entry.facts
        assert isinstance(facts, Noted)
        if facts.batch in batches or facts.area == layer.area:
            yield entry, False
        elif facts.area is None and facts.batch is None:
            yield entry, True


def _counts(case: Case, layer: Layer, tick: Tick, entry: Entry) -> bool:
    """Whether a note counts: it lies within its span, or it answers on the area after a fault was found there."""
    start, end = span_of(case, layer, tick)
    if start <= entry.happened <= end:
        return True
    found = case.findings.get(layer.area, ())
    names_it = isinstance(entry.facts, Noted) and (entry.facts.area or entry.facts.batch is not None)
    return bool(found and names_it and entry.happened >= found[0].happened)


def span_of(case: Case, layer: Layer, tick: Tick) -> tuple[datetime, datetime]:
    """From when to when a tick counts for a coat on an area."""
    start = layer.first - tick.before
    return start, case.at if tick.after == AT_ANY_TIME else max(layer.last, case.tack_free(layer)) + tick.after
