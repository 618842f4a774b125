"""Called away: what to save first and in which order. Back: what went by meanwhile, and what is still open."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType

from mixclock.decide.alerting.closing import has_work
from mixclock.decide.hot import hot_since
from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.dayentries import BackAtWork, StoppedWork, Visited
from mixclock.job.entry import Entry, Found
from mixclock.job.progress import Standing
from mixclock.job.steps import BACK_ROLL, BROADCAST, POUR_OUT, WET_EDGE
from mixclock.units import write_span
from mixclock.words.enumeration import list_words
from mixclock.words.stepwords import words_of
from mixclock.words.times import closes_said

SAVE: Mapping[str, str] = MappingProxyType(
    {
        POUR_OUT: "pour it out and spread it, or take it outside, spread thin",
        BROADCAST: "throw the flake where it is wet",
        BACK_ROLL: "roll it once across",
        WET_EDGE: "tape a straight line at the edge",
    }
)
"""For each step, what saves most of it in a few minutes. A wet edge is given up: it is taped."""

ORDER = (POUR_OUT, BACK_ROLL, BROADCAST, WET_EDGE)
"""A bucket first: it ruins itself and may burn. Then the roller, for nobody rolls through flake; then the flake, which
sticks for minutes only; the edge can be taped and sanded (judgement)."""

MOST_SAID = 4


def interruption_lines(entry: Entry, standing: Standing, found: Sequence[Track], now: datetime) -> tuple[str, ...]:
    """What is said to somebody who is called away, who is back, or who comes back weeks later."""
    if isinstance(entry.facts, StoppedWork):
        return tuple(_to_save(standing, found, now)) or ("nothing is wet and no bucket stands: go",)
    if isinstance(entry.facts, BackAtWork):
        return tuple(_recounted(entry, standing, found, now))
    if isinstance(entry.facts, Visited):
        return tuple(_of_a_visit(standing))
    return ()


def _open(standing: Standing, found: Sequence[Track], now: datetime) -> list[Window]:
    seen = [seen_at(track, now, ripe=False) for track in found if track.name in ORDER and has_work(standing, track)]
    return [window for window in seen if window.called is not None and window.stated is None and not window.provisional]


def _to_save(standing: Standing, found: Sequence[Track], now: datetime) -> Iterator[str]:
    """Hot buckets, then what still can be saved in the order of what is lost with it."""
    hot = [batch for batch in standing.batches if batch.emptied is None and hot_since(standing, batch) is not None]
    for batch in hot:
        yield f"batch {batch.id} runs hot: outside if you can hold it, before anything else"
    waiting = [window for window in _open(standing, found, now) if _late(window) > now]
    known = {batch.id for batch in hot}
    waiting = [window for window in waiting if not (window.name == POUR_OUT and window.batch in known)]
    ranked = sorted(waiting, key=lambda window: (ORDER.index(window.name), _early(window)))
    for window in ranked[:MOST_SAID]:
        left_s = (_early(window) - now).total_seconds()
        left = f"{write_span(left_s)} left" if left_s > 0 else "at once"
        yield f"{_where(window)}: {SAVE[window.name]}, {left}"
    if len(ranked) > MOST_SAID:
        yield f"{len(ranked) - MOST_SAID} more steps come after these: `now` shows them"
    if ranked or hot:
        yield "open no new kit; say `back` when you are back"


def _recounted(entry: Entry, standing: Standing, found: Sequence[Track], now: datetime) -> Iterator[str]:
    """How long somebody was away, what is lost, and what is still to do, the most urgent first."""
    zone = standing.site.wall
    since = _stopped_before(entry, standing)
    if since is not None:
        yield f"away {write_span(max(60.0, (entry.happened - since.happened).total_seconds()))}"
    windows = sorted(_open(standing, found, now), key=_early)
    gone = [window for window in windows if window.state is State.MISSED]
    for window in gone[:MOST_SAID]:
        yield f"gone: {_where(window)}, {words_of(window.name).window}; if it was done in time, say so with --at"
    for window in [each for each in windows if each not in gone][:MOST_SAID]:
        by = closes_said(_early(window), now, zone)
        late = _early(window) <= now
        done = words_of(window.name).do
        yield f"{_where(window)}: {done[:1].lower()}{done[1:]}{' at once, it was due' if late else ''} by {by}"
    if not windows:
        yield "nothing went by meanwhile"


def _stopped_before(entry: Entry, standing: Standing) -> Entry | None:
    for other in reversed(standing.live()):
        if other.number < entry.number and isinstance(other.facts, StoppedWork):
            return other
    return None


def _of_a_visit(standing: Standing) -> Iterator[str]:
    """What was found, and the lots that a repair has to match."""
    found: dict[str, str] = {}
    for entry in standing.live():
        if isinstance(entry.facts, Found):
            found[entry.facts.area] = entry.facts.symptom
    for area, symptom in found.items():
        yield f"found on {area}: {symptom}; put it right, then `fixed '{area}' HOW`"
    lots: dict[tuple[str, str], list[str]] = {}
    for batch in standing.batches:
        for area in {area for portion in batch.portions for area in portion.areas}:
            lots.setdefault((area, batch.coat or batch.product), []).extend(batch.lots or ("lot not recorded",))
    for (area, coat), names in list(lots.items())[:12]:
        yield f"to match on {area}, {coat}: {list_words(sorted(set(names)))}"


def _early(window: Window) -> datetime:
    assert window.called is not None
    return window.called.early


def _late(window: Window) -> datetime:
    assert window.called is not None
    return window.called.last


def _where(window: Window) -> str:
    return f"batch {window.batch}" + (f", {window.area}" if window.area else "")
