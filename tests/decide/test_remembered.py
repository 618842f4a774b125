"""A remembered answer is the answer, and saves running the resins."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.remembered import remembered
from mixclock.decide.tracks import tracks
from mixclock.job.entry import Combined, Poured, Reading
from tests.decide.worlds import MODEL, Log, instant


class Paper:
    """A memory that a test can read; what it keeps has been through JSON, as in the book."""

    def __init__(self) -> None:
        self.kept: dict[str, Any] = {}

    def recall(self, key: str) -> Any:
        return self.kept.get(key)

    def keep(self, key: str, value: Any) -> None:
        import json

        self.kept[key] = json.loads(json.dumps(value))


class Counting:
    """The real model, counting how often it is asked."""

    def __init__(self) -> None:
        self.asked = 0
        self._model = bucket_model()

    def __call__(self) -> BucketModel:
        def answer(bucket: Bucket) -> BucketAnswer | None:
            self.asked += 1
            return self._model(bucket)

        return answer


@pytest.fixture
def log() -> Log:
    log = Log()
    log.add(-10, Reading(air_c=18.0, rh_pct=50.0, slab_c=16.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=19.0))
    log.add(8, Poured(1))
    return log


def told(log: Log, model: BucketModel) -> list[dict[str, Any]]:
    return [
        {
            "name": track.name,
            "edge": track.bucket.edge if track.bucket else (track.opens, track.closes),
            "ripe": track.ripeness_closes(instant(9)),
            "because": track.because,
            "assumed": track.assumed,
        }
        for track in tracks(log.standing(), model)
    ]


def test_a_remembered_answer_is_the_models_own(log: Log) -> None:
    memory, counting = Paper(), Counting()
    fresh = told(log, MODEL)
    first = told(log, remembered(counting, memory, "1"))
    asked = counting.asked
    again = told(log, remembered(counting, memory, "1"))
    assert [each | {"ripe": None} for each in fresh] == [each | {"ripe": None} for each in first]
    assert [each["ripe"] for each in first] == [pytest.approx(each["ripe"], abs=1e-6) for each in fresh]
    assert first == again
    assert asked > 0
    assert counting.asked == asked


@pytest.mark.parametrize(
    "change",
    [
        {"mass_kg": 4.1},
        {"material_c": 19.5},
        {"across_m": 0.3},
        {"learned_factor": 1.1, "observations": 2},
    ],
)
def test_another_bucket_is_asked_about_anew(log: Log, change: dict[str, Any]) -> None:
    counting, seen = Counting(), []
    model = remembered(counting, Paper(), "1")
    told(log, lambda bucket: seen.append(bucket) or model(bucket))
    before = counting.asked
    model(replace(seen[0], **change))
    assert counting.asked == before + 1


def test_the_same_kit_an_hour_later_in_the_same_air_is_remembered(log: Log) -> None:
    counting, seen = Counting(), []
    model = remembered(counting, Paper(), "1")
    told(log, lambda bucket: seen.append(bucket) or model(bucket))
    before = counting.asked
    later = model(replace(seen[0], combined=seen[0].combined + timedelta(hours=1)))
    assert counting.asked == before
    assert later is not None
    assert later.edge.early - seen[0].combined > timedelta(hours=1)


def test_a_newer_model_forgets_what_an_older_one_said(log: Log) -> None:
    memory, counting = Paper(), Counting()
    told(log, remembered(counting, memory, "1"))
    before = counting.asked
    told(log, remembered(counting, memory, "2"))
    assert counting.asked > before


def test_a_product_without_a_pot_life_has_no_answer(log: Log) -> None:
    seen: list[Bucket] = []
    told(log, lambda bucket: seen.append(bucket) or MODEL(bucket))
    model = remembered(Counting(), Paper(), "1")
    assert model(replace(seen[0], profile=replace(seen[0].profile, pot_life=None))) is None
