"""A statement in a job of very many readings writes and answers by what was kept what the whole log says."""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.clock import FakeClock
from mixclock.outside.statedlog import StatedLog
from mixclock.wiring import House, open_house
from mixclock.words.answers import answer_json
from tests.examples import examples
from tests.outside.test_longlogs import kept_file, shed
from tests.saying import as_said

AREAS = st.sampled_from(["bay 1", "bay 2", "bay 3"])
DEEDS: dict[str, Callable[[random.Random], dict[str, Any]]] = {
    "noted": lambda dice: {"text": dice.choice(["door open", "heater lit"])},
    "reading": lambda dice: {
        name: round(dice.uniform(*span), 1)
        for name, span in (("air_c", (12.0, 28.0)), ("rh_pct", (30.0, 90.0)), ("slab_c", (10.0, 24.0)))
        if dice.random() < 0.8
    },
    "mixing": lambda dice: {
        "product": dice.choice(["Shed base", "Shed top"]),
        "areas": [dice.choice(["bay 1", "bay 2", "bay 3"])],
        "volume_l": 4.0,
    },
    "poured": lambda dice: {"batch": dice.choice([None, 1, 3, 4, 9])},
    "did": lambda dice: {"step": "broadcast", "batch": dice.choice([1, 2, 3])},
    "rolled": lambda dice: {"batch": dice.choice([None, 1, 2, 3])},
    "saw": lambda dice: {"batch": dice.choice([1, 3]), "sign": "stringy"},
    "withdraw": lambda dice: {"entry": dice.randint(3, 80)},
}


def said(house: House, verb: str, told: dict[str, Any], ago: timedelta, from_kept: bool) -> dict[str, Any] | str:
    """What is written and answered, or why it is refused."""
    at = house.clock.now() - ago if ago else None
    try:
        stated = house.state(as_said(verb, told), at=at, job="Boat shed", from_kept=from_kept)
    except CannotTellError as refusal:
        return str(refusal)
    return {
        "written": [(each.number, each.facts, each.happened) for each in stated.entries],
        "told": answer_json(house.answer(stated), stated.entry),
    }


def beside(house: House, folder: Path) -> tuple[Path, FakeClock]:
    """Another copy of the book as it is now, and a clock that shows the same."""
    assert isinstance(house.clock, FakeClock)
    home = folder / "beside"
    shutil.rmtree(home, ignore_errors=True)
    shutil.copytree(house.book.path.parent, home)
    clock = FakeClock(house.clock.now())
    clock.__dict__.update(house.clock.__dict__)
    return home, clock


def assert_holds(data: st.DataObject, folder: Path) -> None:
    dice = random.Random(data.draw(st.integers(0, 10**6), label="morning"))
    with shed(dice) as house:
        house.snapshot(house.clock.now())
        for _ in range(data.draw(st.integers(1, 5), label="statements")):
            house.clock.sleep(float(data.draw(st.sampled_from([1, 50, 400, 7000]), label="seconds later")))
            verb = data.draw(st.sampled_from(sorted(DEEDS)), label="verb")
            told = {key: value for key, value in DEEDS[verb](dice).items() if value is not None}
            ago = timedelta(minutes=data.draw(st.sampled_from([0, 0, 3, 40, 110]), label="minutes ago"))
            home, clock = beside(house, folder)
            with open_house(home, clock) as other:
                truth = said(other, verb, told, ago, from_kept=False)
            assert said(house, verb, told, ago, from_kept=True) == truth


@settings(max_examples=6, phases=(Phase.explicit, Phase.generate), deadline=None)
@given(data=st.data())
def test_a_statement_by_what_was_kept_writes_and_answers_what_the_whole_log_does(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    assert_holds(data, tmp_path_factory.mktemp("two"))


@pytest.mark.long
@examples(80, phases=(Phase.explicit, Phase.generate))
@given(data=st.data())
def test_a_statement_by_what_was_kept_writes_and_answers_what_the_whole_log_does_on_many_mornings(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    assert_holds(data, tmp_path_factory.mktemp("two"))


@pytest.mark.parametrize(
    ("verb", "told"),
    [
        ("noted", {"text": "door open"}),
        ("poured", {"batch": 3}),
        ("mixing", {"product": "Shed base", "areas": ["bay 1"], "volume_l": 4.0}),
    ],
)
def test_a_statement_in_a_long_job_reads_none_of_its_old_entries(
    verb: str, told: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    with shed() as house:
        house.state(as_said("saw", {"batch": 1, "sign": "tack free"}), job="Boat shed")  # the next bucket learns of it
        house.snapshot(house.clock.now())
        house.state(as_said("reading", {"slab_c": 18.0}), job="Boat shed", from_kept=True)
        read: list[int] = []
        real = Book._entries

        def counted(book: Book, job: str, after: int, skip: tuple[str, ...]) -> Any:
            read.append(after)
            return real(book, job, after, skip)

        monkeypatch.setattr(Book, "_entries", counted)
        house.answer(house.state(as_said(verb, told), job="Boat shed", from_kept=True))
        assert read
        assert 0 not in read


def test_what_was_kept_of_another_log_is_not_believed_by_a_statement() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        kept_file(house).write_text("no notes")
        log = StatedLog(house.book, "Boat shed", house._boot_time())
        assert not log._is_kept()
        assert isinstance(said(house, "noted", {"text": "door open"}, timedelta(), from_kept=True), dict)
