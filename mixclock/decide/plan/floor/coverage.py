"""What lies on the floor, coat by coat: how far each got, and what a square metre really took."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from mixclock.decide.plan.floor.pieces import as_it_meets, ordered_areas, uncut
from mixclock.decide.plan.floor.quantities import FULL_KIT, film_um, kit_l, net_l
from mixclock.decide.plan.floor.stock import Stock
from mixclock.formulas.coverage import net_of_waste_l
from mixclock.job import practice
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.site import Area, Coat
from mixclock.values import dataclass

NEARLY = 0.85
"""An area that was covered to this share is done: what is left is within the film's tolerance (judgement)."""


NEARLY_AS_STATED = 0.95
"""Where somebody said how far each bucket went, what lies beyond is bare, but for what a tape misses (judgement)."""


@dataclass(frozen=True)
class Coverage:
    """How far one coat got, area by area, in square metres; `closed` areas are done, the crew has moved on. On those
    that are `stated` somebody said where each bucket ended."""

    by_area: Mapping[str, float]
    closed: frozenset[str] = frozenset()
    stated: frozenset[str] = frozenset()

    def left_m2(self, area: Area) -> float:
        """What is still to be done."""
        done = self.by_area.get(area.name, 0.0)
        nearly = NEARLY_AS_STATED if area.name in self.stated else NEARLY
        return 0.0 if area.name in self.closed or done >= nearly * area.size_m2 else area.size_m2 - done


@dataclass(frozen=True)
class CoverageMeasure:
    """Litres that were seen to do so many square metres, and since when that is known. `net_l` would have stayed there
    by the film asked for: what the slab's texture takes and what went up coves and stairs counts."""

    at: datetime
    volume_l: float
    size_m2: float
    net_l: float


def batches_of(standing: Standing, coat: Coat) -> list[Batch]:
    """The batches of a coat, also those that name no coat where only one has that product."""
    alone = sum(other.product.casefold() == coat.product.casefold() for other in standing.site.coats) == 1
    return [
        batch
        for batch in standing.batches
        if batch.coat == coat.name
        or (batch.spot is None and batch.coat is None and alone and batch.product.casefold() == coat.product.casefold())
    ]


def used_l(standing: Standing, coat: Coat) -> float:
    """What is gone of a coat's kits: what its batches took, and the small mixes of its product.

    A small mix lies under no coat: where two coats have its product it is taken from the one that was under way then,
    so that it is counted once.
    """
    small = (
        batch for batch in standing.batches if batch.spot is not None and _takes_from(standing, batch) == coat.name
    )
    return sum(batch.volume_l for batch in (*batches_of(standing, coat), *small))


def _takes_from(standing: Standing, spot: Batch) -> str | None:
    mine = [coat for coat in standing.site.coats if coat.product.casefold() == spot.product.casefold()]
    begun = [batch.coat for batch in standing.batches if batch.spot is None and batch.combined.at <= spot.combined.at]
    under_way = [coat.name for coat in mine if coat.name in begun]
    return under_way[-1] if under_way else mine[0].name if mine else None


def pours_of(standing: Standing, coat: Coat) -> list[tuple[Batch, Portion]]:
    """What left the buckets of a coat, in the order of the pours."""
    found = [(batch, portion) for batch in batches_of(standing, coat) for portion in batch.portions]
    return sorted(found, key=lambda pour: (pour[1].poured.at, pour[0].id, pour[1].number))


def covered(standing: Standing, coat: Coat) -> Coverage:
    """What the stated batches covered: as stated, else as far as their volume goes at the coat's film.

    An area that the crew left for another is done, unless somebody stated where each of its buckets ended. What is
    still in a bucket counts on the areas that it is meant for.
    """
    done: dict[str, float] = {}
    pours = pours_of(standing, coat)
    for _, portion in pours:
        _spread_over(standing, coat, portion.areas, portion.covered_m2, portion.volume_l, done)
    for batch in batches_of(standing, coat):
        if batch.emptied is None and batch.left_l > 0.0:
            _spread_over(standing, coat, batch.areas, None, batch.left_l, done)
    full = {area for batch in batches_of(standing, coat) if batch.left_l > 0.0 for area in batch.areas}
    silent = {area for _, portion in pours if portion.covered_m2 is None for area in portion.areas}
    poured = {area for _, portion in pours for area in portion.areas}
    return Coverage(done, frozenset(_left_behind(pours)), frozenset(poured - silent - full))


def in_bucket_m2(standing: Standing, coat: Coat, batch: Batch) -> dict[str, float]:
    """How far what is left in a bucket goes on each of its areas, beside what was poured there."""
    done: dict[str, float] = {}
    for _, portion in pours_of(standing, coat):
        _spread_over(standing, coat, portion.areas, portion.covered_m2, portion.volume_l, done)
    poured = dict(done)
    _spread_over(standing, coat, batch.areas, None, batch.left_l, done)
    return {area: done[area] - poured.get(area, 0.0) for area in batch.areas if area in done}


