"""A cup of a lot, through the log to the bucket of that lot and its floor."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from mixclock.decide.shapes import Window
from mixclock.job.cups import Cup, due_in_log, refuse, used
from mixclock.job.entry import Combined, CupUsed, Poured, Reading
from mixclock.job.profilereading import read_profile
from mixclock.job.saying import CannotTellError
from tests.decide.test_floorphysics import WATERBORNE
from tests.decide.worlds import BASE, Log, minutes_of

EVENING = datetime(2026, 4, 12, 18, 0, tzinfo=UTC)


def poured(*cups: CupUsed, lot: str = "7A") -> Log:
    """A bucket of lot 7A, poured at eight past eight."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0, how="contact", area="bay 1"))
    for cup in cups:
        log.add(-5, cup)
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail", lot=lot))
    log.add(8, Poured(1))
    return log


def cup(end_s: float, nth: int = 1) -> CupUsed:
    return CupUsed("Shed base", "7A", nth, 0.15, 20.0, 20.0, end_s=end_s)


def early(window: Window) -> float:
    assert window.closes is not None
    return minutes_of(window.closes.early)


PLAIN_S = 2700.0  # such a cup ends after some 45 minutes by the sheet


def test_a_fast_cup_shortens_its_lots_bucket_and_the_ends_that_are_raced_on_the_floor() -> None:
    plain, fast = poured(), poured(cup(0.6 * PLAIN_S))
    assert early(fast.window("pour-out", 9)) < early(plain.window("pour-out", 9))
    assert early(fast.window("back-roll", 9)) < early(plain.window("back-roll", 9)) - 1.0
    assert any("a cup of lot 7A" in said and "faster" in said for said in fast.window("pour-out", 9).because)
    assert any("a cup of its lot" in said and "faster" in said for said in fast.window("back-roll", 9).because)
    assert not any(
        "a cup" in said for said in (*plain.window("back-roll", 9).because, *fast.window("recoat", 9).because)
    )


def test_a_cup_moves_no_limit() -> None:
    plain, fast = (log.window("recoat", 9) for log in (poured(), poured(cup(0.6 * PLAIN_S))))
    assert (plain.opens, plain.closes) == (fast.opens, fast.closes)


def test_one_slow_cup_gives_nobody_more_time_and_two_that_agree_do() -> None:
    plain, one = poured(), poured(cup(1.4 * PLAIN_S))
    two = poured(cup(1.4 * PLAIN_S), cup(1.42 * PLAIN_S, 2))
    for name in ("pour-out", "back-roll", "broadcast"):
        assert early(one.window(name, 9)) <= early(plain.window(name, 9)) + 1e-6
    assert early(two.window("back-roll", 9)) > early(plain.window("back-roll", 9)) + 1.0


def test_a_cup_says_nothing_of_another_lot() -> None:
    plain, other = poured(), poured(cup(0.6 * PLAIN_S), lot="8B")
    assert early(other.window("pour-out", 9)) == early(plain.window("pour-out", 9))


def test_a_batch_keeps_the_cups_that_were_known_when_it_was_mixed() -> None:
    log = poured()
    log.add(9, cup(0.6 * PLAIN_S))
    assert early(log.window("pour-out", 10)) == early(poured().window("pour-out", 10))


def test_cups_that_were_dropped_are_dropped_from_the_log_of_the_next_batch() -> None:
    logged = (cup(1500.0),)
    dropped = due_in_log((), logged)
    log = poured(*logged, *dropped)
    assert early(log.window("pour-out", 9)) == early(poured().window("pour-out", 9))
    assert due_in_log(logged, logged) == ()


def test_a_cup_of_another_size_or_of_a_waterborne_is_refused_in_one_line() -> None:
    base = read_profile(BASE)
    for mass_kg in (0.09, 0.21):
        with pytest.raises(CannotTellError, match="100 to 200 g"):
            refuse(base, mass_kg)
    with pytest.raises(CannotTellError, match="waterborne"):
        refuse(read_profile(WATERBORNE), 0.15)
    refuse(base, 0.1)


def test_a_cup_that_showed_nothing_yet_is_not_written_into_a_log() -> None:
    begun = Cup("Shed base", "7A", 0.15, EVENING, 21.0, 20.0)
    assert used((begun,)) == ()
    ended = begun.but(end="gel", end_s=1800.0)
    assert [each.end_s for each in used((begun, ended))] == [1800.0]
    with pytest.raises(CannotTellError, match="before the cup was mixed"):
        begun.since_s(EVENING - timedelta(minutes=1))


def test_a_cup_of_two_parts_with_lots_of_their_own_counts_for_a_bucket_of_both_and_no_other() -> None:
    def of(lots: tuple[str | None, str | None, str | None]) -> float:
        log = Log()
        log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0, how="contact", area="bay 1"))
        log.add(-6, cup(0.6 * PLAIN_S).but(lot="A1/B2"))
        log.add(-5, cup(0.6 * PLAIN_S).but(lot=""))
        lot, lot_a, lot_b = lots
        made = Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail")
        log.add(0, made.but(lot=lot, lot_a=lot_a, lot_b=lot_b))
        return early(log.window("pour-out", 2))

    plain = of((None, "A1", "B3"))
    assert of((None, "A1", "B2")) < plain
    assert of((None, None, None)) < plain  # a cup whose lot nobody named counts for buckets without one
    assert of(("9C", None, None)) == plain
