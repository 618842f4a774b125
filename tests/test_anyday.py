"""Any day at all: whatever a crew says in whatever order is taken or refused in one line, and the job can be asked."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from mixclock.decide.windows import seen_at
from mixclock.job.saying import CannotTellError
from mixclock.outside.clock import FakeClock
from mixclock.units import METRIC_CREW
from mixclock.wiring import House, open_house
from mixclock.words.nowscreen import now_lines
from tests.cli.studio import STUDIO
from tests.outside.verified import verify
from tests.saying import as_said

MORNING = datetime(2026, 4, 13, 6, 30, tzinfo=UTC)
PRODUCTS = ("base", "grout", "primer", "top", "Slow epoxy base", "Etching solution", "Neutraliser", "Acrylic sealer")
AREAS = ("bay 1", "bay 2")
SEEDS = (*range(3), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(3, 30)))
STEPS = ("back-roll", "broadcast", "scrape", "pour-out", "neutralise", "rinse", "recoat", "dance")
OFTEN = {
    "mixing": 6,
    "poured": 6,
    "reading": 5,
    "mixed": 3,
    "rolled": 3,
    "flaked": 3,
    "dumped": 1,
    "taped": 1,
    "began": 3,
    "saw": 3,
    "did": 2,
    "withdraw": 2,
    "measured": 1,
    "noted": 1,
    "traffic": 1,
    "heard": 1,
    "finished": 0.1,
}
SIGNS = ("stringy", "skinned", "tack free", "hard", "hot", "purple")


def maybe(chance: random.Random, value: Any) -> Any:
    return value if chance.random() < 0.6 else None


def some_areas(chance: random.Random) -> list[str]:
    return chance.sample(AREAS, chance.randint(0, 2))


def anything(chance: random.Random, batches: int) -> tuple[str, dict[str, Any]]:
    """One statement, sensible or not, on a job with so many batches."""
    batch = maybe(chance, chance.randint(1, batches + 1))
    (verb,) = chance.choices(tuple(OFTEN), tuple(OFTEN.values()))
    what: dict[str, Any] = {
        "mixing": lambda: {
            "product": chance.choice(PRODUCTS),
            "coat": chance.choice((None, "base")),
            "areas": chance.sample(AREAS, chance.randint(1, 2)),
            "volume_l": chance.choice((0.05, 1.0, 4.0, 6.0, 19.0, 30.0)),
            "lot": maybe(chance, "L-17"),
            "material_c": maybe(chance, chance.uniform(-5.0, 45.0)),
            "mixing_s": maybe(chance, chance.uniform(10.0, 600.0)),
        },
        "mixed": lambda: {"batch": batch},
        "poured": lambda: {
            "batch": batch,
            "areas": some_areas(chance),
            "part_l": maybe(chance, chance.uniform(0.1, 3.0)),
            "covered_m2": maybe(chance, chance.uniform(1.0, 20.0)),
        },
        "rolled": lambda: {"batch": batch, "areas": some_areas(chance)},
        "flaked": lambda: {"batch": batch, "areas": some_areas(chance)},
        "dumped": lambda: {"batch": batch, "share": maybe(chance, chance.choice(("half", "all", "some")))},
        "taped": lambda: {"batch": batch, "areas": some_areas(chance)},
        "did": lambda: {"step": chance.choice(STEPS), "batch": batch, "areas": some_areas(chance)},
        "began": lambda: {"step": chance.choice(STEPS), "batch": batch, "areas": some_areas(chance)},
        "reading": lambda: {
            "air_c": maybe(chance, chance.uniform(-20.0, 60.0)),
            "rh_pct": maybe(chance, chance.uniform(1.0, 100.0)),
            "slab_c": maybe(chance, chance.uniform(-20.0, 80.0)),
            "area": maybe(chance, chance.choice(AREAS)),
            "bucket_c": (bucket_c := maybe(chance, chance.uniform(5.0, 200.0))),
            "batch": batch if bucket_c else None,
        },
        "measured": lambda: {"quantity": "wet film", "value": chance.uniform(10.0, 900.0), "area": "bay 1"},
        "noted": lambda: {"text": "door opened", "batch": batch},
        "traffic": lambda: {"area": chance.choice(AREAS), "by_what": "foot"},
        "saw": lambda: {"sign": chance.choice(SIGNS), "batch": batch, "area": maybe(chance, chance.choice(AREAS))},
        "heard": dict,
        "withdraw": lambda: {"entry": maybe(chance, chance.randint(1, 40))},
        "finished": dict,
    }[verb]()
    return ("mixed" if verb == "mixing" and chance.random() < 0.5 else verb), what


def a_day(house: House, clock: FakeClock, chance: random.Random, statements: int) -> int:
    """Say things through a day or more; gives how many were taken."""
    taken = 0
    for _ in range(statements):
        clock.advance(chance.choice((5.0, 60.0, 240.0, 900.0, 7200.0)) * chance.random())
        at = clock.now() - timedelta(seconds=chance.choice((0.0, 0.0, 120.0, 1800.0)) * chance.random())
        before = house.standing()
        verb, what = anything(chance, len(before.batches))
        said = _said(house, verb, what, at, maybe(chance, chance.choice(("mixer", "roller", "owner"))))
        assert said
        assert all("\n" not in line for line in said)
        grown = len(house.entries()) - len(before.entries)
        taken += grown > 0
        # what to look out for comes first
        told = next(line for line in said if not line.startswith("Look out: "))
        assert (grown > 0) == told.endswith(")")
    return taken


def _said(house: House, verb: str, what: dict[str, Any], at: datetime, by: str | None) -> list[str]:
    """What is answered, or the line with which it is refused."""
    try:
        return house.answer(house.state(as_said(verb, what), at=at, by=by)).lines()
    except CannotTellError as refusal:
        return [f"{refusal}!"]


@pytest.mark.parametrize("seed", SEEDS)
def test_any_day_is_taken_or_refused_and_can_be_asked_about(tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    clock = FakeClock(MORNING)
    with open_house(tmp_path, clock) as house:
        house.start(STUDIO)
        assert a_day(house, clock, chance, 60) >= 2
        now = clock.now()
        answer = house.snapshot(now)
        assert now_lines(answer, ZoneInfo("Europe/Lisbon"), METRIC_CREW)
        _check_windows(house, now)
        for _ in range(3):
            then = MORNING + (now - MORNING) * chance.random()
            house.snapshot(now, at=then)
            house.snapshot(now, at=then, known=then)
        assert verify(house.book) is None


def _check_windows(house: House, now: datetime) -> None:
    for track in house.tracks(house.standing()):
        window = seen_at(track, now)
        for edge in filter(None, (window.opens, window.closes)):
            assert edge.early <= edge.likely
            assert edge.late is None or edge.likely <= edge.late
            assert edge.early >= window.starts - timedelta(seconds=1)
