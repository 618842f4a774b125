"""A bay that takes longer to lay than its recoat is surely open: each bucket has its sure hours, and all of them
together have none. The next coat is planned by the likely hours then, so these are what is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.films import GATES, Gate, LaidFilm, below_of, coats_in_order
from mixclock.decide.plan.floor.plans import PlannedBatch, PlannedWindow
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.values import replace


def told_as_planned(bench: Bench, films: Iterable[LaidFilm], batches: Sequence[PlannedBatch]) -> list[PlannedBatch]:
    """The batches, those with their likely recoat that lie under an area of which no hour is sure."""
    found, laid = list(batches), list(films)
    for upper in coats_in_order(bench.site):
        ground = below_of(bench.site, upper, laid, bench.profiles, bench.timing, bench.ignore)
        unsure = {area for area, gate in ground.gates.items() if not gate.sure}
        under = {film.number for film in ground.films if unsure & set(film.areas)}
        found = [_by_likely_hours(each, bench) if each.number in under else each for each in found]
    return found


def opens_above(bench: Bench, films: Sequence[LaidFilm], coat: str) -> datetime | None:
    """When the last area of a coat takes the next one, as that is planned; None where nothing goes on it."""
    gates: list[Gate] = []
    for upper in coats_in_order(bench.site):
        ground = below_of(bench.site, upper, films, bench.profiles, bench.exact, bench.ignore)
        if any(film.coat == coat for film in ground.films):
            gates += ground.gates.values()
    return max((gate.opens for gate in gates), default=None)


def _by_likely_hours(batch: PlannedBatch, bench: Bench) -> PlannedBatch:
    windows = (_likely(window, batch, bench) if window.name in GATES and window.sure else window
               for window in batch.windows)  # fmt: skip
    return replace(batch, windows=tuple(windows))


def _likely(window: PlannedWindow, batch: PlannedBatch, bench: Bench) -> PlannedWindow:
    bucket = Bucketful(batch.mass_kg, batch.volume_l, (batch.poured_at - batch.mixed_at).total_seconds())
    opened = bench.exact.opens(batch.product, window.name, window.starts, bucket)
    opens = window.opens if opened is None else window.starts + timedelta(seconds=opened.likely_s)
    return replace(window, opens=opens, closes=window.likely_closes or window.closes, sure=False)
