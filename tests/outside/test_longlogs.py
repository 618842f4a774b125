"""A job of very many readings: what is answered from what was kept beside the book is what the whole log says."""

from __future__ import annotations

import json
import random
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from mixclock.job import pastreadings
from mixclock.job.drafts import Draft
from mixclock.job.entry import (
    Combined,
    Did,
    Facts,
    ForecastTaken,
    JobMended,
    JobStarted,
    Noted,
    Poured,
    ProfileUsed,
    Reading,
    Unreadable,
    Withdrawn,
)
from mixclock.job.instants import utc_text
from mixclock.outside import longlogs
from mixclock.outside.bookcheck import checked
from mixclock.outside.clock import FakeClock
from mixclock.outside.foldedlogs import folds_folder
from mixclock.outside.followedjob import FollowedJob
from mixclock.outside.longlogs import LongLogs
from mixclock.wiring import House, open_house
from tests.boatshed import shed_base, shed_job, shed_top
from tests.days.memorybook import MemoryBook
from tests.examples import examples

MORNING = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
SITE = shed_job(bays=3, joined=True)
NEVER = 10**9


@contextmanager
def long_from(readings: int) -> Iterator[None]:
    """Logs of so many readings count as long, and a dozen of them stay at hand."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(longlogs, "LONG", readings)
        patched.setattr(longlogs, "RENEWED_AFTER", 6)
        patched.setattr(pastreadings, "TAIL", 12)
        yield


def reading(dice: random.Random, area: str | None = None) -> Reading:
    """What a logger says, of every kind of job: now and then only a part of it."""
    slab_c = round(16.0 + 4.0 * dice.random(), 1) if dice.random() < 0.6 else None
    air_c, rh_pct = round(15.0 + 9.0 * dice.random(), 1), round(1.0 + 99.0 * dice.random(), 1)
    return Reading(air_c=air_c, rh_pct=rh_pct, slab_c=slab_c, area=area, logger="door")


def begun(house: House, dice: random.Random, readings: int = 60) -> None:
    """A morning in the boat shed: two buckets on the floor, one in hand, and a reading every two minutes."""
    products = [Draft(ProfileUsed(name, text), MORNING) for name, text in
                (("Shed base", shed_base(limits=True, tack_free=True)), ("Shed top", shed_top(damp=True)))]  # fmt: skip
    told: list[tuple[float, Facts]] = [
        (30.0, Combined("Shed base", ("bay 1",), volume_l=4.0)),
        (41.0, Poured(1)),
        (47.0, Did("back-roll", 1)),
        (70.0, Combined("Shed top", ("bay 2",), volume_l=2.0)),
        (77.0, Poured(2)),
        (2.0 * readings - 4.0, Combined("Shed base", ("bay 3",), volume_l=4.0)),
    ]
    for place in range(readings):
        area = dice.choice([None, None, None, "bay 2"])
        told.append((2.0 * place, reading(dice, area)))
    drafts = [Draft(JobStarted("Boat shed", SITE), MORNING), *products]
    drafts += [Draft(facts, MORNING + timedelta(minutes=at)) for at, facts in sorted(told, key=lambda each: each[0])]
    house.book.append_within("Boat shed", lambda _: drafts)
    house.clock.sleep(120.0 * readings)


@contextmanager
def shed(dice: random.Random | None = None, long_at: int = 40) -> Iterator[House]:
    """A house with that morning in its book."""
    with (
        tempfile.TemporaryDirectory() as folder,
        long_from(long_at),
        open_house(Path(folder), FakeClock(MORNING)) as house,
    ):
        begun(house, dice or random.Random(3))
        yield house


def kept_file(house: House) -> Path:
    """The one file that is kept beside the book."""
    (file,) = house.book.path.with_name(f"{house.book.path.name}.folds").iterdir()
    return file


def whole(house: House) -> dict[str, Any]:
    """What the whole log says, with nothing kept."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(longlogs, "LONG", NEVER)
        patched.setattr(LongLogs, "told", lambda *_: None)
        return house.snapshot(house.clock.now())


