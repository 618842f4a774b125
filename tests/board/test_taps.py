"""Taps: dated by the touch, stated once, refused when they are nonsense."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.board.house import RefusedError
from mixclock.board.taps import Ledger, Tap, happened_at, read_statement, read_tap
from tests.board.boardfakes import FakeHouse, mixing

NOW = datetime(2026, 4, 13, 10, 42, tzinfo=UTC)


def _tap(key: str = "0123456789ab", ago_s: float = 0.0, at: datetime | None = None, **statement: object) -> Tap:
    return Tap(key, read_statement(statement or mixing()), at, ago_s)


@given(ago_s=st.floats(0, 600_000), off_s=st.floats(-600_000, 600_000))
def test_no_tap_is_ever_dated_into_the_future_or_before_last_week(ago_s: float, off_s: float) -> None:
    at = happened_at(_tap(ago_s=ago_s, at=NOW + timedelta(seconds=off_s)), NOW)
    assert NOW - timedelta(days=7) <= at <= NOW


def test_a_tap_is_dated_by_the_laptops_clock_as_the_phone_knows_it() -> None:
    touched = NOW - timedelta(minutes=3)
    assert happened_at(_tap(ago_s=7000.0, at=touched), NOW) == touched


def test_a_tap_from_a_clock_that_runs_ahead_is_dated_by_how_long_ago_it_was() -> None:
    assert happened_at(_tap(ago_s=4.0, at=NOW + timedelta(hours=5)), NOW) == NOW - timedelta(seconds=4)


def test_the_same_key_states_once_and_gives_the_same_answer_even_after_a_restart() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    first, again = ledger.state(_tap(), "mixer", NOW)
    ledger.keep_answers()
    second, repeated = Ledger(house).state(_tap(), "mixer", NOW + timedelta(minutes=5))
    assert (again, repeated) == (False, True)
    assert first == second
    assert len(house.entries) == 1


@given(st.lists(st.sampled_from(["tap", "again", "keep", "restart"]), max_size=12))
def test_however_often_the_laptop_starts_anew_no_tap_of_a_phone_is_stated_twice(happens: list[str]) -> None:
    house, keys = FakeHouse(), [f"tap-{number:06}" for number in range(12)]
    ledger, stated = Ledger(house), list[str]()
    for what in happens:
        if what == "tap":
            stated.append(keys[len(stated)])
            ledger.state(_tap(stated[-1], verb="noted", text=stated[-1]), "mixer", NOW + timedelta(seconds=len(stated)))
        elif what == "keep":
            ledger.keep_answers()
        elif what == "restart":
            ledger = Ledger(house)
        for key in stated if what == "again" else ():
            _, again = ledger.state(_tap(key, verb="noted", text=key), "mixer", NOW + timedelta(hours=1))
            assert again
    assert len(house.entries) == len(stated)


def test_with_a_statement_go_only_the_taps_whose_answers_are_not_kept_yet() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    for number in range(30):
        ledger.state(_tap(f"key-{number:06}", verb="noted", text=f"note {number}"), None, NOW)
    ledger.keep_answers()
    ledger.state(_tap("the-latest", verb="noted", text="the latest"), None, NOW)
    assert list(json.loads(house.settings["board.taps.new"])) == [":the-latest"]
    assert len(json.loads(house.settings["board.taps"])) == 30


def test_two_people_who_mix_the_same_within_seconds_are_two_batches() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    ledger.state(_tap("key-of-mixer"), "mixer", NOW, "phone-1")
    _, again = ledger.state(_tap("key-of-roller"), "roller", NOW + timedelta(seconds=4), "phone-2")
    assert not again
    assert len(house.batches()) == 2


def test_two_phones_may_count_their_taps_alike() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    for device in ("phone-1", "phone-2", "phone-1"):
        ledger.state(_tap("tap-00000001"), "mixer", NOW, device)
    assert len(house.batches()) == 2, "a repeat is one key of one device"


def test_two_people_who_say_that_one_batch_is_poured_state_it_once() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    ledger.state(_tap("key-to-mix-1"), "mixer", NOW)
    ledger.state(_tap("key-of-mixer", verb="poured", batch=1), "mixer", NOW)
    _, again = ledger.state(_tap("key-of-roller", verb="poured", batch=1), "roller", NOW + timedelta(seconds=4))
    assert again
    assert len(house.entries) == 2


@pytest.mark.parametrize(
    "statement", [{"verb": "noted"}, {"verb": "mixing"}, {"verb": "did"}, {"verb": "began"}, {"verb": "saw"}]
)
def test_a_tap_without_what_it_is_about_is_refused(statement: dict[str, str]) -> None:
    with pytest.raises(RefusedError, match="needs its"):
        read_statement(statement)


@pytest.mark.parametrize("at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00", "0001-01-01T00:00:00Z"])
def test_a_tap_from_the_ends_of_the_calendar_is_a_tap_or_a_refusal(at: str) -> None:
    try:
        tap = read_tap({"key": "0123456789ab", "at": at, "statement": {"verb": "noted", "text": "x"}})
    except RefusedError:
        return
    assert happened_at(tap, NOW) == NOW


def test_the_same_reading_twice_is_two_readings() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    for key in ("reading-one", "reading-two"):
        ledger.state(_tap(key, verb="reading", slab_c=14.5), "mixer", NOW)
    assert len(house.entries) == 2


def test_what_was_taken_back_can_be_stated_again_at_once() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    answer, _ = ledger.state(_tap("first-try-1"), "mixer", NOW)
    house.withdraw(answer.entry, NOW, "mixer")
    ledger.forget_doubles_of(answer.entry)
    _, again = ledger.state(_tap("second-try"), "mixer", NOW + timedelta(seconds=3))
    assert not again
    assert len(house.batches()) == 1


def test_a_refused_tap_leaves_no_trace() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    with pytest.raises(RefusedError, match="batch 4 is not known"):
        ledger.state(_tap(verb="poured", batch=4), "mixer", NOW)
    assert house.entries == []
    house.state(mixing(), NOW, None)
    with pytest.raises(RefusedError):
        ledger.state(_tap(verb="poured", batch=4), "mixer", NOW)


def test_only_the_newest_two_hundred_keys_are_kept() -> None:
    house = FakeHouse()
    ledger = Ledger(house)
    for number in range(230):
        ledger.state(_tap(f"key-{number:06}", verb="noted", text=f"note {number}"), None, NOW)
    ledger.keep_answers()
    assert house.settings["board.taps"].count('"entry"') == 200


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
                    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner), max_leaves=20))  # fmt: skip
def test_whatever_a_phone_sends_is_a_tap_or_a_refusal_in_one_line(sent: object) -> None:
    for body in (sent, {"key": "0123456789ab", "statement": sent}):
        with pytest.raises(RefusedError) as refused:
            read_tap(body)
        assert "\n" not in str(refused.value)


@pytest.mark.parametrize("verb", ["withdraw", "job", "found", "photo", "__class__", ""])
def test_a_phone_states_only_what_the_board_has_buttons_for(verb: str) -> None:
    with pytest.raises(RefusedError, match="needs a verb"):
        read_statement({"verb": verb})
