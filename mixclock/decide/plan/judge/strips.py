"""A coat whose bucket outlives its film: what is said where no plan fits that pours every bucket out at once.

Waterborne coats and polyaspartics stand longer in the pail than they stay open on the floor. One bucket is then poured
out strip by strip, each no larger than the crew rolls in the film's time (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.decide.plan.days.planner import Bench
from mixclock.decide.plan.floor.crew import crew_of, times_of
from mixclock.decide.plan.floor.pieces import ordered_areas, pieces_of
from mixclock.decide.plan.floor.plans import Obstacle
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET, amounts, most_l
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.job.steps import BACK_ROLL, POUR_OUT, WET_EDGE
from mixclock.units import write_span

TOO_SLOW = frozenset({BACK_ROLL, "broadcast", WET_EDGE, "sequence", SMALL_BUCKET})
OUTLIVES = 1.5
"""A bucket that lives so many times as long as its film is worth pouring out in strips (judgement)."""

KEPT_BACK = 0.8
"""A strip takes no more than this of the film's early time (judgement)."""

LEAST_M2 = 0.5
"""Less than this is no strip (judgement)."""


def in_strips(bench: Bench, obstacle: Obstacle) -> Iterator[str]:
    """How the coat in the way is laid all the same, strip by strip from one bucket, where its bucket allows that."""
    coat = bench.site.coat(obstacle.coat) if obstacle.coat is not None else None
    profile = bench.profiles.get(coat.product.casefold()) if coat is not None else None
    if coat is None or profile is None or obstacle.constraint not in TOO_SLOW or not profile.two_part:
        return
    areas = ordered_areas(bench.site, coat)
    pieces = pieces_of(areas, {area.name: area.size_m2 for area in areas})
    size_m2 = sum(piece.size_m2 for piece in pieces)
    crew = crew_of(bench.site)
    kinds = ("cut-in", "squeegee", "roll", *(("broadcast",) if coat.flake_kg_m2 else ()))
    spans = [[span for span in times_of(crew, kind, pieces, {}) if span is not None] for kind in kinds]
    work_s = sum(min(row) for row in spans) / len(crew.people)
    needed = amounts(coat, profile, pieces)
    litres = min(needed.mixed_l, most_l(bench.site, coat, profile)[0])
    bucket = Bucketful(needed.mass_kg * litres / needed.mixed_l, litres, 0.0)
    shut, film = (bench.exact.closes(coat.product, name, bench.begins, bucket) for name in (POUR_OUT, BACK_ROLL))
    if shut is None or film is None or shut.early_s < OUTLIVES * film.early_s or work_s <= 0.0:
        return
    strip_m2 = min(size_m2, KEPT_BACK * film.early_s * size_m2 / work_s)
    at_once_l = min(litres, needed.mixed_l * shut.early_s / work_s)
    if strip_m2 >= LEAST_M2:
        units = bench.site.units
        yield (
            f"{coat.name} lives {write_span(shut.early_s)} in the pail and {write_span(film.early_s)} on the floor, "
            f"and a plan pours every bucket out at once: mix at most {units.write_volume(at_once_l)}, pour it out by "
            f"strips, and roll each strip of {units.write_area(strip_m2)} before the next"
        )
