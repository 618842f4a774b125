"""Which jobs a watch follows, and what one look tells of itself: several floors in one book, a disk that refuses."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mixclock.job.entry import JobFinished, JobStarted, Noted, WatchEvent
from mixclock.job.saying import Attribution
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError, DiskFullError, HeldError
from mixclock.units import METRIC_CREW, US_CREW
from tests.boatshed import one_coat
from tests.days.clockwork import Day
from tests.days.shed import BASE, TOP, site
from tests.saying import as_said

POTTERY = "Pottery"
US_SHED = site().replace("zone =", 'units = "US"\nzone =')


def on_disk(tmp_path: Path, text: str = "") -> Day:
    """A day on a real book, whose list of jobs is the real one."""
    return Day(text or site(), [BASE, TOP], book_of=lambda clock: Book(tmp_path / "book.sqlite3", clock))


def begin_pottery(day: Day) -> None:
    """A second floor in the same book; the first stays the job in use."""
    day.book.append(POTTERY, JobStarted(POTTERY, one_coat(name=POTTERY)))
    if isinstance(day.book, Book):
        day.book.use(day.job)


def mix(day: Day, job: str = "") -> None:
    """Part B goes in, on either floor: the last step of mixing falls due 150 s later, scraping after 90 s."""
    product, area = ("Shed base", "bay 1")
    drafts = as_said("mixing", {"product": product, "areas": [area], "volume_l": 3.45})
    watched = day.ticker.watched[job or day.job]
    watched.refresh(day.book)
    day.book.append_within(job or day.job, lambda _: drafts.drafts(watched.seen(), Attribution(day.clock.now())))


def after(day: Day, seconds: float) -> Any:
    """What a look some time later tells."""
    day.clock.advance(seconds)
    ticked = day.ticker.tick()
    assert ticked is not None
    return ticked


def test_of_two_floors_the_next_look_is_made_for_the_call_that_falls_due_first() -> None:
    day = Day(site(), [BASE, TOP])
    begin_pottery(day)
    after(day, 1.0)
    mix(day)
    after(day, 30.0)
    mix(day, POTTERY)
    after(day, 10.0)
    # scraping is called at half of three minutes: 90 s after part B went in, here 40 s and there 10 s ago
    assert day.ticker.next_call_s() == 50.0
    day.say("poured", batch=1)
    after(day, 1.0)
    assert day.ticker.next_call_s() == 79.0


def test_where_a_call_of_either_floor_fell_due_while_a_look_was_at_work_another_is_made_at_once() -> None:
    day = Day(site(), [BASE, TOP])
    begin_pottery(day)
    after(day, 1.0)
    assert not day.ticker.is_behind(), "nothing is under way"
    mix(day)
    after(day, 0.0)
    assert not day.ticker.is_behind()
    day.clock.advance(89.9)
    assert not day.ticker.is_behind()
    day.clock.advance(0.1)
    assert day.ticker.is_behind(), "scraping falls due at half of three minutes, and the other floor has nothing due"
    day.look()
    assert day.desktop.of("b1.mixing")
    assert not day.ticker.is_behind()


def test_while_the_time_is_in_doubt_nobody_knows_when_the_next_call_falls_due() -> None:
    day = Day(site(), [BASE, TOP])
    day.clock.reboot()
    day.clock.advance(600.0)
    day.start()
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.look()
    assert day.ticker.next_call_s() == 90.0
    day.clock.step(-3600.0)  # to before the boot in which the floor was begun
    day.look()
    assert day.ticker.watched[day.job].time(day.clock).is_doubted
    assert day.ticker.next_call_s() is None
    assert not day.ticker.is_behind()


def test_a_floor_that_was_begun_between_two_looks_is_called_out_though_nothing_is_written_after_it() -> None:
    day = Day(site(), [BASE, TOP])
    begin_pottery(day)
    after(day, 0.4)
    assert POTTERY not in day.ticker.watched, "jobs are looked for once a second"
    after(day, 0.7)
    standing = day.ticker.watched[POTTERY].standing
    assert standing is not None
    assert standing.job == POTTERY


def test_a_look_says_whether_anything_is_new_on_either_floor_also_where_nothing_is_called() -> None:
    day = Day(site(), [BASE, TOP])
    begin_pottery(day)
    after(day, 1.0)
    assert not after(day, 1.0).changed
    day.book.append(POTTERY, Noted("the glaze kiln is on"))
    ticked = after(day, 0.4)
    assert (ticked.changed, ticked.bulletins) == (True, ())
    assert not after(day, 0.4).changed


def test_a_clock_that_is_set_on_a_full_disk_is_minded_by_the_floor_that_was_met_before_it() -> None:
    day = Day(site(), [BASE, TOP])
    begin_pottery(day)
    after(day, 0.4)
    day.clock.step(3600.0)
    day.book.broken = True
    after(day, 0.2)
    assert set(day.ticker.watched) == {day.job, POTTERY}, "a set clock has jobs looked for at once"
    assert not any(job.clock_was_set(day.clock) for job in day.ticker.watched.values())


def test_whose_units_a_screen_without_a_floor_of_its_own_uses_is_the_job_in_use() -> None:
    us = Day(US_SHED, [BASE, TOP])
    assert us.ticker.units == US_CREW
    assert Day(site(), [BASE, TOP]).ticker.units == METRIC_CREW
    us.ticker.watched.clear()
    assert us.ticker.units == METRIC_CREW, "where no job is followed"


def test_heard_on_a_screen_is_written_for_everything_that_the_message_tells() -> None:
    day = Day(site(), [BASE, TOP])
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
    day.until("7:02")
    written = len(day.book.log)
    day.ticker.heard("no such message", by="roller")
    assert len(day.book.log) == written
    day.ticker.heard("b1.mixing", by="roller")
    (heard,) = day.book.log[written:]
    assert (heard.facts.kind, heard.facts.alerts, heard.by) == ("heard", ("b1.mixing",), "roller")


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (DiskFullError("no room"), "the disk is full"),
        (BookError("the folder may not be written"), "the book cannot be written"),
        (HeldError("another program holds the book"), ""),
    ],
)
def test_who_cannot_write_is_told_which_of_them_he_has_to_mend(
    monkeypatch: pytest.MonkeyPatch, error: BookError, told: str
) -> None:
    day = Day(site(), [BASE, TOP])
    day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)

    def fail(*_: object, **__: object) -> None:
        raise error

    with monkeypatch.context() as broken:
        broken.setattr(day.book, "append_within", fail)
        day.clock.advance(95.0)
        day.look()
        assert day.ticker.not_recorded == told
        day.ticker.tell(WatchEvent("start"))
        assert day.ticker.not_recorded == told
        assert day.desktop.of("b1.mixing"), "the crew is called all the same"
    day.clock.advance(1.0)
    day.look()
    assert day.ticker.not_recorded == ""


class TestWhichFloors:
    """Only floors where work goes on are followed: a firm's book holds hundreds that are done."""

    def test_one_that_is_finished_is_followed_on_by_who_has_called_for_it_and_by_nobody_who_starts_later(
        self, tmp_path: Path
    ) -> None:
        day = on_disk(tmp_path)
        begin_pottery(day)
        after(day, 1.0)
        day.book.append(POTTERY, JobFinished())
        after(day, 1.1)
        assert set(day.ticker.watched) == {day.job, POTTERY}, "its last messages are still to be taken away"
        day.start()
        assert set(day.ticker.watched) == {day.job}
        after(day, 60.0)
        day.book.append(POTTERY, Noted("a mark in the second bay"))
        after(day, 1.1)
        assert set(day.ticker.watched) == {day.job, POTTERY}, "something was stated of it since"

    def test_one_that_nobody_stated_anything_on_for_sixty_days_is_left_alone_unless_it_is_in_use(
        self, tmp_path: Path
    ) -> None:
        day = on_disk(tmp_path)
        begin_pottery(day)
        day.clock.advance(timedelta(days=59.9).total_seconds())
        day.start()
        assert set(day.ticker.watched) == {day.job, POTTERY}
        day.clock.advance(timedelta(days=0.2).total_seconds())
        day.start()
        assert set(day.ticker.watched) == {day.job}
        day.say("mixing", product="Shed base", areas=["bay 1"], volume_l=3.45)
        day.clock.advance(95.0)
        day.look()
        assert day.desktop.of("b1.mixing")

    def test_one_that_only_a_watch_wrote_into_for_sixty_days_is_left_alone_too(self) -> None:
        day = Day(site(), [BASE, TOP])
        begin_pottery(day)
        day.clock.advance(timedelta(days=61).total_seconds())
        day.book.append(POTTERY, WatchEvent("start"))
        day.start()
        assert set(day.ticker.watched) == {day.job}
        day.clock.advance(5.0)
        day.book.append(POTTERY, Noted("the crew is back"))
        day.look()
        assert set(day.ticker.watched) == {day.job, POTTERY}
