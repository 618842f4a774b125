"""A job of very many readings is followed by what was kept of the old ones: the same calls at once, no bit unread."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.joining import JoinedHouse
from mixclock.decide.windows import seen_at
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Did, Poured, Reading, Withdrawn
from mixclock.outside import recalledlog
from mixclock.outside.clock import FakeClock, SystemClock
from mixclock.outside.foldedlogs import folds_folder
from mixclock.watch.delivery import Delivery
from mixclock.watch.foldbeside import FoldBeside
from mixclock.watch.jobwatch import JobWatch, Reckoning
from mixclock.watch.tick import Ticker
from mixclock.wiring import House
from mixclock.words.nowjson import now_json
from tests.outside.test_longlogs import assert_alike, reading, shed, whole

NAME = "Boat shed"


def _watched(house: House) -> JobWatch:
    job = JobWatch(NAME, Reckoning(house.bucket_model))
    job.refresh(house.book)
    return job


def _told(job: JobWatch, house: House) -> Any:
    """What the watch goes by, as `now` would put it: every window as it is seen, and every call that stands."""
    assert job.standing is not None
    told = now_json(job.standing, job.tracks, house.clock.now())
    return {name: told[name] for name in ("batches", "areas", "conditions", "questions")}


def _calls(job: JobWatch, house: House) -> list[tuple[str, str]]:
    return [(alert.id, alert.stage.value) for alert in job.alerts(house.clock.now())]


def _whole(house: House) -> JobWatch:
    job = JobWatch(NAME, Reckoning(house.bucket_model))
    job.read_whole(house.book)
    return job


def _later(house: House) -> None:
    house.clock.sleep(400.0)


def _read(house: House) -> None:
    house.book.append(NAME, reading(random.Random(5)))


def _rolled(house: House) -> None:
    house.book.append(NAME, Did("back-roll", 2))


def _poured(house: House) -> None:
    house.book.append(NAME, Poured(3))


def _early_reading(house: House) -> None:
    house.book.append(NAME, Reading(air_c=31.0), happened=house.clock.now() - timedelta(minutes=100))


def _withdrawn(house: House) -> None:
    last = next(entry.number for entry in house.entries(NAME) if isinstance(entry.facts, Reading))
    house.book.append(NAME, Withdrawn(last))


def _other_boot(house: House) -> None:
    clock = house.clock
    assert isinstance(clock, FakeClock)
    clock.reboot()
    house.book.append(NAME, reading(random.Random(7)))


HAPPENS = (_later, _read, _rolled, _poured, _early_reading, _withdrawn, _other_boot)


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in (1, 2)), 3])
def test_whatever_happens_the_watch_goes_by_what_the_whole_log_tells(seed: int) -> None:
    dice = random.Random(seed)
    with shed(random.Random(seed)) as house:
        house.snapshot(house.clock.now())
        job = _watched(house)
        assert job.is_recalled
        for happens in (_later, *dice.sample(HAPPENS, 4)):
            happens(house)
            job.refresh(house.book)
            truth = _whole(house)
            try:
                told, calls = _told(job, house), _calls(job, house)
            except ForgottenError:
                job.read_whole(house.book)
                told, calls = _told(job, house), _calls(job, house)
            assert_alike(told, _told(truth, house))
            assert calls == _calls(truth, house)
            assert job.last_number == truth.last_number


@pytest.mark.parametrize("happens", [_early_reading, _withdrawn])
def test_what_changes_the_old_readings_has_the_watch_read_the_whole_log(happens: Callable[[House], None]) -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        job = _watched(house)
        assert job.is_recalled
        happens(house)
        assert job.refresh(house.book)
        assert not job.is_recalled
        assert_alike(_told(job, house), _told(_whole(house), house))


def test_a_flipped_bit_in_an_old_reading_is_found_look_by_look_and_the_whole_log_is_read(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(recalledlog, "PROVED_AT_ONCE", 10)
    with shed() as house:
        house.snapshot(house.clock.now())
        faults: list[str] = []
        delivery: Any = Delivery(_NoSender(), house.book, house.clock, faults.append)  # type: ignore[arg-type]
        ticker = Ticker(house.book, house.clock, delivery, Reckoning(house.bucket_model), faults.append)
        ticker.tick()
        job = ticker.watched[NAME]
        assert job.is_recalled
        with sqlite3.connect(house.book.path) as raw:
            raw.execute("DROP TRIGGER entries_stay")
            raw.execute("UPDATE entries SET facts = replace(facts, '\"rh_pct\"', '\"rh_pcu\"') WHERE number = 28")
        for _ in range(8):
            house.clock.sleep(0.5)
            ticker.tick()
        assert not job.is_recalled
        assert [entry.number for entry in job.unreadable] == [28]
        assert list(folds_folder(house.book.path).iterdir()) == []


class _NoSender:
    """Takes every message and tells nobody."""

    channels = ()

    def __getattr__(self, name: str) -> Any:
        return lambda *what, **how: ()


def test_where_a_call_rests_on_readings_that_are_not_at_hand_the_whole_log_is_read_and_the_call_is_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        delivery: Any = Delivery(_NoSender(), house.book, house.clock, _fail)  # type: ignore[arg-type]
        ticker = Ticker(house.book, house.clock, delivery, Reckoning(house.bucket_model), _fail)
        asked = JobWatch.alerts

        def forgets(job: JobWatch, *what: Any) -> Any:
            if job.is_recalled:
                raise ForgottenError("of then")
            return asked(job, *what)

        monkeypatch.setattr(JobWatch, "alerts", forgets)
        ticker.tick()
        assert not ticker.watched[NAME].is_recalled
        assert ticker.watched[NAME].alerts(house.clock.now())


def _fail(line: str) -> None:
    raise AssertionError(line)


def test_the_board_shows_a_long_job_by_what_was_kept_as_by_the_whole_log() -> None:
    with shed() as house:
        truth = whole(house)
        house.snapshot(house.clock.now())
        joined = JoinedHouse(house)
        told = joined.snapshot(house.clock.now())
        assert joined._followed is not None
        assert joined._followed.is_recalled
        assert_alike([batch["stage"] for batch in told["batches"]], [batch["stage"] for batch in truth["batches"]])
        assert_alike(told["areas"], truth["areas"])
        assert_alike(told["conditions"], truth["conditions"])


def test_the_board_reads_the_whole_log_where_an_answer_needs_it(monkeypatch: pytest.MonkeyPatch) -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        joined = JoinedHouse(house)
        joined.floor()
        followed = joined._followed
        assert followed is not None
        recalled: list[bool] = []

        def forgets(*_: Any) -> list[Any]:
            recalled.append(followed.is_recalled)
            if followed.is_recalled:
                raise ForgottenError("of then")
            return []

        monkeypatch.setattr("mixclock.board.joining.with_sheets", forgets)
        monkeypatch.setattr("mixclock.board.joining._by_order", lambda _: ())
        assert joined.planned_next(house.clock.now()) == []
        assert recalled == [True, False]


def test_a_window_is_seen_the_same_at_every_later_hour() -> None:
    with shed() as house:
        house.snapshot(house.clock.now())
        job, truth = _watched(house), _whole(house)
        for hours in (0, 1, 9, 40):
            at = house.clock.now() + timedelta(hours=hours)
            for one, other in zip(job.tracks, truth.tracks, strict=True):
                assert seen_at(one, at).state == seen_at(other, at).state


class _Beside:
    """The process that works a long log out: over when the test says so."""

    def __init__(self) -> None:
        self.over, self.asked = False, 0

    def is_over(self, _: str) -> bool:
        self.asked += 1
        return self.over


@contextmanager
def _very_long() -> Iterator[tuple[House, JobWatch, _Beside]]:
    """A morning that counts as very long, with nothing kept of it, as the watch begins with it."""
    with shed() as house, pytest.MonkeyPatch.context() as patched:
        patched.setattr(recalledlog, "SAID_FROM", 20)
        patched.setattr(recalledlog, "LAST", 30)
        beside: Any = _Beside()
        job = JobWatch(NAME, Reckoning(house.bucket_model, beside=beside))
        job.refresh(house.book)
        yield house, job, beside


def test_while_a_very_long_log_is_worked_out_the_buckets_since_its_last_readings_are_called_as_ever() -> None:
    with _very_long() as (house, job, beside):
        assert job.goes_by_last
        truth = {(track.batch.id, track.name, track.area): track for track in _whole(house).tracks}
        assert {track.batch.id for track in job.tracks} == {2, 3}, "the first was mixed before the readings at hand"
        for track in job.tracks:
            other = truth[track.batch.id, track.name, track.area]
            assert (track.opening, track.closing, track.stated) == (other.opening, other.closing, other.stated)
        house.clock.sleep(1500.0)
        late = [call for call in _calls(_whole(house), house) if call[0].startswith(("b2.", "b3."))]
        assert [call for call in _calls(job, house) if call[0].startswith(("b2.", "b3."))] == late
        assert late
        line = job.left_out(house.clock.now())
        assert line is not None
        assert "until then what was mixed since " in line
        assert beside.asked == 0


def test_while_a_very_long_log_is_worked_out_the_watch_says_what_it_cannot_call_yet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(recalledlog, "SAID_FROM", 20)
    monkeypatch.setattr(recalledlog, "LAST", 30)
    with shed() as house:
        told: list[str] = []
        delivery: Any = Delivery(_NoSender(), house.book, house.clock, _fail)  # type: ignore[arg-type]
        beside: Any = _Beside()
        ticker = Ticker(house.book, house.clock, delivery, Reckoning(house.bucket_model, beside=beside), told.append)
        ticker.tick()
        assert ticker.watched[NAME].goes_by_last
        assert [line.partition(" since ")[0] for line in told] == [
            f"{NAME}: its old readings are being worked out; until then what was mixed"
        ]


def test_a_statement_meanwhile_is_called_out_too_and_what_was_worked_out_is_taken_when_it_is_there() -> None:
    with _very_long() as (house, job, beside):
        _poured(house)
        job.prove(house.book)
        job.refresh(house.book)
        assert job.goes_by_last
        assert any(track.batch.id == 3 and track.name == "back-roll" for track in job.tracks)
        house.snapshot(house.clock.now())  # the process beside it is over
        beside.over = True
        job.prove(house.book)
        assert (job.is_recalled, job.goes_by_last) == (True, False)
        assert_alike(_told(job, house), _told(_whole(house), house))
        assert job.left_out(house.clock.now()) is None


def test_where_the_process_beside_could_not_work_it_out_the_watch_does_so_itself() -> None:
    with _very_long() as (house, job, beside):
        beside.over = True
        job.prove(house.book)
        assert not job.is_recalled
        assert_alike(_told(job, house), _told(_whole(house), house))


def test_an_old_reading_that_was_written_last_hides_no_older_one() -> None:
    with shed() as house, pytest.MonkeyPatch.context() as patched:
        patched.setattr(recalledlog, "SAID_FROM", 20)
        patched.setattr(recalledlog, "LAST", 1)
        house.book.append(NAME, Reading(air_c=20.0), happened=house.clock.now() - timedelta(minutes=90))
        job = JobWatch(NAME, Reckoning(house.bucket_model, beside=_Beside()))  # type: ignore[arg-type]
        job.refresh(house.book)
        assert not job.goes_by_last


def test_where_no_process_can_be_had_nobody_waits_for_one(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def none(*_: Any, **__: Any) -> Any:
        raise OSError("too many processes")

    monkeypatch.setattr("mixclock.watch.foldbeside.subprocess.Popen", none)
    beside = FoldBeside(home)
    assert beside.is_over("floor")
    beside.stop()


def test_the_process_beside_ends_by_itself_or_with_the_watch(home: Path) -> None:
    beside = FoldBeside(home)
    assert not beside.is_over("no such floor")
    beside.stop()
    assert not beside.is_over("no such floor"), "it is begun anew"
    for _ in range(200):
        if beside.is_over("no such floor"):
            break
        SystemClock().sleep(0.1)
    assert beside.is_over("no such floor")
    beside.stop()
