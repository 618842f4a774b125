"""Figures are taken as data sheets print them, and what is senseless or out of order is spoken of."""

from __future__ import annotations

import pytest

from mixclock.job.assumptions import assumptions, doubts, not_answered
from mixclock.job.mistakes import Mistakes
from mixclock.job.profilereading import read_profile
from mixclock.job.sheetquestions import QUESTIONS
from mixclock.words.sheetwords import understood

SHEET = """
name = "Printed base"
family = "epoxy"
source = "invented"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
[pot-life]
mass = "1 gal"
at = "25–30 min @ 77 °F"
[film]
wet = "8–12 mils"
[windows.back-roll]
closes = "15 to 20 min at 77 °F"
[windows.tack-free]
opens = { "77 °F" = "4-6 h" }
[windows.foot-traffic]
opens = "12–24 h @ 77 °F"
"""


def test_of_a_printed_range_the_shorter_closes_and_the_longer_opens_and_that_is_said() -> None:
    """1 US gal of 2:1 with 1.13 and 0.98 kg/L weighs 3.785 × (2 × 1.13 + 0.98) / 3 = 4.088 kg; 77 °F are 25 °C."""
    profile = read_profile(SHEET)
    assert profile.pot_life is not None
    assert profile.pot_life.mass_kg == pytest.approx(4.088, abs=0.001)
    (pot,) = profile.pot_life.span.points
    assert (pot.span_s, pot.temp_c) == (25 * 60.0, pytest.approx(25.0))
    spans = {rule.name: (rule.closes or rule.opens) for rule in profile.windows}
    assert {name: span.points[0].span_s for name, span in spans.items() if span} == {
        "back-roll": 15 * 60.0,
        "tack-free": 6 * 3600.0,
        "foot-traffic": 24 * 3600.0,
    }
    assert profile.film.wet_um == (pytest.approx(203.2), pytest.approx(304.8))
    said = assumptions(profile)
    assert "pot-life.at: of 25–30 min the shorter counts" in said
    assert "windows.foot-traffic.opens: of 12–24 h the longer counts" in said


def test_a_range_is_taken_at_the_keyboard_too() -> None:
    for key, typed in (("film.wet", "8–12 mils"), ("windows.back-roll.closes", "25–30 min @ 77 °F")):
        question = next(each for each in QUESTIONS if each.key == key)
        assert understood(question, typed), key


def test_a_range_that_runs_backwards_is_a_mistake() -> None:
    with pytest.raises(Mistakes, match="runs backwards"):
        read_profile(SHEET.replace("12–24 h", "24–12 h"))


def test_minutes_for_hours_hours_for_minutes_and_what_comes_too_early_are_doubtful() -> None:
    slips = SHEET.replace("12–24 h", "12–24 min").replace("15 to 20 min", "15 to 20 h")
    found = doubts(read_profile(slips))
    assert any("foot-traffic.opens: 24 min: were minutes typed for hours?" in line for line in found)
    assert any("back-roll.closes: 15 h: were hours typed for minutes?" in line for line in found)
    assert any(
        line.startswith("windows.back-roll: 15 h") and "nobody rolls a film that has set" in line for line in found
    )
    assert doubts(read_profile(SHEET)) == []


def test_a_recoat_without_its_earliest_time_is_asked_for() -> None:
    sheet = SHEET + '[windows.recoat]\ncloses = "48 h at 77 °F"\n'
    assert "no windows.recoat.opens: from when the next coat may go on" in not_answered(read_profile(sheet))
