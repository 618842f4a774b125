"""Looks that meet each other, and calls whose words fail: the crew is called, and the daemon says what is wrong."""

from __future__ import annotations

import gc
import sqlite3
import threading
import weakref
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from mixclock.outside.book import Book, JobLine
from mixclock.watch import tick
from mixclock.watch.bulletins import ANOTHER_WATCH, INTERRUPTED
from mixclock.words import alerting
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site


def test_a_look_that_meets_another_is_over_at_once() -> None:
    day = Day(site(), [BASE, TOP])
    found: list[object] = ["still waiting"]
    with day.ticker._busy:
        other = threading.Thread(target=lambda: found.append(day.ticker.tick()), daemon=True)
        other.start()
        other.join(20.0)
        assert found == ["still waiting", None]
    assert day.ticker.tick() is not None


def test_a_book_that_stands_still_is_not_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(tmp_path / "book.sqlite3", clock))
    asked: list[float] = []
    whole = day.book.data_version
    monkeypatch.setattr(day.book, "data_version", lambda: (asked.append(day.clock.monotonic_s()), whole())[1])
    monkeypatch.setattr(day.ticker._stillness, "holds", lambda: True)
    day.clock.advance(0.4)
    day.look()
    assert asked == []
    monkeypatch.setattr(day.ticker._stillness, "holds", lambda: False)
    day.clock.advance(0.4)
    day.look()
    assert len(asked) == 1
    day.book.close()


@pytest.mark.parametrize("many", [True, False])
def test_python_looks_through_all_that_stays_of_a_large_job_once_and_leaves_it_alone_from_then_on(
    many: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Forgotten:
        def __init__(self) -> None:
            self.own = self

    day = Day(site(), [BASE, TOP])
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    count = len(day.ticker.watched[day.job].tracks)
    assert count
    monkeypatch.setattr(tick, "MANY_TRACKS", count if many else count + 1)
    gc.disable()
    try:
        forgotten, frozen = weakref.ref(Forgotten()), gc.get_freeze_count()
        day.start()
        assert (forgotten() is None, gc.get_freeze_count() > frozen) == (many, many)
    finally:
        gc.enable()


def test_a_call_whose_words_fail_is_made_in_the_plainest_and_the_fault_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise KeyError("no such word")

    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    monkeypatch.setattr(alerting, "_full_words", fail)
    day.until("7:40")
    assert day.desktop.of("b1.pour-out"), "the crew is called all the same"
    assert any("b1.pour-out: its words failed: KeyError" in fault and day.job in fault for fault in day.faults)


def test_the_next_look_is_made_when_the_next_call_falls_due() -> None:
    day = Day(site(), [BASE, TOP])
    assert day.ticker.next_call_s() is None
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    # three minutes by the sheet: scrape at half of them, a clean pail half a minute before their end
    assert day.ticker.next_call_s() == 90.0
    day.clock.set(day.begins + timedelta(seconds=90))
    day.look()
    assert day.raised("b1.mixing")
    assert day.ticker.next_call_s() == 60.0


@pytest.mark.parametrize(
    ("damage", "is_told"),
    [("UPDATE joblines SET job = 'Boat shdd' WHERE job = ?", False), ("DELETE FROM joblines WHERE job = ?", True)],
    ids=["its name is read in the log", "its line is gone"],
)
def test_a_job_that_the_list_of_jobs_lost_is_called_out_all_the_same(
    tmp_path: Path, damage: str, is_told: bool
) -> None:
    path = tmp_path / "book.sqlite3"
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(path, clock))
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    with closing(sqlite3.connect(path)) as behind_its_back:
        assert behind_its_back.execute(damage, (day.job,)).rowcount == 1
        behind_its_back.commit()
    day.clock.advance(2)
    day.look()
    assert any("does not name it any more" in fault for fault in day.faults) == is_told
    assert [line.name for line in day.book.all_jobs()] == ([] if is_told else [day.job])
    day.until("7:40")
    assert day.desktop.of("b1.pour-out")
    day.book.close()


def test_every_line_of_the_list_of_jobs_is_read_once_a_minute_for_one_of_them_may_be_damaged(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(tmp_path / "book.sqlite3", clock))
    whole, began = day.book.all_jobs, day.clock.now()
    read_s: list[float] = []

    def all_jobs() -> list[JobLine]:
        read_s.append((day.clock.now() - began).total_seconds())
        return whole()

    monkeypatch.setattr(day.book, "all_jobs", all_jobs)
    for _ in range(130):
        day.clock.advance(1.0)
        day.say("noted", text="heater on")
        day.look()
    assert read_s == [60.0, 120.0]
    day.book.close()


def test_a_call_that_the_disk_lost_is_marked_when_it_is_made_once_more(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(path, clock))
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.until("7:02")
    scrape = next(entry for entry in day.book.entries(day.job) if entry.facts.kind == "raised")
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("DROP TRIGGER entries_stay")
        other.execute("UPDATE entries SET job = 'Boat shee' WHERE number = ?", (scrape.number,))
    day.start()
    (again,) = [message for _, message in day.desktop.of("b1.mixing")[1:]]
    assert INTERRUPTED in again.body
    day.until("7:12")
    (later,) = [message for _, message in day.desktop.of("b1.pour-out")]
    assert INTERRUPTED not in later.body, "what falls due later is in its mind"


def test_a_job_that_lost_nothing_is_doubted_by_nobody(tmp_path: Path) -> None:
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(tmp_path / "book.sqlite3", clock))
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.clock.set(day.begins + timedelta(seconds=100))
    day.start()
    assert day.book.lost_entries(day.job) == 0
    assert INTERRUPTED not in day.desktop.of("b1.mixing")[-1][1].body


def test_the_end_of_mixing_that_passed_while_the_laptop_slept_is_told_by_the_call_to_pour_and_once() -> None:
    day = Day(site(), [BASE, TOP])
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    day.clock.suspend(900.0)
    day.look()
    (woken,) = [message for _, message in day.desktop.of("b1.pour-out")]
    assert woken.body.endswith("Its mixing was over at 8:03.")
    assert "mixing was over at 8:03" in woken.speech
    day.clock.advance(20.4)
    day.look()
    assert "mixing" not in day.desktop.of("b1.pour-out")[-1][1].body


def test_two_watches_that_nothing_keeps_apart_each_say_that_a_call_may_come_twice() -> None:
    day = Day(site(), [BASE, TOP])
    day.ticker.is_alone = False
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.until("7:02")
    assert all(ANOTHER_WATCH in message.body for _, message in day.desktop.sent)
    assert day.desktop.sent
