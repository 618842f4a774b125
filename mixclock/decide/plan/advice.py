"""What the plan says while a crew works: start the next batch, don't open it any more, or you will be short."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from mixclock.decide.plan.pieces import ordered_areas
from mixclock.decide.plan.quantities import film_um, kit_l
from mixclock.decide.plan.replan import batches_of, covered, live_edges, next_mix_s
from mixclock.decide.plan.timing import Timing
from mixclock.formulas.coverage import with_waste_l
from mixclock.job import practice
from mixclock.job.progress import Standing
from mixclock.job.site import Area, Coat

SHORT_L = 0.25
"""Less than this is lost in the rounding of what a crew states (judgement)."""


@dataclass(frozen=True)
class Advice:
    """One piece of advice: `start` the next batch by `due`, `stop` (the wet edge can't be met), or `short`.

    `batch` is the number that the next batch will have. `text` says it to somebody in gloves.
    """

    kind: str
    coat: str
    batch: int
    area: str
    due: datetime
    text: str
    short_l: float | None = None


def next_batch_advice(standing: Standing, now: datetime, timing: Timing) -> tuple[Advice, ...]:
    """What to do about the next batch of each coat that is under way, the most pressing first."""
    found: list[Advice] = []
    for coat in standing.site.coats:
        if not batches_of(standing, coat):
            continue
        joint = _joint(standing, coat, now, timing)
        if joint is not None:
            found.append(joint)
        short = _short(standing, coat, now)
        if short is not None:
            found.append(short)
    rank = {"stop": 0, "start": 1, "short": 2}
    return tuple(sorted(found, key=lambda advice: (rank[advice.kind], advice.due)))


def _joint(standing: Standing, coat: Coat, now: datetime, timing: Timing) -> Advice | None:
    """The next area with a wet edge beside it: its kit must be opened so that the first spread meets that edge."""
    edges = live_edges(standing, coat, timing, now)
    if not edges or any(batch.emptied is None for batch in batches_of(standing, coat)):
        return None
    area = min(edges, key=lambda name: edges[name])
    needed = timedelta(seconds=next_mix_s(standing, coat.product))
    latest = edges[area] - needed
    number = max(batch.id for batch in standing.batches) + 1
    if now > latest:
        said = f"Don't open the next kit: {area} can't meet the wet edge any more. Stop at the saw cut and tape it."
        return Advice("stop", coat.name, number, area, latest, said)
    return Advice("start", coat.name, number, area, latest, f"Start batch {number} now, for {area}.")


def _short(standing: Standing, coat: Coat, now: datetime) -> Advice | None:
    """Whether what is left of the kits does the rest of the floor at the film that was really laid."""
    used_l, laid_m2 = _laid(standing, coat)
    bought_l = _bought_l(standing, coat)
    if laid_m2 <= 0.0 or bought_l is None:
        return None
    per_m2 = used_l / laid_m2
    left_l = bought_l - sum(batch.volume_l for batch in batches_of(standing, coat))
    done = covered(standing, coat)
    needed_l = 0.0
    where: str | None = None
    for area in ordered_areas(standing.site, coat):
        needed_l += done.left_m2(area) * per_m2
        if where is None and needed_l > left_l + SHORT_L:
            where = area.name
    short_l = needed_l - left_l
    if where is None or short_l <= SHORT_L:
        return None
    number = max(batch.id for batch in standing.batches) + 1
    said = f"At this rate you are {_litres(short_l)} short at {where}."
    return Advice("short", coat.name, number, where, now, said, short_l)


def _laid(standing: Standing, coat: Coat) -> tuple[float, float]:
    """Litres and square metres of those portions whose end on the floor was stated."""
    used_l = laid_m2 = 0.0
    for batch in batches_of(standing, coat):
        for portion in batch.portions:
            if portion.covered_m2 is not None and portion.volume_l:
                used_l += portion.volume_l
                laid_m2 += portion.covered_m2
    return used_l, laid_m2


def _bought_l(standing: Standing, coat: Coat) -> float | None:
    """What was bought by the take-off: whole kits, with those to spare."""
    profile = standing.profile(coat.product)
    kit = kit_l(coat, profile) if profile is not None else None
    areas = ordered_areas(standing.site, coat)
    needed_l = with_waste_l(sum(_net_l(coat, area) for area in areas), practice.waste_share(coat).value)
    if kit is None:
        return needed_l
    return (-(-needed_l // kit) + coat.spare_kits) * kit


def _net_l(coat: Coat, area: Area) -> float:
    return area.size_m2 * (film_um(coat) + practice.texture_um(area).value) / 1000.0


def _litres(volume_l: float) -> str:
    return f"{volume_l:.0f} L" if volume_l >= 2.0 else f"{volume_l:.1f} L"
