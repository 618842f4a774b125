"""What a plan asks of a product beyond its sheet is said with what mends it."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, time

from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.conditions import ExpectedConditions
from mixclock.decide.plan.search.climber import Effort
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.profile import Film, Limits
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from tests.decide.plan.floors import DAYS, PRODUCT, bench, minutes, row_of

ANY_LIMITS, ANY_FILM = Limits(), Film()
QUICK = Ways(Effort(200, 100), exact=False)


class ColdNight:
    """Twelve degrees or less in the shed until noon, twenty from then on."""

    def __init__(self, night_c: float) -> None:
        self.night_c = night_c

    def at(self, instant: datetime) -> ExpectedConditions:
        """The air by the hour; the slab stays at fifteen."""
        return ExpectedConditions(self.night_c if instant.hour < 12 else 20.0, 50.0, 16.0)


def warnings(coat: Coat, limits: Limits = ANY_LIMITS, film: Film = ANY_FILM, night_c: float = 12.0) -> tuple[str, ...]:
    crew = (Person("one", (), 110.0, 75.0, 60.0, 35.0),)
    hours = Hours(DAYS, time(6), time(20))
    site = Site("Slip", "UTC", row_of((16.0,), (2.0,)), (coat,), crew, (Vessel("pail", 24.0),), hours)
    at = bench(site, minutes(pour_out=20.0, back_roll=55.0, wet_edge=60.0, broadcast=75.0))
    profiles = {name: replace(each, limits=limits, film=film) for name, each in at.profiles.items()}
    plan = make_plan(replace(at, profiles=profiles, outlook=ColdNight(night_c)), QUICK)
    assert plan.feasible, plan.obstacle
    return plan.warnings


def test_a_film_beyond_the_sheet_is_to_be_laid_in_two_coats() -> None:
    sheet = Film(wet_um=(200.0, 400.0))
    assert warnings(Coat("base", PRODUCT, 300.0), film=sheet) == ()
    (said,) = warnings(Coat("base", PRODUCT, 700.0), film=sheet)
    assert said == "base at 700 µm wet is outside its sheet, which allows 200 µm to 400 µm: lay it in two coats"
    (thin,) = warnings(Coat("base", PRODUCT, 100.0), film=sheet)
    assert thin.endswith("state a thicker film")


def test_cold_pails_are_to_be_warmed_the_night_before() -> None:
    (said,) = warnings(Coat("base", PRODUCT, 300.0), limits=Limits(material_c=(18.0, 30.0)))
    assert said.startswith("warm the pails to 18 °C the night before base")
    assert said.endswith("are at 12 °C")
    assert warnings(Coat("base", PRODUCT, 300.0), limits=Limits(material_c=(10.0, 30.0))) == ()


def test_pails_a_hair_too_cold_are_not_told_as_being_as_warm_as_they_should_be() -> None:
    (said,) = warnings(Coat("base", PRODUCT, 300.0), limits=Limits(material_c=(12.0, 30.0)), night_c=11.7)
    assert said.startswith("warm the pails to 12 °C the night before base")
    assert said.endswith("are at 11.7 °C")


def test_more_sand_than_sticks_in_one_throw_is_built_up_in_two() -> None:
    full = Coat("base", PRODUCT, 300.0, flake_kg_m2=2.4, flake_size="quartz sand")
    assert warnings(full) == ()
    (said,) = warnings(replace(full, flake_kg_m2=4.0))
    assert said.startswith("base: 4 kg/m² of sand is more than sticks in one throw, about 2.4 kg/m²")


class DampEvening:
    """Twenty degrees in the air and eighteen on the slab; from three in the afternoon on the air holds so much water
    that the slab is less than three kelvin over the dew point: at 85 % that is 17.4 °C (Magnus, by hand)."""

    def at(self, instant: datetime) -> ExpectedConditions:
        """The air by the hour."""
        return ExpectedConditions(20.0, 50.0 if instant.hour < 15 else 85.0, 18.0)


def warned_of_damp(tack_free_h: float) -> list[str]:
    crew = (Person("one", (), 110.0, 75.0, 60.0, 35.0),)
    coat = Coat("base", PRODUCT, 300.0)
    hours = Hours(DAYS, time(6), time(20))
    site = Site("Slip", "UTC", row_of((16.0,), (2.0,)), (coat,), crew, (Vessel("pail", 24.0),), hours)
    at = bench(site, minutes(pour_out=20.0, back_roll=55.0, wet_edge=60.0), {"tack-free": 60.0 * tack_free_h})
    plan = make_plan(replace(at, outlook=DampEvening()), QUICK)
    assert plan.feasible, plan.obstacle
    return [line for line in plan.warnings if "still lies wet" in line]


def test_a_film_that_is_not_tack_free_before_the_damp_comes_is_said_with_both_hours() -> None:
    """Poured shortly after six and tack free ten hours later, after the damp of 15:00; one of eight hours is not
    wet by then."""
    (said,) = warned_of_damp(10.0)
    told = (
        r"base on bay 1 still lies wet when the damp comes, Mon 13 Apr 15:\d\d: slab only 0\.[56] °C over the dew point"
    )
    assert re.match(told, said), said
    assert "tack free by Mon 13 Apr 16:" in said
    assert warned_of_damp(8.0) == []
