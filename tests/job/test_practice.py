"""What practice fills in is said aloud, and never takes the place of what the file states."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.job import practice
from mixclock.job.profile import Family, MixRule, Profile
from mixclock.job.site import Area, Coat, Person, Site, Vessel

FT2, FT, LB = 0.09290304, 0.3048, 0.45359237

SHED = Site("Boat shed", "Europe/Lisbon", (Area("slip 1", 16.0),), (Coat("base", "Slow epoxy base", 300.0),))


def test_what_the_file_states_comes_back_as_it_is_and_without_words() -> None:
    rate = practice.roll_rate(Person("roller", roll_m2_h=91.0))
    assert rate == practice.Assumption(91.0)
    assert rate.stated


def test_what_is_assumed_says_so_with_its_source() -> None:
    rate = practice.roll_rate(Person("roller"))
    assert not rate.stated
    assert "common practice, no source" in rate.words


@pytest.mark.parametrize(
    ("figure", "low", "high"),
    [
        # common practice, no source: what crews report, a person and hour
        (practice.SQUEEGEE_M2_H, 1000 * FT2, 1500 * FT2),
        (practice.ROLL_M2_H, 600 * FT2, 1000 * FT2),
        (practice.BROADCAST_M2_H, 500 * FT2, 800 * FT2),
        (practice.CUT_IN_M_H, 100 * FT, 150 * FT),
        (practice.UNFLAKED_STRIP_M, 12 * 0.0254, 18 * 0.0254),
    ],
)
def test_a_figure_of_practice_lies_within_what_crews_report(
    figure: practice.UsualFigure, low: float, high: float
) -> None:
    assert low <= figure.value <= high


def test_a_tenth_of_a_pound_of_flake_sticks_to_a_square_foot_and_half_as_much_again_is_thrown() -> None:
    assert practice.FLAKE_FULL_KG_M2.value == pytest.approx(0.1 * LB / FT2, rel=0.005)
    assert practice.FLAKE_THROWN_PER_STUCK.value == pytest.approx(0.15 / 0.10)


def test_a_job_without_crew_vessels_and_hours_is_completed_and_every_filling_is_said() -> None:
    whole, said = practice.completed(SHED)
    assert len(whole.crew) == len(whole.vessels) == 1
    assert whole.hours is not None
    assert whole.areas[0].edge_m == 16.0
    assert len(said) == 7
    assert practice.completed(whole) == (whole, ())


def test_how_fast_flake_is_thrown_is_assumed_only_of_a_floor_that_gets_flake() -> None:
    base = Coat("base", "Base", wet_film_um=300.0)
    for flake_kg_m2, expected in ((None, 0), (0.4, 1)):
        _, said = practice.completed(replace(SHED, coats=(replace(base, flake_kg_m2=flake_kg_m2),)))
        assert sum("flakes" in each for each in said) == expected


def test_how_fast_somebody_is_at_what_they_never_do_is_not_assumed() -> None:
    """Ana squeegees at a rate of her own and never rolls; Rui states how fast he rolls, and cuts in as people do."""
    ana = Person("Ana", ("mix", "squeegee"), squeegee_m2_h=100.0)
    rui = Person("Rui", ("cut-in", "roll"), roll_m2_h=70.0)
    for crew, rolled in (((ana, rui), 0), ((replace(ana, helps=("roll",)), rui), 1), ((ana,), 1)):
        _, said = practice.completed(replace(SHED, crew=crew))
        assert sum("back-rolls" in each for each in said) == rolled
        assert sum("cuts in" in each for each in said) == 1
        assert not [each for each in said if "squeegees" in each]


def test_mixing_takes_what_the_sheet_says_and_else_what_the_family_asks_for() -> None:
    epoxy = Profile("x", Family.EPOXY, "", MixRule((2.0, 1.0), time_s=150.0))
    assert practice.mixing_time(epoxy).value == 150.0
    fast = replace(epoxy, family=Family.POLYASPARTIC, mix=MixRule((1.0, 1.0)))
    assert practice.mixing_time(fast).value < practice.mixing_time(None).value


def test_a_pail_of_another_size_is_taken_to_have_the_same_shape() -> None:
    assert practice.across_m(Vessel("pot", 2.5)).value == pytest.approx(0.14)


def test_areas_are_done_by_their_numbers_and_bay_2_comes_before_bay_10() -> None:
    names = ("bay 10", "bay 2", "hall")
    site = replace(SHED, areas=(*(Area(name, 5.0) for name in names), Area("yard", 5.0, order=1)))
    assert [area.name for area in practice.areas_in_order(site)] == ["yard", "bay 2", "bay 10", "hall"]