def _left_behind(pours: Sequence[tuple[Batch, Portion]]) -> set[str]:
    """Areas after which the crew went on elsewhere, where not every bucket's end was stated."""
    last: dict[str, int] = {}
    stated: dict[str, bool] = {}
    for place, (_, portion) in enumerate(pours):
        for area in portion.areas:
            last[area] = place
            stated[area] = stated.get(area, True) and portion.covered_m2 is not None
    return {area for area, place in last.items() if place < len(pours) - 1 and not stated[area]}


def _spread_over(
    standing: Standing,
    coat: Coat,
    areas: Sequence[str],
    size_m2: float | None,
    volume_l: float,
    done: dict[str, float],
) -> None:
    """Fill the named areas one after the other; what is left over lies thicker on the last."""
    share = 1.0
    for area in (found for name in areas if (found := standing.site.area(name)) is not None):
        goes_m2 = size_m2 if size_m2 is not None else _goes_m2(standing, coat, area, volume_l)
        room_m2 = max(0.0, area.size_m2 - done.get(area.name, 0.0))
        taken_m2 = min(room_m2, share * goes_m2)
        done[area.name] = done.get(area.name, 0.0) + taken_m2
        share -= taken_m2 / goes_m2 if goes_m2 > 0.0 else share


def _goes_m2(standing: Standing, coat: Coat, area: Area, volume_l: float) -> float:
    if volume_l <= 0.0:
        return 0.0
    return net_of_waste_l(volume_l, practice.waste_share(coat).value) / stays_l_m2(standing, coat, (area,))


def stays_l_m2(standing: Standing, coat: Coat, areas: Sequence[Area]) -> float:
    """What stays on a square metre of these areas by the film asked for: their texture, coves and stairs count."""
    profile = standing.profile(coat.product)
    if profile is None:
        return film_um(coat, profile) / 1000.0
    met = [as_it_meets(standing.site, standing.profiles, coat, area) for area in areas]
    return net_l(coat, uncut(met), profile) / sum(area.size_m2 for area in areas)


def left_of(standing: Standing) -> dict[tuple[str, str], float]:
    """What is left to be laid, by coat and area."""
    return {
        (coat.name, area.name): covered(standing, coat).left_m2(area)
        for coat in standing.site.coats
        for area in standing.site.areas
        if coat.goes_on(area.name)
    }


def stocks_of(standing: Standing, bought: Mapping[str, int] | None = None) -> dict[str, Stock]:
    """What is there of each coat that is under way; `bought` names the kits that were bought by coat, where known."""
    found = {}
    for coat in standing.site.coats:
        mixed_l = used_l(standing, coat)
        profile = standing.profile(coat.product)
        size_l = kit_l(coat, profile) if profile is not None else None
        if size_l is None:
            if mixed_l > 0.0:
                found[coat.name] = Stock(mixed_l)
            continue
        opened = math.ceil(mixed_l / size_l - FULL_KIT) if mixed_l > 0.0 else 0
        found[coat.name] = Stock(mixed_l, opened * size_l - mixed_l, opened, (bought or {}).get(coat.name))
    return found


def measures(standing: Standing, coat: Coat) -> Iterator[CoverageMeasure]:
    """What each bucket really did: where it ended as stated, else by all that went on whole areas, or on what stated
    buckets left of them.

    Areas count as whole once the crew has gone on to others, or once the coat is done everywhere.
    """
    known = covered(standing, coat)
    over = all(known.left_m2(area) <= 0.0 for area in ordered_areas(standing.site, coat))
    waiting: list[Portion] = []
    stated_m2: dict[str, float] = {}
    for _, portion in pours_of(standing, coat):
        if waiting and not ({area for before in waiting for area in before.areas} & set(portion.areas)):
            yield from _measured(standing, coat, waiting, portion.poured.at, _rest_m2(standing, waiting, stated_m2))
            waiting = []
        if portion.covered_m2 is not None and not waiting:
            yield from _measured(standing, coat, (portion,), portion.poured.at, portion.covered_m2)
            _spread_over(standing, coat, portion.areas, portion.covered_m2, portion.volume_l, stated_m2)
        else:
            waiting.append(portion)
    if waiting and over:
        yield from _measured(standing, coat, waiting, waiting[-1].poured.at, _rest_m2(standing, waiting, stated_m2))


def _areas_under(standing: Standing, portions: Sequence[Portion]) -> list[Area]:
    names = dict.fromkeys(area for portion in portions for area in portion.areas)
    return [area for name in names if (area := standing.site.area(name)) is not None]


def _rest_m2(standing: Standing, portions: Sequence[Portion], stated_m2: Mapping[str, float]) -> float:
    """What these did if their areas are done: all that no bucket is stated to have covered before."""
    areas = _areas_under(standing, portions)
    return sum(max(0.0, area.size_m2 - stated_m2.get(area.name, 0.0)) for area in areas)


def _measured(
    standing: Standing, coat: Coat, portions: Sequence[Portion], at: datetime, size_m2: float
) -> Iterator[CoverageMeasure]:
    """What these did on so much of their areas."""
    areas = _areas_under(standing, portions)
    volume_l = sum(portion.volume_l for portion in portions)
    if areas and size_m2 > 0.0 and volume_l > 0.0:
        yield CoverageMeasure(at, volume_l, size_m2, size_m2 * stays_l_m2(standing, coat, areas))
