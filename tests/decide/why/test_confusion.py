"""A small sample of the confusion table; `python -m tests.decide.why.confusion SEED EACH` prints the whole of it."""

from __future__ import annotations

import pytest

from mixclock.decide.why import Verdict
from tests.decide.why.confusion import NAMED_WITHIN, answer, same
from tests.decide.why.planted import PLANTS, Plant, healthy_job, plant_job, unlisted_job

SEED = 5000


@pytest.mark.parametrize("plant", PLANTS, ids=lambda plant: plant.cause)
def test_a_grossly_planted_cause_is_among_the_first_three(plant: Plant) -> None:
    job = plant_job(plant, "gross", SEED)
    told = answer(job)
    assert any(same(suspect.cause.name, plant.cause) for suspect in told.suspects[:3] if suspect.score > 0.0)


def test_with_nothing_planted_hardly_anything_is_shown() -> None:
    jobs = [make(SEED + index) for index in range(6) for make in (healthy_job, unlisted_job)]
    assert sum(answer(job).verdict is Verdict.NOT_SHOWN for job in jobs) >= 10


@pytest.mark.parametrize("plant", PLANTS[::3], ids=lambda plant: plant.cause)
def test_the_fact_that_was_forgotten_is_asked_for(plant: Plant) -> None:
    told = answer(plant_job(plant, "clear", SEED, forget=True))
    said = [missing.what for missing, _ in told.not_recorded[: NAMED_WITHIN + 4]]
    assert any(fact in what for fact in plant.fact for what in said)
