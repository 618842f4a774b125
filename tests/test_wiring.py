"""The house: statements through the days on a clock that a test sets, and questions about the past."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from mixclock.cli.air import lately
from mixclock.job.entry import Combined, ProfileUsed
from mixclock.job.saying import CannotTellError
from mixclock.outside.clock import FakeClock
from mixclock.outside.profilefiles import find
from mixclock.wiring import House, open_house
from tests.cli.studio import STUDIO
from tests.saying import as_said

MORNING = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock(MORNING)


@pytest.fixture
def house(home: Path, clock: FakeClock) -> Iterator[House]:
    with open_house(clock=clock) as house:
        house.start(STUDIO)
        yield house


def mix(house: House, area: str, litres: float = 4.0) -> int:
    stated = house.state(
        as_said("mixing", {"product": "Slow epoxy base", "coat": "base", "areas": [area], "volume_l": litres})
    )
    return stated.standing.batches[-1].id


def test_a_batch_through_its_day(house: House, clock: FakeClock) -> None:
    house.state(as_said("reading", {"air_c": 18.0, "rh_pct": 55.0, "slab_c": 16.0}))
    mix(house, "bay 1")
    stages = []
    for minutes, verb, what in (
        (3, "mixed", {}),
        (4, "poured", {}),
        (8, "rolled", {}),
        (10, "flaked", {}),
        (60 * 20, "did", {"step": "scrape"}),
    ):
        clock.advance(60 * minutes)
        house.state(as_said(verb, what))
        stages.append(house.snapshot(clock.now())["batches"][0]["stage"])
    assert stages == ["mixed", "poured", "rolled", "flaked", "flaked"]
    clock.advance(60 * 86_400)
    assert house.snapshot(clock.now())["batches"][0]["stage"] == "done"


def test_the_past_is_answered_from_what_had_happened_and_what_was_known(house: House, clock: FakeClock) -> None:
    mix(house, "bay 1")
    clock.advance(600)
    at_ten = clock.now()
    clock.advance(600)
    house.state(as_said("poured"), at=MORNING + timedelta(minutes=8), note="told late")
    happened = house.snapshot(clock.now(), at=at_ten)["batches"][0]["stage"]
    known = house.snapshot(clock.now(), at=at_ten, known=at_ten)["batches"][0]["stage"]
    assert (happened, known) == ("poured", "mixed")


def test_asking_about_the_past_again_gives_the_same_answer(house: House, clock: FakeClock) -> None:
    mix(house, "bay 1")
    clock.advance(300)
    then = clock.now()
    first = house.snapshot(then)
    clock.advance(7200)
    house.state(as_said("noted", {"text": "door opened"}))
    assert house.snapshot(clock.now(), at=then, known=then) == first


def test_a_restart_changes_nothing(house: House, clock: FakeClock, home: Path) -> None:
    house.state(as_said("reading", {"air_c": 18.0, "rh_pct": 55.0, "slab_c": 16.0}))
    mix(house, "bay 1")
    clock.advance(500)
    house.state(as_said("poured"))
    before = house.snapshot(clock.now())
    with open_house(home, clock) as again:
        assert again.snapshot(clock.now()) == before


def test_the_first_batch_of_a_product_brings_its_profile_into_the_log_once(house: House) -> None:
    mix(house, "bay 1")
    mix(house, "bay 2")
    used = [entry.facts for entry in house.entries() if isinstance(entry.facts, ProfileUsed)]
    found = find("Slow epoxy base")
    assert used == [ProfileUsed("Slow epoxy base", found.text, found.origin)]


def test_a_profile_that_is_edited_changes_no_batch_that_used_it(house: House, home: Path, clock: FakeClock) -> None:
    mix(house, "bay 1")
    before = house.snapshot(clock.now())["batches"][0]["windows"]
    (home / "profiles").mkdir()
    text = find("Slow epoxy base").text
    assert '"40 min"' in text
    (home / "profiles" / "own.toml").write_text(text.replace('"40 min"', '"39 min"'))
    assert house.snapshot(clock.now())["batches"][0]["windows"] == before


def test_an_earlier_batch_that_is_told_later_finds_its_profile_when_the_past_is_asked(
    house: House, clock: FakeClock
) -> None:
    clock.advance(3600)
    mix(house, "bay 1")
    early = MORNING + timedelta(minutes=10)
    what = {"product": "Slow epoxy base", "coat": "base", "areas": ["bay 2"], "volume_l": 4.0}
    house.state(as_said("mixed", what), at=early)
    past = house.snapshot(clock.now(), at=early + timedelta(minutes=5))
    assert [batch["areas"] for batch in past["batches"]] == [["bay 2"]]
    assert past["batches"][0]["windows"]


def test_a_statement_that_is_refused_leaves_no_profile_behind(house: House) -> None:
    before = house.entries()
    with pytest.raises(CannotTellError):
        mix(house, "bay 9")
    assert house.entries() == before


def test_a_profile_with_mistakes_is_refused_with_all_of_them(house: House, home: Path) -> None:
    (home / "profiles").mkdir()
    (home / "profiles" / "own.toml").write_text('name = "Slow epoxy base"\nfamily = "paint"\nsource = 7\n')
    with pytest.raises(Exception, match=r"own\.toml: at 'family'") as caught:
        mix(house, "bay 1")
    assert len(str(caught.value).splitlines()) > 1


def test_a_clock_set_back_does_not_disorder_the_log(house: House, clock: FakeClock) -> None:
    mix(house, "bay 1")
    clock.advance(300)
    clock.step(-240)
    house.state(as_said("poured"))
    entries = house.entries()
    assert [entry.number for entry in entries] == list(range(1, len(entries) + 1))
    assert entries[-1].boot_s > entries[-2].boot_s


def test_two_jobs_are_told_apart(house: House, clock: FakeClock) -> None:
    mix(house, "bay 1")
    house.start(STUDIO.replace("Pottery studio floor", "Boat shed"))
    assert house.snapshot(clock.now())["batches"] == []
    assert len(house.snapshot(clock.now(), "Pottery studio floor")["batches"]) == 1
    house.state(as_said("noted", {"text": "rain"}), job="Pottery studio floor")
    assert house.entries()[-1].facts.kind == "job started"


def test_the_dew_margins_of_the_job_tell_where_the_air_heads(house: House, clock: FakeClock) -> None:
    house.state(as_said("reading", {"air_c": 18.0, "rh_pct": 55.0, "slab_c": 16.0}))
    margins, now, damp = lately(None, None)
    assert now is not None
    assert damp is None, "nobody measured the slab's moisture"
    assert [round(each.margin_k, 1) for each in margins] == [7.2]


def test_the_answer_to_a_late_pour_says_that_the_bucket_is_lost(house: House, clock: FakeClock) -> None:
    house.state(as_said("reading", {"air_c": 18.0, "rh_pct": 55.0, "slab_c": 16.0}))
    mix(house, "bay 1")
    clock.advance(3 * 3600)
    answer = house.answer(house.state(as_said("noted", {"text": "phone rang", "batch": 1})))
    assert answer.next == ()
    assert "batch 1 is past its pot life" in answer.warnings[0]


def test_a_slab_in_the_sun_hotter_than_any_air_breaks_no_answer(house: House, clock: FakeClock) -> None:
    house.state(as_said("reading", {"air_c": 35.0, "rh_pct": 30.0, "slab_c": 75.0}))
    house.state(as_said("mixing", {"product": "top", "areas": ["bay 1"], "volume_l": 2.0}))
    assert house.snapshot(clock.now())["batches"][0]["windows"]


def test_every_entry_of_a_batch_is_told_in_order_of_its_clock(house: House, clock: FakeClock) -> None:
    mix(house, "bay 1")
    combined = [entry for entry in house.entries() if isinstance(entry.facts, Combined)]
    assert combined[0].happened == MORNING
    assert combined[0].boot_id == "boot-1"
