"""A small sample of the confusion table; `python -m tests.decide.why.confusion SEED EACH` prints the whole of it."""

from __future__ import annotations

import pytest

from mixclock.words.whytext import why_lines
from tests.decide.why.confusion import NAMED_WITHIN, answer, same
from tests.decide.why.planted import PLANTS, Plant, healthy_job, plant_job, unlisted_job

SEED = 5000
SOME = [
    pytest.param(plant, marks=pytest.mark.long if place % 2 else [], id=plant.cause)
    for place, plant in enumerate(PLANTS)
]
"""Every second of the causes; the long form plants each."""


@pytest.mark.parametrize("plant", SOME)
def test_a_grossly_planted_cause_stands_in_the_sentence(plant: Plant) -> None:
    told = answer(plant_job(plant, "gross", SEED))
    assert any(same(suspect.cause.name, plant.cause) for suspect in told.named)


def test_with_nothing_planted_hardly_anything_is_shown() -> None:
    jobs = [make(SEED + index) for index in range(6) for make in (healthy_job, unlisted_job)]
    assert sum(bool(answer(job).shown) for job in jobs) <= 1


@pytest.mark.parametrize("plant", PLANTS[::3], ids=lambda plant: plant.cause)
def test_the_fact_that_was_forgotten_is_asked_for(plant: Plant) -> None:
    told = answer(plant_job(plant, "clear", SEED, forget=True))
    said = " ".join(why_lines(told)[:NAMED_WITHIN])
    assert any(fact in said for fact in plant.fact)
