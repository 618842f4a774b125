"""Nobody learns on the floor what the data sheet did not say: it is listed before."""

from __future__ import annotations

from pathlib import Path

import pytest

from mixclock.job.assumptions import assumptions, doubts, not_answered
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile

PROFILES = Path(__file__).resolve().parents[2] / "profiles"

BARE = """
name = "Boat shed base"
family = "epoxy"
[mix]
ratio_by_volume = [2, 1]
"""


def profile(*lines: str) -> Profile:
    return read_profile(BARE + "\n".join(lines))


def test_a_pot_life_without_its_mass_is_taken_for_a_cup_and_said_aloud() -> None:
    said = assumptions(profile("[pot-life]", 'end = "gel"', 'at = { "20 °C" = "40 min", "30 °C" = "20 min" }'))
    assert any(line.startswith("pot-life.mass: ") and "150 g" in line for line in said)


def test_one_temperature_says_which_energy_stands_in_and_how_wide_it_may_be() -> None:
    said = assumptions(profile("[windows.foot-traffic]", "after = 'poured'", 'opens = { "20 °C" = "24 h" }'))
    (line,) = [line for line in said if line.startswith("windows.foot-traffic.opens")]
    assert "65 kJ/mol" in line
    assert "45 to 90" in line


def test_a_start_that_is_left_out_is_said() -> None:
    found = profile("[windows.induction]", 'opens = "15 min"', "[windows.recoat]", 'opens = "9 h"')
    said = assumptions(found)
    assert "windows.induction.after: counts from 'mixed' (judgement)" in said
    assert "windows.recoat.after: counts from 'poured' (judgement)" in said


def test_what_can_not_be_answered_is_listed_as_questions() -> None:
    asked = not_answered(profile("[windows.recoat]", 'opens = "9 h"'))
    assert "no pot-life: until when the bucket must be poured out" in asked
    assert "no windows.recoat.closes: until when it bonds without abrading" in asked
    assert not any("windows.dwell" in line for line in asked)


@pytest.mark.parametrize(
    ("closes", "says"),
    [
        ('{ "20 °C" = "40 min", "30 °C" = "39 min" }', "hardly changes with temperature (2 kJ/mol"),
        ('{ "20 °C" = "400 min", "30 °C" = "40 min" }', "changes very much with temperature (170 kJ/mol"),
    ],
)
def test_a_slope_that_no_resin_shows_is_doubted(closes: str, says: str) -> None:
    (line,) = doubts(profile("[windows.broadcast]", f"closes = {closes}"))
    assert line.startswith("windows.broadcast.closes: ")
    assert says in line


def test_rolling_that_ends_after_the_flake_is_doubted_because_nobody_rolls_through_flake() -> None:
    (line,) = doubts(
        profile(
            "[windows.back-roll]",
            'closes = { "20 °C" = "50 min", "30 °C" = "27 min" }',
            "[windows.broadcast]",
            'closes = { "20 °C" = "40 min", "30 °C" = "22 min" }',
        )
    )
    assert "nobody rolls through flake" in line


@pytest.mark.parametrize(
    ("closes", "says"),
    [
        ('{ "20 °C, 50 %" = "14 min", "20 °C, 80 %" = "20 min" }', "slower in damp air"),
        ('{ "20 °C, 50 %" = "20 min", "20 °C, 80 %" = "10 min", "30 °C, 50 %" = "12 min" }', "warmer would be slower"),
    ],
)
def test_humidity_figures_that_contradict_themselves_are_doubted(closes: str, says: str) -> None:
    text = BARE.replace('"epoxy"', '"polyaspartic"') + f"[windows.back-roll]\nafter='poured'\ncloses = {closes}"
    (line,) = doubts(read_profile(text))
    assert says in line


@pytest.mark.parametrize("name", sorted(path.name for path in PROFILES.glob("*.toml")))
def test_no_profile_that_comes_with_mixclock_is_doubtful(name: str) -> None:
    assert doubts(read_profile((PROFILES / name).read_text(encoding="utf-8"))) == []
