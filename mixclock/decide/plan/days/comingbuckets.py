"""The buckets that come next: those of the plan that nobody has mixed yet. Without a plan, what is left of each
area."""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.decide.plan.floor.coverage import covered
from mixclock.decide.plan.floor.films import coats_in_order
from mixclock.decide.plan.floor.pieces import as_it_meets, ordered_areas, pieces_of
from mixclock.decide.plan.floor.plans import Plan, PlannedBatch
from mixclock.decide.plan.floor.quantities import Amounts, amounts, largest_piece_m2
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing, is_lost
from mixclock.job.site import Area, Coat, Site, in_file_order
from mixclock.values import replace


def buckets_left(standing: Standing, plan: Plan) -> Iterator[PlannedBatch]:
    """The plan's buckets that nobody has mixed yet. It counts the buckets, and passes over areas that are done."""
    mixed = max((batch.id for batch in standing.batches), default=0) - sum(map(is_lost, standing.batches))
    mixed -= sum(batch.spot is not None and not is_lost(batch) for batch in standing.batches)
    for batch in sorted(plan.batches, key=lambda each: each.number):
        coat = standing.site.coat(batch.coat)
        if batch.number > mixed and coat is not None:
            left = {area.name for area in areas_left(standing, coat)}
            if left.intersection(batch.areas):
                yield batch


def areas_left(standing: Standing, coat: Coat) -> list[Area]:
    """What is left of a coat's areas, in the order of work: each is as large as its rest."""
    known = covered(standing, coat)
    site, profiles = standing.site, standing.profiles
    found = (as_it_meets(site, profiles, coat, area) for area in ordered_areas(site, coat))
    left = ((area, known.left_m2(area) / area.size_m2) for area in found)
    return [part_of(area, share) for area, share in left if share > 0.0]


def coat_left(standing: Standing) -> tuple[Coat, list[Area]] | None:
    """The first coat that does not lie everywhere yet, with what is left of it; None if all is done."""
    for coat in coats_in_order(replace(standing.site, coats=in_file_order(standing.site.coats))):
        if left := areas_left(standing, coat):
            return coat, left
    return None


def part_of(area: Area, share: float) -> Area:
    """A share of an area, with its share of the edge to cut in."""
    if share >= 1.0:
        return area
    return replace(area, size_m2=area.size_m2 * share, edge_m=practice.edge_m(area).value * share)


def bucket_for(site: Site, coat: Coat, profile: Profile, area: Area) -> Amounts:
    """What one bucket for an area takes: for all of the area, or for as much as the largest bucket covers."""
    largest_m2 = largest_piece_m2(site, coat, profile, practice.texture_um(area).value)
    return amounts(coat, profile, pieces_of((area,), {area.name: largest_m2})[:1])
