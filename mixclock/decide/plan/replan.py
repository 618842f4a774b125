"""Running late: where a job stands, so that the rest can be planned from there, and what has changed since."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from mixclock.decide.joints import neighbours_of
from mixclock.decide.plan.chain import Waiting
from mixclock.decide.plan.crew import Crew, crew_of, times_of
from mixclock.decide.plan.ground import Film
from mixclock.decide.plan.planning import Standpoint
from mixclock.decide.plan.quantities import film_um
from mixclock.decide.plan.shapes import Piece, Plan
from mixclock.decide.plan.timing import Bucket, Timing
from mixclock.formulas.coverage import net_of_waste_l
from mixclock.job import practice
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Area, Coat, Site

NEARLY = 0.85
"""An area that was covered to this share is done: what is left is within the film's tolerance (judgement)."""

DONE_AS = {
    "back-roll": "roll",
    "broadcast": "broadcast",
    "scrape": "scrape",
    "neutralise": "neutralise",
    "rinse": "rinse",
}


@dataclass(frozen=True)
class Covered:
    """How far one coat got, area by area, in square metres."""

    by_area: Mapping[str, float]

    def left_m2(self, area: Area) -> float:
        """What is still to be done."""
        done = self.by_area.get(area.name, 0.0)
        return 0.0 if done >= NEARLY * area.size_m2 else area.size_m2 - done


def covered(standing: Standing, coat: Coat) -> Covered:
    """What the stated batches covered: as stated, else as far as their volume goes at the coat's film."""
    done: dict[str, float] = {}
    for batch in batches_of(standing, coat):
        for areas, size_m2 in _reaches(batch, coat):
            _spread_over(standing.site, areas, size_m2, done)
    return Covered(done)


def batches_of(standing: Standing, coat: Coat) -> list[Batch]:
    """The batches of a coat, also those that name no coat where only one has that product."""
    alone = sum(other.product.casefold() == coat.product.casefold() for other in standing.site.coats) == 1
    return [
        batch
        for batch in standing.batches
        if batch.coat == coat.name
        or (batch.coat is None and alone and batch.product.casefold() == coat.product.casefold())
    ]


def _reaches(batch: Batch, coat: Coat) -> Iterator[tuple[tuple[str, ...], float]]:
    for portion in batch.portions:
        size_m2 = portion.covered_m2
        if size_m2 is None:
            size_m2 = _goes_m2(coat, portion.volume_l or 0.0)
        yield portion.areas, size_m2
    if batch.emptied is None and batch.left_l > 0.0:
        yield batch.areas, _goes_m2(coat, batch.left_l)


def _goes_m2(coat: Coat, volume_l: float) -> float:
    if volume_l <= 0.0:
        return 0.0
    return net_of_waste_l(volume_l, practice.waste_share(coat).value) * 1000.0 / film_um(coat)


def _spread_over(site: Site, areas: Sequence[str], size_m2: float, done: dict[str, float]) -> None:
    """Fill the named areas one after the other; what is left over lies thicker on the last."""
    left = size_m2
    for name in areas:
        area = site.area(name)
        if area is None:
            continue
        room = max(0.0, area.size_m2 - done.get(name, 0.0))
        taken = min(room, left)
        done[name] = done.get(name, 0.0) + taken
        left -= taken


def standpoint_of(standing: Standing, timing: Timing, now: datetime) -> Standpoint:
    """Where the job stands: what lies on the floor, what is left, which wet edges and steps are still open."""
    site = standing.site
    crew = crew_of(site)
    left: dict[tuple[str, str], float] = {}
    joined: dict[tuple[str, str], datetime] = {}
    waiting: list[tuple[str, Waiting, datetime]] = []
    films: list[Film] = []
    for coat in site.coats:
        found = covered(standing, coat)
        for area in site.areas:
            left[coat.name, area.name] = found.left_m2(area)
        for batch in batches_of(standing, coat):
            films += _films(standing, batch, coat, now)
            waiting += [(coat.name, wait, by) for wait, by in _open_steps(standing, batch, coat, timing, now, crew)]
        for area_name, by in live_edges(standing, coat, timing, now).items():
            joined[coat.name, area_name] = by
    return Standpoint(
        films=tuple(films),
        left_m2=left,
        joined_by=joined,
        waiting=tuple(waiting),
        people_free={person.name: now for person in crew.people},
        next_number=max((batch.id for batch in standing.batches), default=0) + 1,
        kept=tuple(batch.id for batch in standing.batches),
    )


