"""Free text that a cause may concern: quoted whole for a reader to judge, and never counted."""

from __future__ import annotations

import re
from collections.abc import Iterator

from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.causes.cause import Cause
from mixclock.decide.why.layers import Layer
from mixclock.decide.why.observation import Observation, span_of
from mixclock.job.entry import Entry, Noted
from mixclock.job.ticks import Tick, tick_of


def quotes_about(case: Case, layer: Layer, cause: Cause) -> Iterator[str]:
    """What somebody wrote on this area, batch or floor in the span in which it may concern the cause."""
    sources = [clue.source for clue in cause.clues]
    ticks = [source.tick for source in sources if isinstance(source, Observation) and source.tick is not None]
    for entry, words in case.free_texts:
        if tick_of(words, ticks) is not None:
            continue
        if any(_concerns(case, layer, tick, entry, words) for tick in ticks) and _holds_here(layer, entry):
            yield f"“{words}”{_by(entry)}, {clock_text(case.standing, entry.happened)}"


def _concerns(case: Case, layer: Layer, tick: Tick, entry: Entry, words: str) -> bool:
    start, end = span_of(case, layer, tick)
    return bool(tick.about) and start <= entry.happened <= end and bool(re.search(tick.about, words, re.IGNORECASE))


def _by(entry: Entry) -> str:
    return f" ({entry.by})" if entry.by else ""


def _holds_here(layer: Layer, entry: Entry) -> bool:
    facts = entry.facts
    area, batch, areas = (getattr(facts, name, None) for name in ("area", "batch", "areas"))
    mine = {own.id for own in layer.batches}
    if entry.number in {own.combined.entry for own in layer.batches} or batch in mine:
        return True
    if area is None and batch is None and not areas:
        return isinstance(facts, Noted)
    return batch is None and (area == layer.area or layer.area in (areas or ()))
