"""Looks that meet each other, and calls whose words fail: the crew is called, and the daemon says what is wrong."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from mixclock.outside.book import Book
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


def test_a_job_that_one_bit_took_from_the_list_of_jobs_is_called_out_all_the_same(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    day = Day(site(), [BASE, TOP], book_of=lambda clock: Book(path, clock))
    day.say("reading", air_c=20.0, rh_pct=50.0, slab_c=20.0)
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    with closing(sqlite3.connect(path)) as behind_its_back:
        changed = behind_its_back.execute("UPDATE joblines SET job = 'Boat shdd' WHERE job = ?", (day.job,))
        assert changed.rowcount == 1
        behind_its_back.commit()
    day.clock.advance(2)
    day.look()
    assert any("does not name it any more" in fault for fault in day.faults)
    day.until("7:40")
    assert day.desktop.of("b1.pour-out")
    day.book.close()
