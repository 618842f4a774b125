"""What a reading moved is told with the reading."""

from __future__ import annotations

from mixclock.decide.tracks import Track
from mixclock.job.entry import Combined, Did, Poured, Reading
from mixclock.words.moveddeadlines import moved_deadlines
from tests.decide.worlds import Log, instant


def poured_on(*areas: str) -> Log:
    """Base on some bays, out of its bucket at four minutes past eight, on a slab of 20 °C."""
    log = Log()
    log.add(0, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", areas, volume_l=4.0, coat="base", material_c=20.0))
    log.add(4, Poured(1, areas))
    return log


def told(log: Log, minutes: float, facts: Reading, at: float) -> tuple[str, ...]:
    """What is said of a reading that somebody states so many minutes past eight."""
    before: tuple[Track, ...] = log.tracks()
    log.add(at, facts)
    return moved_deadlines(before, log.tracks(), instant(minutes))


def test_a_warmer_slab_closes_what_is_raced_by_so_many_minutes_sooner() -> None:
    """The sheet: back-roll 22 min at 20 °C, 13 min at 30 °C; the early edge lies at 0.8 of it.

    Read 30 °C as of the pour: 0.8 × (22 − 13) min = 7.2 min, less what the bucket had used up (the same share of both).
    """
    said = told(poured_on("bay 1"), 6, Reading(slab_c=30.0), at=4)
    assert said[0] == "back-roll on bay 1 closes 7 min sooner"
    assert len(said) == 4, "three at most, and how many more"


def test_a_colder_slab_puts_it_later() -> None:
    said = told(poured_on("bay 1"), 6, Reading(slab_c=12.0), at=5)
    assert said[0].startswith("back-roll on bay 1 closes ")
    assert said[0].endswith(" later")


def test_a_reading_that_says_the_same_again_moves_nothing() -> None:
    assert told(poured_on("bay 1"), 6, Reading(slab_c=20.0), at=5) == ()


def test_what_is_done_or_over_is_not_spoken_of() -> None:
    log = poured_on("bay 1")
    log.add(8, Did("back-roll", 1))
    assert not any("back-roll" in line for line in told(log, 9, Reading(slab_c=30.0), at=9))
    over = told(poured_on("bay 1"), 300, Reading(slab_c=30.0), at=299)
    assert not any("back-roll" in line or "broadcast" in line for line in over), over


def test_two_bays_are_told_apart() -> None:
    log = poured_on("bay 1", "bay 2")
    assert told(log, 6, Reading(slab_c=30.0, area="bay 2"), at=4)[0] == "back-roll on bay 2 closes 7 min sooner"
