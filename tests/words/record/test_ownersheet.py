"""The sheet for the owner."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mixclock.job.entry import Combined, Found, Poured, Reading
from mixclock.words.record import owner_page
from mixclock.words.record.owner import use_table
from mixclock.words.record.release import release_table
from tests.words.record.readers import read_page
from tests.words.record.studio import PRODUCT, SITE, Studio, full_studio


def test_the_owner_reads_when_feet_cars_and_washing_are_allowed() -> None:
    row = read_page(owner_page(full_studio().record())).tables["table-use"][0]
    assert list(row) == ["area", "walk on it", "drive on it", "wash it, load it fully"]
    assert all(row.values())


def test_the_owner_is_told_late_times_never_early_ones() -> None:
    record = full_studio().record()
    at = use_table(record).as_dicts()[0]["foot_traffic_from"]
    feet = next(w for w in record.windows if w.name == "foot-traffic" and w.area == "bay 1")
    assert isinstance(at, datetime)
    assert feet.opens is not None
    assert feet.opens.late is not None
    assert feet.opens.late <= at <= feet.opens.late + timedelta(minutes=30)
    assert at.astimezone(UTC).minute in (0, 30)


def test_an_area_without_a_batch_has_no_time_and_the_sheet_says_to_ask() -> None:
    page = read_page(owner_page(Studio().record()))
    assert page.tables["table-use"][0]["walk on it"] == "not recorded"
    assert any("ask the applicator" in words for words in page.words)


def test_lots_and_the_last_word_of_the_maker_stand_on_it() -> None:
    page = read_page(owner_page(full_studio().record()))
    assert page.tables["table-laid"][0]["lots"] == "L-41"
    assert any("prevail over anything" in words for words in page.words)


def poured(*, slab_c: float = 16.7) -> Studio:
    """A batch of base on bay 1, poured on a slab of so many degrees."""
    studio = Studio()
    studio.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=slab_c))
    studio.add(0, Combined(PRODUCT, ("bay 1",), volume_l=3.0, coat="base", material_c=20.0))
    studio.add(6, Poured(1))
    return studio


def test_each_use_has_one_date_with_its_condition_and_why_and_the_firms_copy_keeps_the_rest() -> None:
    """16.7 °C is warmer than 16, so the condition is the next whole degree: 17 °C."""
    record = poured().record()
    page = read_page(owner_page(record))
    assert (
        "bay 1: if it is kept at 17 °C or warmer, doors shut. Why: your slab was 17 °C, the sheet says 10 °C, 20 °C "
        "and 30 °C."
    ) in page.words
    firm = release_table(record).as_dicts()[0]
    assert firm["use"] == "walk on it"
    assert firm["sheet"] == "86 h at 10 °C; 38 h at 20 °C; 17 h at 30 °C"
    assert isinstance(firm["likely"], datetime)
    assert isinstance(firm["told"], datetime)
    assert firm["likely"] < firm["told"]
    assert not any("86 h" in words for words in page.words), "the owner parks on the earliest"


def test_an_area_with_an_open_finding_is_not_released() -> None:
    studio = poured()
    studio.add(3000, Found("bay 1", "dull"))
    page = read_page(owner_page(studio.record()))
    assert set(page.tables["table-use"][0].values()) == {"bay 1", "ask the applicator first"}
    assert any("something was found there and is open" in words for words in page.words)
    studio.add(3100, Found("bay 1", "sound"))
    assert "ask the applicator first" not in read_page(owner_page(studio.record())).tables["table-use"][0].values()


def test_nothing_that_was_not_poured_is_called_laid_or_dated() -> None:
    studio = poured()
    studio.add(20, Combined(PRODUCT, ("bay 2",), volume_l=3.0, coat="base", material_c=20.0))
    page = read_page(owner_page(studio.record()))
    assert [row["area"] for row in page.tables["table-laid"]] == ["bay 1"]
    assert page.tables["table-use"][1]["walk on it"] == "not recorded"


def test_an_area_that_waits_for_another_coat_is_not_released() -> None:
    two = SITE + '[[coats]]\nname = "top"\nproduct = "Slow epoxy base"\nwet_film = "200 um"\nafter = "base"\n'
    studio = Studio(two)
    studio.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    studio.add(0, Combined(PRODUCT, ("bay 1",), volume_l=3.0, coat="base", material_c=20.0))
    studio.add(6, Poured(1))
    page = read_page(owner_page(studio.record()))
    assert page.tables["table-use"][0]["drive on it"] == "ask the applicator first"
    assert any("the top is still to come" in words for words in page.words)