def quick(house: House) -> dict[str, Any] | None:
    """What is told without the whole log; None where that is needed."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(LongLogs, "told_of_whole", lambda *_: None)
        told: dict[str, Any] | None = house.snapshot(house.clock.now())
        return told


def assert_alike(told: Any, truth: Any, where: str = "") -> None:
    """The same but for the last digit of what was rounded."""
    if isinstance(truth, dict):
        assert told.keys() == truth.keys(), where
        for key in truth:
            assert_alike(told[key], truth[key], f"{where}/{key}")
    elif isinstance(truth, list):
        assert len(told) == len(truth), where
        for place, (one, other) in enumerate(zip(told, truth, strict=True)):
            assert_alike(one, other, f"{where}/{place}")
    elif isinstance(truth, float):
        assert told == pytest.approx(truth, abs=2e-4), where
    elif told != truth:
        assert str(truth)[:2] == str(told)[:2] == "20", (where, told, truth)  # an instant
        apart = datetime.fromisoformat(told) - datetime.fromisoformat(truth)
        assert abs(apart) <= timedelta(milliseconds=2), (where, told, truth)


def test_the_second_question_of_a_long_job_is_answered_without_its_old_readings() -> None:
    with shed() as house:
        first = house.snapshot(house.clock.now())
        assert_alike(first, whole(house))
        assert quick(house) == first


def test_what_comes_after_counts_with_what_was_kept() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        house.clock.sleep(300.0)
        house.book.append("Boat shed", Reading(air_c=27.0, rh_pct=40.0, slab_c=24.0))
        house.book.append("Boat shed", Poured(3))
        house.clock.sleep(60.0)
        told = quick(house)
        assert told is not None
        assert_alike(told, whole(house))


def test_after_many_more_entries_what_is_kept_goes_on_from_itself() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        before = json.loads(kept_file(house).read_text().partition("\n")[2])
        for _ in range(8):
            house.clock.sleep(120.0)
            house.book.append("Boat shed", reading(random.Random(5)))
        assert_alike(quick(house), whole(house))
        after = json.loads(kept_file(house).read_text().partition("\n")[2])
        assert after["last"] == before["last"] + 8
        assert_alike(quick(house), whole(house))


def late_reading(house: House) -> None:
    house.book.append("Boat shed", Reading(slab_c=30.0), happened=MORNING + timedelta(minutes=35))


def reading_taken_back(house: House) -> None:
    old = next(entry for entry in house.book.entries("Boat shed") if isinstance(entry.facts, Reading))
    house.book.append("Boat shed", Withdrawn(old.number))


def pour_told_late(house: House) -> None:
    house.book.append("Boat shed", Poured(3), happened=MORNING + timedelta(minutes=50))


def clock_set(house: House) -> None:
    assert isinstance(house.clock, FakeClock)
    house.clock.step(3600.0)


def bit_flipped(house: House) -> None:
    """In the text of the last entry that is covered."""
    with sqlite3.connect(house.book.path) as raw:
        (last,) = raw.execute("SELECT max(number) FROM entries").fetchone()
        raw.execute("DROP TRIGGER entries_stay")
        raw.execute("UPDATE entries SET hash = 'e' || substr(hash, 2) WHERE number = ?", (last,))


def row_lost(house: House) -> None:
    with sqlite3.connect(house.book.path) as raw:
        raw.execute("DROP TRIGGER entries_are_kept")
        raw.execute("DELETE FROM entries WHERE number = 20")


def file_damaged(house: House) -> None:
    file = kept_file(house)
    file.write_text(file.read_text().replace("21", "12", 3))


def another_program(house: House) -> None:
    file, old = kept_file(house), kept_file(house).read_text().partition("\n")[2]
    content = old.replace('"program":"', '"program":"9.')
    file.write_text(f"{longlogs.sha256(content.encode()).hexdigest()}\n{content}")


def nothing_kept(house: House) -> None:
    kept_file(house).unlink()


@pytest.mark.parametrize(
    "happens",
    [late_reading, reading_taken_back, clock_set, bit_flipped, row_lost, file_damaged, another_program, nothing_kept],
)
def test_what_may_change_the_old_readings_has_the_whole_log_read_again(happens: Callable[[House], None]) -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        assert quick(house) is not None
        happens(house)
        assert quick(house) is None
        truth = whole(house)
        assert_alike(house.snapshot(house.clock.now()), truth)
        assert_alike(house.snapshot(house.clock.now()), truth)


def test_a_row_that_cannot_be_read_is_named_though_an_answer_was_kept() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        with sqlite3.connect(house.book.path) as raw:
            raw.execute("DROP TRIGGER entries_stay")
            raw.execute("""UPDATE entries SET facts = '{"batch":2}' WHERE kind = 'poured' AND facts = '{"batch":1}'""")
        told = house.snapshot(house.clock.now())
        assert "(poured) cannot be read" in told["troubles"][0]
        assert_alike(told, whole(house))


@pytest.mark.parametrize("morning", [pytest.param(15, marks=pytest.mark.long), 667026])
def test_a_jump_that_is_told_late_counts_for_a_window_that_began_before_the_readings_at_hand(morning: int) -> None:
    far = Reading(air_c=45.0, slab_c=38.0)
    with shed(random.Random(morning)) as house:
        house.snapshot(house.clock.now())
        house.clock.sleep(7000.0)
        for minutes_ago in (2, 132):
            house.book.append("Boat shed", far, happened=house.clock.now() - timedelta(minutes=minutes_ago))
            assert_alike(house.snapshot(house.clock.now()), whole(house))
            house.clock.sleep(50.0)


@pytest.mark.parametrize("who_reads_it_all", ["watch", "check"])
def test_a_flipped_bit_in_an_old_reading_is_named_once_the_watch_or_a_check_has_read_the_whole_log(
    who_reads_it_all: str,
) -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        with sqlite3.connect(house.book.path) as raw:
            raw.execute("DROP TRIGGER entries_stay")
            raw.execute("UPDATE entries SET facts = replace(facts, '\"rh_pct\"', '\"rh_pcu\"') WHERE number = 8")
        if who_reads_it_all == "watch":
            FollowedJob("Boat shed", lambda _: ()).refresh(house.book)
        else:
            assert "entry 8" in checked(house.book).wrong[0]
        told = house.snapshot(house.clock.now())
        assert told["troubles"][0].startswith("Entry 8 (reading) cannot be read")


@pytest.mark.skipif(sys.platform == "win32", reason="not installed: a disk with rights of a file")
def test_only_the_owner_reads_what_is_kept_of_a_floor() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        file = kept_file(house)
        assert (file.stat().st_mode & 0o777, file.parent.stat().st_mode & 0o777) == (0o600, 0o700)


def test_a_book_that_is_restored_keeps_no_notes_of_the_one_before() -> None:
    with shed() as house:
        copy = house.book.copy()
        house.snapshot(house.clock.now())
        assert kept_file(house).exists()
        house.book.restore(copy)
        assert list(folds_folder(house.book.path).iterdir()) == []
        assert_alike(house.snapshot(house.clock.now()), whole(house))


def test_who_waits_for_very_many_readings_is_told_once(capsys: pytest.CaptureFixture[str]) -> None:
    with shed() as house, pytest.MonkeyPatch.context() as patched:
        patched.setattr(longlogs, "SAID_FROM", 20)
        house.snapshot(house.clock.now())
        assert "readings are worked out, which takes a while" in capsys.readouterr().err
        house.snapshot(house.clock.now())
        assert capsys.readouterr().err == ""


def test_a_damaged_row_of_a_book_without_a_disk_is_followed_too() -> None:
    book: Any = MemoryBook(FakeClock(MORNING))
    book.append("Boat shed", JobStarted("Boat shed", SITE))
    book.append("Boat shed", Unreadable("reading", "a bit flipped"))
    followed = FollowedJob("Boat shed", lambda _: ())
    assert followed.refresh(book)
    assert len(followed.unreadable) == 1


def test_where_a_forecast_is_shifted_to_less_than_no_water_in_the_air_the_windows_are_still_told() -> None:
    with shed(long_at=NEVER) as house:
        house.book.append("Boat shed", Reading(rh_pct=3.0))
        expected = [utc_text(house.clock.now() + timedelta(hours=hours)) for hours in (0, 1, 5)]
        house.book.append("Boat shed", ForecastTaken("test", tuple(expected), (), (50.0, 20.0, 95.0)))
        (batch,) = [each for each in house.snapshot(house.clock.now())["batches"] if each["product"] == "Shed top"]
        assert {window["name"] for window in batch["windows"]} >= {"back-roll", "foot-traffic"}


@settings(max_examples=4, phases=(Phase.explicit, Phase.generate))  # each example is a book on the disk
@given(st.data())
def test_whatever_is_stated_next_the_answer_is_that_of_the_whole_log(data: st.DataObject) -> None:
    _assert_answers_hold(data)


@pytest.mark.long
@examples(60, phases=(Phase.explicit, Phase.generate))
@given(st.data())
def test_whatever_is_stated_next_the_answer_is_that_of_the_whole_log_on_many_mornings(data: st.DataObject) -> None:
    _assert_answers_hold(data)


def _assert_answers_hold(data: st.DataObject) -> None:
    dice = random.Random(data.draw(st.integers(0, 10**6), label="morning"))
    with shed(dice) as house:
        house.snapshot(house.clock.now())
        for _ in range(data.draw(st.integers(1, 4), label="statements")):
            house.clock.sleep(float(data.draw(st.sampled_from([1, 50, 400, 7000]), label="seconds later")))
            _state_something(house, dice, data)
            told, truth = house.snapshot(house.clock.now()), whole(house)
            assert_alike(told, truth)


def _state_something(house: House, dice: random.Random, data: st.DataObject) -> None:
    now, last = house.clock.now(), house.book.last_number("Boat shed")
    ago = now - timedelta(minutes=data.draw(st.integers(0, 150), label="minutes ago"))
    expected = [utc_text(now + timedelta(hours=hours)) for hours in (-2, 1, 5)]
    facts: Facts = data.draw(
        st.sampled_from(
            [
                reading(dice),
                reading(dice, "bay 1"),
                Reading(air_c=45.0, slab_c=38.0),
                Combined("Shed top", ("bay 1",), volume_l=2.0),
                Poured(3),
                Did("back-roll", 2),
                Noted("door open"),
                Withdrawn(dice.randint(5, last)),
                JobMended(SITE.replace("bay 3", "bay 3")),
                ForecastTaken("test", tuple(expected), (10.0, 14.0, 12.0), (60.0, 80.0, 95.0)),
            ]
        ),
        label="statement",
    )
    house.book.append("Boat shed", facts, happened=ago)
