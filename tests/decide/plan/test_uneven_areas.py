"""Small areas beside large ones: where a bucket ends need not be where an area does, nor a whole part of one."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import time

import pytest

pytest.importorskip("ortools", reason="OR-tools is not installed")

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.against_ortools import optimum
from tests.decide.plan.checker import Job, violations
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of


def shed(sizes_m2: tuple[float, ...], film_um: float, squeegee_m2_h: float, roll_m2_h: float) -> Site:
    """A floor for one person, who does everything; its edges are left as they are."""
    alone = Person("one", (), squeegee_m2_h, roll_m2_h, 60.0, 40.0)
    coat = Coat("base", PRODUCT, film_um, kit_l=9.0, split=True)
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    areas = row_of(sizes_m2, [0.0] * len(sizes_m2))
    return Site("Boat shed", "UTC", areas, (coat,), (alone,), pails, Hours(DAYS, time(6), time(23)))


@pytest.mark.parametrize(
    ("site", "closing", "buckets"),
    [
        (shed((38.0, 10.5, 10.0), 200.0, 110.0, 60.0), minutes(pour_out=10.0, back_roll=13.77, wet_edge=14.73), 12),
        (shed((2.0, 38.0, 2.0, 30.0), 200.0, 110.0, 60.0), minutes(pour_out=10.0, back_roll=13.77, wet_edge=14.73), 15),
        (shed((38.0, 40.0, 42.0), 200.0, 110.0, 60.0), minutes(pour_out=10.0, back_roll=13.77, wet_edge=14.73), 25),
        (shed((34.1, 4.5, 30.0, 3.7), 250.0, 97.0, 66.0), minutes(pour_out=13.79, back_roll=10.22, wet_edge=12.87), 19),
    ],
    ids=["a hall with two closets", "closets between rooms", "three rooms of many buckets each", "a litre each"],
)
def test_what_fits_in_equal_buckets_is_not_refused_for_where_its_areas_end(
    site: Site, closing: dict[str, float], buckets: int
) -> None:
    """CP-SAT lays the same floor in bays of one size, a bucket each: a litre at least, of which a twentieth stays in
    pail and roller. Of 200 µm that is 4.75 m²; of 250 µm it is 3.8 m², and 19 buckets of 72.3 m² are 3.805 m² each."""
    whole_m2 = sum(area.size_m2 for area in site.areas)
    even = replace(site, areas=row_of([whole_m2 / buckets] * buckets, [0.0] * buckets))
    film_mm = (site.coats[0].wet_film_um or 0.0) / 1000.0
    assert whole_m2 / buckets >= 0.95 / film_mm
    best, *_ = optimum(even, closing, buckets, 60.0, any_will_do=True)
    assert best is not None
    plan = make_plan(bench(site, closing))
    assert plan.feasible, plan.obstacle
    assert all(batch.volume_l >= 1.0 - 1e-9 for batch in plan.batches)
    assert sum(batch.size_m2 for batch in plan.batches) == pytest.approx(whole_m2)
    kept = Job(site, lambda _p, name, *_: closing[name] * 60.0 if name in closing else None, lambda *_: None)
    assert [one.text for one in violations(plan, kept)] == []


def test_a_part_is_named_by_the_share_of_its_area_that_it_is() -> None:
    """58.5 m² in 12 buckets are 4.875 m² each, of 38 m² 12.8 hundredths: there lies the chalk line, at no eighth."""
    site = shed((38.0, 10.5, 10.0), 200.0, 110.0, 60.0)
    plan = make_plan(bench(site, minutes(pour_out=10.0, back_roll=13.77, wet_edge=14.73)))
    size_m2 = {area.name: area.size_m2 for area in site.areas}
    cut = [piece for batch in plan.batches for piece in batch.pieces if piece.parts > 1]
    assert len(cut) > 10
    for piece in cut:
        named = re.fullmatch(r"(.+) \(parts? (\d+)(?: to (\d+))? of (\d+)\)", piece.said)
        assert named is not None, piece.said
        first, last, of = int(named[2]), int(named[3] or named[2]), int(named[4])
        assert piece.size_m2 / size_m2[named[1]] == pytest.approx((last - first + 1) / of)
    assert areas_said([piece.said for piece in plan.batches[0].pieces]) == "the first 13 % of bay 1"
