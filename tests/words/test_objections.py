"""What can still be stopped is said with the statement that shows it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.tracks import tracks
from mixclock.job.entry import (
    Combined,
    Did,
    Facts,
    JobFinished,
    MixingEnded,
    Poured,
    ProfileUsed,
    Reading,
    Saw,
    Traffic,
)
from mixclock.words.answers import Answer, answer_to, batch_of
from mixclock.words.objections import lies_under
from tests.decide.worlds import BASE, MODEL, Log, instant

HOUR = 60


def shed(rh_pct: float = 50.0, slab_c: float = 20.0) -> Log:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=rh_pct, slab_c=slab_c))
    return log


def answered(log: Log, minutes: float, facts: Facts) -> Answer:
    entry = log.add(minutes, facts, written=minutes)
    standing = log.standing()
    batch = batch_of(entry, standing)
    found = tracks(standing, MODEL, {batch.id}) if batch else ()
    under = tracks(standing, MODEL, {each.id for each in lies_under(facts, standing, batch)})
    return answer_to(entry, standing, found, instant(minutes), under)


def base(area: str = "bay 1") -> Combined:
    return Combined("Shed base", (area,), volume_l=4.0, coat="base", material_c=20.0)


def top(area: str = "bay 1") -> Combined:
    return Combined("Shed top", (area,), volume_l=2.0, coat="top", material_c=20.0)


def laid() -> Log:
    log = shed()
    log.add(0, base())
    log.add(6, Poured(1))
    return log


def test_a_coat_that_is_mixed_over_a_film_too_young_is_told_from_when_it_may_go_on() -> None:
    (line,) = answered(laid(), 3 * HOUR, top()).warnings
    assert line.startswith("the base on bay 1 takes a coat from ")
    assert line.endswith(", not before")


def test_a_coat_inside_the_recoat_window_is_not_remarked_on() -> None:
    assert answered(laid(), 24 * HOUR, top()).warnings == ()


def test_a_coat_after_the_recoat_window_is_told_to_sand_first() -> None:
    (line,) = answered(laid(), 90 * HOUR, top()).warnings
    assert line.startswith("the recoat window of the base on bay 1 shut at ")
    assert "sand it dull first" in line


def test_a_coat_over_an_area_where_nothing_was_laid_is_asked_about() -> None:
    assert answered(laid(), 24 * HOUR, top("bay 2")).warnings == ("no base was stated on bay 2: top goes on over it",)


def test_the_first_coat_asks_for_nothing_under_it() -> None:
    assert answered(shed(), 0, base()).warnings == ()


@pytest.mark.parametrize(
    ("rh_pct", "slab_c", "why"),
    [(50.0, 11.0, "over the dew point"), (90.0, 25.0, "is over the 85 %"), (50.0, 33.0, "outside the sheet's")],
)
def test_a_bucket_mixed_in_air_that_forbids_it_is_told_so(rh_pct: float, slab_c: float, why: str) -> None:
    (line,) = answered(shed(rh_pct, slab_c), 0, base()).warnings
    assert line.startswith("no-go: ")
    assert why in line


def test_air_that_was_read_long_ago_forbids_nothing() -> None:
    assert answered(shed(90.0), 3 * HOUR, base()).warnings == ()


def test_a_reading_that_forbids_work_says_so_at_once() -> None:
    (line,) = answered(shed(), 5, Reading(rh_pct=92.0)).warnings
    assert line.startswith("no-go: ")
    assert answered(shed(), 5, Reading(rh_pct=60.0)).warnings == ()


@pytest.mark.parametrize(("minutes", "warned"), [(1, True), (3, False)])
def test_a_drill_that_stops_too_early_is_sent_back_in(minutes: int, warned: bool) -> None:
    log = shed()
    log.add(0, base())
    warnings = answered(log, minutes, MixingEnded(1)).warnings
    assert bool(warnings) is warned
    if warned:
        assert warnings[0].startswith("the sheet asks for 3 min of mixing, that was 1 min: put the drill back in")


@pytest.mark.parametrize(("part_l", "rest"), [(1.0, "what is left in the bucket stands"), (None, "watch how it")])
def test_a_primer_poured_before_its_stand_is_over_is_told_until_when(part_l: float | None, rest: str) -> None:
    log = shed()
    stand = '[windows.induction]\nafter = "mixed"\nopens = "15 min"\n[windows.back-roll]'
    sheet = BASE.replace("[windows.back-roll]", stand)
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", sheet))
    log.add(0, base())
    (line,) = answered(log, 6, Poured(1, part_l=part_l)).warnings
    assert line.startswith(f"batch 1 was to stand until 9:18: {rest}")
    later = shed()
    later.entries[1] = log.entries[1]
    later.add(0, base())
    assert answered(later, 20, Poured(1)).warnings == ()


@pytest.mark.parametrize(("hours", "warned"), [(2, True), (80, False)])
def test_feet_on_a_film_too_young_are_kept_off(hours: int, warned: bool) -> None:
    warnings = answered(laid(), hours * HOUR, Traffic("bay 1", "foot")).warnings
    assert bool(warnings) is warned
    if warned:
        assert warnings[0].startswith("bay 1 is OK to walk on from ")
        assert warnings[0].endswith("not before: keep off until then")


def test_feet_on_bare_concrete_are_nobodys_business() -> None:
    assert answered(laid(), HOUR, Traffic("bay 3", "foot")).warnings == ()


def test_a_hot_bucket_gets_no_next_step_but_out_of_the_way() -> None:
    log = shed()
    log.add(0, base())
    answer = answered(log, 1, Saw("hot", 1))
    assert answer.next == ()
    assert answer.warnings[0] == "batch 1 runs hot: stop mixing, and keep it off the floor; outside, spread thin"
    assert answered(log, 3, MixingEnded(1)).next == ()


def test_a_film_on_the_floor_that_was_hot_in_the_bucket_still_gets_its_steps() -> None:
    log = laid()
    log.add(7, Saw("hot", 1))
    assert answered(log, 15, Did("back-roll", 1)).next


def test_who_packs_up_with_resin_in_a_bucket_is_told_that_it_heats_itself_and_where_to_put_it() -> None:
    log = shed()
    log.add(0, base())
    log.add(2, Poured(1, part_l=1.0))
    line, *wet = answered(log, 5, JobFinished()).warnings
    assert all(each.startswith("bay 1 is wet and still waits") for each in wet)
    assert line.startswith("batch 1 (3 L) is still in the bucket and heats itself")
    assert "outside, away from anything that burns, spread thin" in line
    assert line.endswith("never a lid on it")


def test_two_buckets_left_standing_are_told_in_one_line() -> None:
    log = shed()
    log.add(0, base())
    log.add(1, base("bay 2"))
    (line,) = answered(log, 5, JobFinished()).warnings
    assert line.startswith("batch 1 (4 L) and batch 2 (4 L) are still in the bucket and heat themselves")


def test_who_packs_up_with_empty_buckets_or_after_a_day_is_told_nothing() -> None:
    assert answered(laid(), 60, JobFinished()).warnings == ()
    log = shed()
    log.add(0, base())
    assert answered(log, 25 * HOUR, JobFinished()).warnings == ()


def shed_top_mixed(rh_pct: float, material_c: float = 20.0) -> tuple[str, ...]:
    """What is said of a polyaspartic that is mixed in air of such a humidity."""
    facts = Combined("Shed top", ("bay 1",), volume_l=2.0, coat="top", material_c=material_c)
    return answered(shed(rh_pct), 0, facts).warnings


def test_moisture_that_makes_an_isocyanate_coat_foam_is_spoken_of_before_the_sheet_forbids_the_air() -> None:
    assert any(line.startswith("78 % humidity: it bubbles") for line in shed_top_mixed(78.0))
    assert not any("bubbles" in line for line in shed_top_mixed(60.0))
    assert any(line.startswith("resin of 12 °C is thick and keeps bubbles") for line in shed_top_mixed(60.0, 12.0))


def test_packing_up_over_wet_floor_says_which_step_it_waits_for() -> None:
    log = shed()
    log.add(0, base())
    log.add(6, Poured(1))
    lines = [line for line in answered(log, 8, JobFinished()).warnings if "is wet and still waits" in line]
    assert [line.split(":")[1].split(" by ")[0].strip() for line in lines] == ["back-roll", "throw the flake"]
    assert all(line.startswith("bay 1 is wet and still waits: ") for line in lines)


def test_packing_up_over_a_floor_that_is_done_says_nothing_of_it() -> None:
    log = shed()
    log.add(0, base())
    log.add(6, Poured(1))
    log.add(8, Did("back-roll", 1))
    log.add(9, Did("broadcast", 1))
    assert not [line for line in answered(log, 10, JobFinished()).warnings if "is wet" in line]


def test_a_step_stated_long_after_its_window_is_kept_and_asked_about() -> None:
    log = laid()
    (line,) = answered(log, 3 * HOUR, Did("back-roll", 1)).warnings
    assert line.startswith("its window shut at ")
    assert line.endswith(": was it rolled earlier? Then withdraw it and state it again with --at")
    assert log.standing().batches[0].done["back-roll"]


def test_a_step_stated_in_its_time_is_not_asked_about() -> None:
    assert answered(laid(), 10, Did("back-roll", 1)).warnings == ()
