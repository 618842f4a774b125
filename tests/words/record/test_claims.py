"""What the record certifies: only what somebody stated for that very purpose."""

from __future__ import annotations

from datetime import timedelta

import pytest

from mixclock.job.entry import Combined, Found, Measured, Noted, PhotoTaken, Reading
from mixclock.words.record.claims import claim_table
from mixclock.words.record.owner import laid_table
from tests.words.record.studio import PRODUCT, Studio


def held(made: Studio) -> dict[str, tuple[str, str]]:
    """Each item with whether it is held, and how much of it."""
    return {str(item): (str(held), str(detail)) for item, held, detail in claim_table(made.record()).rows}


def four_bays() -> Studio:
    made = Studio()
    for number in (1, 2, 3, 4):
        made.batch(number, f"bay {number}", 40.0 * (number - 1))
    return made


@pytest.mark.parametrize(
    ("text", "item"),
    [
        ("coffee cup fell over", "kept samples"),
        ("children from the playground walked by", "surface preparation"),
        ("speed limit in the yard is 10", "mixer speed"),
        ("no heater all day", "heater"),
        ("the owner said he would sign a sample", "signed sample"),
        ("released the brake of the trailer", "released by"),
    ],
)
def test_free_words_certify_nothing(text: str, item: str) -> None:
    made = four_bays()
    made.add(20.0, Noted(text))
    assert held(made)[item][0] == "not recorded"


@pytest.mark.parametrize(
    ("text", "item", "detail"),
    [
        ("kept sample: cup", "kept samples", "cup"),
        ("prep: ground", "surface preparation", "ground"),
        ("mixer speed: 400 rpm", "mixer speed", "400 rpm"),
        ("slab tests: refused by the owner", "owner's word on slab tests", "refused by the owner"),
        ("signed sample: colour, gloss and grit", "signed sample", "colour, gloss and grit"),
        ("extras: cove base, 12 m", "extras ordered", "cove base, 12 m"),
        ("keep-out: held until hand-over", "keep-out until hand-over", "held until hand-over"),
        ("released by: site manager", "released by", "site manager"),
        ("care sheet: version of May 2026", "care sheet handed over", "version of May 2026"),
        ("expiry: A 2027-03, B 2026-11", "expiry dates", "A 2027-03, B 2026-11"),
    ],
)
def test_what_wins_a_dispute_can_be_ticked(text: str, item: str, detail: str) -> None:
    made = four_bays()
    made.add(20.0, Noted(text))
    assert held(made)[item] == ("recorded", detail)


def test_one_bay_of_four_is_in_part() -> None:
    made = four_bays()
    made.add(-40.0, Measured("moisture", 72.0, "pct", area="bay 2"))
    made.add(-40.0, Noted("prep: ground", area="bay 2"))
    made.add(5000.0, PhotoTaken("bay.jpg", "a" * 64, area="bay 2"))
    told = held(made)
    assert told["slab moisture"] == ("in part", "once, 1 of 4 areas; missing on bay 1, bay 3, bay 4")
    assert told["surface preparation"] == ("in part", "ground (bay 2); missing on bay 1, bay 3, bay 4")
    assert told["dated pictures"][0] == "in part"


def test_one_reading_before_work_is_no_record_of_the_air() -> None:
    made = four_bays()
    made.add(-70.0, Reading(air_c=18.0, rh_pct=55.0))
    told = held(made)
    assert told["air temperature"] == ("not recorded", "only once, Mon 13 Apr 7:50, before the first batch")
    assert told["slab temperature"][0] == "not recorded"


def test_air_that_was_read_until_tack_free_is_recorded() -> None:
    made = four_bays()
    for at in range(-30, 1500, 60):
        made.air(at, 19.0)
    assert held(made)["air temperature"][0] == "recorded"


def test_lots_of_a_and_of_b_are_held_apart() -> None:
    made = Studio()
    made.add(0.0, Combined(PRODUCT, ("bay 1",), "base", volume_l=2.7, lot_a="A-1", lot_b="B-7"))
    assert held(made)["lots of A and of B"] == ("recorded", "every batch")
    made.add(60.0, Combined(PRODUCT, ("bay 2",), "base", volume_l=2.7, lot_a="A-1"))
    assert held(made)["lots of A and of B"][0] == "in part"


def test_of_an_open_finding_it_says_who_was_told_and_when() -> None:
    made = four_bays()
    made.add(9000.0, Found("bay 2", "dull"))
    assert held(made)["dull on bay 2: who was told"][0] == "not recorded"
    made.add(9060.0, Noted("told: the supplier, by letter", area="bay 2"))
    assert held(made)["dull on bay 2: who was told"][1].startswith("the supplier, by letter, Sun 19 Apr")
    made.add(9900.0, Found("bay 2", "sound"))
    assert "dull on bay 2: who was told" not in held(made)


def test_a_pour_that_nobody_stated_is_never_laid_at_an_hour() -> None:
    made = Studio()
    made.batch(1, "bay 1", 0.0, poured=None)
    made.batch(2, "bay 2", 40.0)
    laid = {row[0]: row[-1] for row in laid_table(made.record()).rows}
    assert laid["bay 1"] is None
    assert laid["bay 2"] is not None


def test_the_owner_reads_what_is_open_on_his_floor() -> None:
    from mixclock.words.record import owner_page

    made = four_bays()
    assert "is open" not in owner_page(made.record())
    made.add(9000.0, Found("bay 2", "dull", "batch-edge"))
    page = owner_page(made.record())
    assert "bay 2: dull, it stops where one batch meets the next" in page
    assert "the record shows" not in page


def test_people_are_numbers_on_paper_also_where_they_are_named_in_words() -> None:
    from mixclock.job.crewnumbers import crew_numbers, numbered_entries, numbered_site

    made = four_bays()
    made.add(20.0, Noted("mixer went for lunch"), "roller")
    standing = made.record().standing
    numbers = crew_numbers(standing.site, standing.entries)
    assert dict(numbers) == {"mixer": "crew 1", "roller": "crew 2"}
    said = [(entry.by, getattr(entry.facts, "text", "")) for entry in numbered_entries(standing.entries, numbers)]
    assert said[-1] == ("crew 2", "crew 1 went for lunch")
    assert [person.name for person in numbered_site(standing, numbers).site.crew] == ["crew 1", "crew 2"]


def test_a_record_of_the_past_says_when_it_was_really_written() -> None:
    from dataclasses import replace

    from mixclock.words.record import record_page

    record = four_bays().record(after_days=1.0)
    later = replace(record, written=record.at + timedelta(days=30))
    assert "As it was known Tue 14 Apr 2026 9:00, written down Thu 14 May 2026 9:00" in record_page(later)
