"""What a mended job file changes is told line by line, in the crew's units, with what stood there before."""

from __future__ import annotations

import pytest

from mixclock.job.sitereading import read_site
from mixclock.words.mendedjobwords import site_changes
from tests.decide.worlds import SITE


def told(*changes: tuple[str, str]) -> list[str]:
    """The lines for a file in which each text was replaced by another."""
    text = SITE
    for before, after in changes:
        assert before in text
        text = text.replace(before, after, 1)
    return list(site_changes(read_site(SITE), read_site(text)))


@pytest.mark.parametrize(
    ("before", "after", "line"),
    [
        ('size = "12 m2"', 'size = "15,5 m2"', "bay 1: size 15.5 m² instead of 12 m²"),
        ('wet_film = "300 um"', 'wet_film = "250 um"', "coat base: wet film 250 µm instead of 300 µm"),
        ('squeegee = "110 m2/h"', 'squeegee = "90 m2/h"', "mixer: squeegee 90 m²/h instead of 110 m²/h"),
        ('across = "28 cm"', 'across = "30 cm"', "pail: across 30 cm instead of 28 cm"),
        ('end = "17:30"', 'end = "19:00"', "hours: end 19:00 instead of 17:30"),
        (', "2026-04-15"]', "]", "hours: days 13 Apr, 14 Apr instead of 13 Apr, 14 Apr, 15 Apr"),
        ('zone = "Europe/Lisbon"', 'zone = "Europe/Lisbon"\nsealed = true', "sealed yes instead of not stated"),
        ('size = "12 m2"', 'size = "12.01 m2"', "bay 1: size 12 m², a little other than before"),
    ],
)
def test_each_change_stands_beside_what_was_before(before: str, after: str, line: str) -> None:
    assert told((before, after)) == [line]


def test_a_forecast_that_comes_later_is_told_by_its_hour() -> None:
    added = '[[forecast]]\nat = "2026-04-13 08:00"\nair = "16 °C"\nslab = "14 °C"\n[hours]'
    assert told(("[hours]", added)) == ["forecast 13 Apr 8:00: new"]


def test_an_area_that_comes_and_one_that_goes_are_told() -> None:
    lines = told(('name = "bay 3"', 'name = "landing"'), ('next_to = ["bay 3"]', 'next_to = ["landing"]'))
    assert lines == ["bay 3: gone", "landing: new", "bay 2: next to bay 1, landing instead of bay 1, bay 3"]


def test_a_file_that_says_the_same_in_other_words_changes_nothing() -> None:
    assert told(('size = "12 m2"', '# as measured again\nsize = "120000 cm2"')) == []
