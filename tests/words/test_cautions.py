"""Cautions stand at the moment at which they matter."""

from __future__ import annotations

import re

import pytest

from mixclock.job.profile import Family
from mixclock.words.cautions import CAUTIONS, DEFERS, NO_TIME_TO_READ, Moment, cautions_for


def test_acid_goes_into_water_is_the_first_thing_said_when_acid_is_mixed() -> None:
    assert cautions_for(Family.ACID_ETCH, Moment.MIXING)[0] == "Acid into water, never water into acid."


@pytest.mark.parametrize("family", [Family.POLYASPARTIC, Family.POLYURETHANE])
def test_isocyanates_are_named_before_part_b_is_opened_and_leftovers_never_get_a_lid(family: Family) -> None:
    assert "Isocyanates" in cautions_for(family, Moment.MIXING)[0]
    assert any("Never a lid" in text for text in cautions_for(family, Moment.LEFTOVERS))


@pytest.mark.parametrize("family", list(Family))
def test_a_smoking_bucket_is_left_alone_whatever_is_in_it(family: Family) -> None:
    text = " ".join(cautions_for(family, Moment.SMOKING_BUCKET))
    assert "Don't lift, stir or cap it" in text
    assert "fire service" in text
    assert "use it up" not in text


@pytest.mark.parametrize("family", list(Family))
@pytest.mark.parametrize("moment", [m for m in Moment if m not in NO_TIME_TO_READ])
def test_every_caution_defers_to_the_safety_data_sheet(family: Family, moment: Moment) -> None:
    said = cautions_for(family, moment)
    assert not said or said[-1] == DEFERS


@pytest.mark.parametrize("family", list(Family))
def test_mixing_always_has_a_caution(family: Family) -> None:
    assert len(cautions_for(family, Moment.MIXING)) > 1


def test_a_moment_that_nobody_knows_is_refused() -> None:
    with pytest.raises(ValueError, match="lunch"):
        cautions_for(Family.EPOXY, "lunch")


def test_a_caution_is_the_same_for_every_crew_so_it_names_no_figure_of_one_system_alone() -> None:
    """A crew in feet and one in metres read the same words: "no deeper than a pencil is thick"."""
    metric = re.compile(r"\d ?(?:m²|m|cm|mm|µm|um|L|mL|kg|g|°C|°F|in|ft|gal|lb|mil)\b")
    assert len(CAUTIONS) > 20
    assert [each.text for each in CAUTIONS if metric.search(each.text)] == []
