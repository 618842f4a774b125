"""The hours that a crew is told are on the safe side of films that the product knows nothing of."""

from __future__ import annotations

import statistics

import pytest

from tests.decide.edgecoverage import UNSAFE_AT_MOST, told, unsafe_share
from tests.decide.slabtruths import WINDOWS, draw_films


@pytest.mark.long
def test_of_four_hundred_films_few_are_opened_too_soon_or_closed_too_late() -> None:
    every = [told(film) for film in draw_films(420, 7)]
    assert {one.film.window for one in every} == set(WINDOWS)
    for kind, edge in (("raced", "closes"), ("limit", "opens"), ("limit", "closes")):
        assert unsafe_share(every, kind, edge) <= UNSAFE_AT_MOST, (kind, edge)
    assert statistics.median(one.reserve for one in every) <= 0.5  # an hour that nobody believes is no safety
