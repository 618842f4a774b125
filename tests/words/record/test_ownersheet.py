"""The sheet for the owner."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mixclock.words.record import owner_page
from mixclock.words.record.owner import use_table
from tests.words.record.readers import read_page
from tests.words.record.studio import Studio, full_studio


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