def _bucket(batch: Batch, poured: datetime) -> Bucket:
    return Bucket(batch.mass_kg, batch.volume_l, max(0.0, (poured - batch.combined.at).total_seconds()))


def _films(standing: Standing, batch: Batch, coat: Coat, now: datetime) -> Iterator[Film]:
    portions = [(portion.areas, portion.poured.at, portion.steps) for portion in batch.portions]
    if batch.emptied is None:
        portions.append((batch.areas, max(now, batch.mixing_ended) + timedelta(seconds=60), {}))
    for areas, poured, steps in portions:
        ended = {"mix": batch.mixing_ended, "pour": poured}
        for (name, _), stated in steps.items():
            ended[DONE_AS.get(name, name)] = stated.at
        if coat.flake_kg_m2:
            ended.setdefault("broadcast", poured)
        size_m2 = sum(area.size_m2 for name in areas if (area := standing.site.area(name)) is not None)
        yield Film(coat.name, batch.product, areas, ended, _bucket(batch, poured), batch.id, size_m2)


def _open_steps(
    standing: Standing, batch: Batch, coat: Coat, timing: Timing, now: datetime, crew: Crew
) -> Iterator[tuple[Waiting, datetime]]:
    """What a live batch still needs: its steps that nobody stated, with their early edges."""
    steps = [("back-roll", "roll")] + ([("broadcast", "broadcast")] if coat.flake_kg_m2 else [])
    for portion in batch.portions:
        for window, kind in steps:
            names = tuple(name for name in portion.areas if portion.step(window, name) is None)
            if not names or portion.assumed is not None:
                continue
            shut = timing.closes(batch.product, window, portion.poured.at, _bucket(batch, portion.poured.at))
            by = portion.poured.at + timedelta(seconds=shut.early_s) if shut else None
            if by is None or by <= now:
                continue
            size_m2 = sum(area.size_m2 for name in names if (area := standing.site.area(name)) is not None)
            if portion.covered_m2 is not None:
                size_m2 = min(size_m2, portion.covered_m2)
            times = times_of(crew, kind, (Piece(names[0], size_m2, 0.0),), {})
            yield Waiting(kind, batch.id, names, times, window=window), by


def live_edges(standing: Standing, coat: Coat, timing: Timing, now: datetime) -> dict[str, datetime]:
    """For each area that is still to be done: until when its first spread meets every living wet edge beside it."""
    if coat.wet_edge is False:
        return {}
    found: dict[str, datetime] = {}
    done = covered(standing, coat)
    cuts = {frozenset(pair) for pair in standing.site.saw_cuts}
    for batch in batches_of(standing, coat):
        for portion in batch.portions:
            shut = timing.closes(batch.product, "wet-edge", portion.poured.at, _bucket(batch, portion.poured.at))
            if shut is None:
                continue
            by = portion.poured.at + timedelta(seconds=shut.early_s)
            if by <= now:
                continue
            for name in portion.areas:
                for other in (name, *neighbours_of(standing.site, name)):
                    area = standing.site.area(other)
                    if area is None or frozenset((name, other)) in cuts or done.left_m2(area) <= 0.0:
                        continue
                    found[other] = min(found.get(other, by), by)
    return found


def next_mix_s(standing: Standing, product: str) -> float:
    """From opening the next kit to its first spread: mixing, and pouring out."""
    return practice.mixing_time(standing.profile(product)).value + practice.POUR_S.value


def changes_since(before: Mapping[str, object] | None, plan: Plan) -> tuple[str, ...]:
    """What changed since the last plan, in words; nothing where there was none."""
    if not before:
        return ()
    said = []
    was = before.get("finish")
    if isinstance(was, str) and plan.finish is not None:
        then = datetime.fromisoformat(was.replace("Z", "+00:00"))
        minutes = round((plan.finish - then).total_seconds() / 60.0)
        if abs(minutes) >= 1:
            said.append(f"done {abs(minutes)} min {'later' if minutes > 0 else 'sooner'} than planned before")
    count = before.get("batches_in_all")
    if isinstance(count, int) and count != len(plan.batches) + len(plan.kept):
        said.append(f"{len(plan.batches) + len(plan.kept)} batches in all, {count} were planned before")
    return tuple(said)
