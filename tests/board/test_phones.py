"""Pairing: a code pairs one phone, a cookie's own text is kept nowhere, a dropped phone is out."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from mixclock.board.house import RefusedError
from mixclock.board.phones import Guesses, LapsedError, Phones
from tests.board.boardfakes import FakeHouse, mixing, studio_floor

NOW = datetime(2026, 4, 13, 10, 42, tzinfo=UTC)


def test_a_code_pairs_one_phone_and_is_then_replaced() -> None:
    phones = Phones(FakeHouse())
    code = phones.secret(NOW)
    phone, token = phones.pair(code, "phone", NOW)
    assert phones.of_token(token) == phone
    assert phones.secret(NOW) != code
    with pytest.raises(RefusedError, match="used already"):
        phones.pair(code, "phone", NOW)


def test_a_code_lapses_after_ten_minutes_and_another_is_shown_from_five() -> None:
    phones = Phones(FakeHouse())
    first = phones.secret(NOW)
    assert phones.secret(NOW + timedelta(minutes=4)) == first
    second = phones.secret(NOW + timedelta(minutes=6))
    assert second != first
    with pytest.raises(LapsedError, match="lapsed: scan the new one"):
        phones.pair(first, "phone", NOW + timedelta(minutes=10))
    phones.pair(second, "phone", NOW + timedelta(minutes=10))


def test_a_dropped_phone_cannot_come_back_by_the_code_that_it_saw() -> None:
    phones = Phones(FakeHouse())
    lost, _ = phones.pair(phones.secret(NOW), "phone", NOW)
    seen = phones.secret(NOW)
    phones.drop(lost.id)
    with pytest.raises(RefusedError, match="used already"):
        phones.pair(seen, "phone", NOW)


def test_half_a_character_is_no_code() -> None:
    phones = Phones(FakeHouse())
    assert phones.of_token("\ud800") is None
    with pytest.raises(RefusedError, match="used already"):
        phones.pair("\ud800", "phone", NOW)


def test_neither_code_nor_cookie_is_kept_in_the_book() -> None:
    house = FakeHouse()
    phones = Phones(house)
    code = phones.secret(NOW)
    _, token = phones.pair(code, "phone", NOW)
    assert code not in house.settings["board.phones"]
    assert token not in house.settings["board.phones"]
    assert "token" not in str(phones.listed())


def test_a_phone_is_known_after_a_restart_with_whoever_holds_it() -> None:
    house = FakeHouse()
    phones = Phones(house)
    phone, token = phones.pair(phones.secret(NOW), "phone", NOW)
    phones.hold(phone.id, "roller")
    known = Phones(house).of_token(token)
    assert known is not None
    assert known.holder == "roller"


def test_a_dropped_phone_is_not_known_any_more_and_cannot_be_dropped_twice() -> None:
    phones = Phones(FakeHouse())
    phone, token = phones.pair(phones.secret(NOW), "phone", NOW)
    phones.drop(phone.id)
    assert phones.of_token(token) is None
    for again in (phones.drop, lambda each: phones.hold(each, "mixer")):
        with pytest.raises(RefusedError):
            again(phone.id)


def test_the_twenty_first_phone_takes_the_place_of_the_oldest() -> None:
    phones = Phones(FakeHouse())
    paired = [phones.pair(phones.secret(NOW), f"phone {n}", NOW) for n in range(21)]
    assert phones.of_token(paired[0][1]) is None
    assert phones.of_token(paired[1][1]) is not None
    assert len(phones.listed()) == 20


def test_an_address_is_not_heard_for_a_minute_after_ten_wrong_guesses() -> None:
    guesses = Guesses()
    for _ in range(10):
        assert not guesses.too_many("10.0.0.9", NOW)
        guesses.wrong("10.0.0.9", NOW)
    assert guesses.too_many("10.0.0.9", NOW + timedelta(seconds=59))
    assert not guesses.too_many("10.0.0.8", NOW)
    assert not guesses.too_many("10.0.0.9", NOW + timedelta(seconds=61))


def test_a_phone_is_paired_for_a_job_and_who_held_it_is_asked_anew_on_another() -> None:
    house = FakeHouse()
    phones = Phones(house)
    paired, token = phones.pair(phones.secret(NOW), "phone", NOW, "Boat shed")
    assert paired.job == "Boat shed"
    assert phones.hold(paired.id, "mixer").holder == "mixer"
    assert phones.belong(paired.id, "Boat shed").holder == "mixer"
    moved = phones.belong(paired.id, "Canteen kitchen")
    assert (moved.job, moved.holder) == ("Canteen kitchen", None), "another crew's names"
    assert Phones(house).of_token(token) == moved, "also after a restart"


def test_a_phone_belongs_to_a_job_and_a_person_and_its_taps_go_there_whatever_job_is_in_use(
    serve: Any, phone: Any
) -> None:
    kitchen = FakeHouse(job=replace(studio_floor(), job="Canteen kitchen", crew=("pourer",)))
    studio = FakeHouse(others={"Canteen kitchen": kitchen})
    served = serve(studio)
    page, other = phone(served), phone(served)
    page.wait_for_function("() => document.querySelector('#job').innerText.length > 3")
    page.click("#who")
    page.get_by_role("button", name="Canteen kitchen").click()
    page.wait_for_function("() => document.querySelector('#job').innerText === 'Canteen kitchen'")
    page.click("#who")
    page.get_by_role("button", name="pourer", exact=True).click()
    page.wait_for_function("() => document.querySelector('#who').innerText === 'pourer'")
    page.click("#everything")
    page.evaluate(f"import('/static/main.js').then(({{ state }}) => {{ state({json.dumps(mixing())}) }})")
    page.wait_for_selector(".card")
    assert [each.by for each in kitchen.entries] == ["pourer"]
    assert studio.entries == []
    assert other.inner_text("#job") == studio.job.job, "the other phone stays where it was"
    assert other.locator(".card").count() == 0
    page.reload()
    page.wait_for_function("() => document.querySelector('#job').innerText === 'Canteen kitchen'")
