"""What a plan rests on that nobody stated stands beside it."""

from __future__ import annotations

from dataclasses import replace

from mixclock.decide.plan.days.assumptions import assumed_for
from mixclock.decide.plan.floor.crew import crew_of
from mixclock.job.site import Area, Coat, Person, Site
from mixclock.units import US_CREW
from tests.decide.plan.etches import ETCH_COAT, PROFILES
from tests.decide.plan.floors import profile, row_of

BASE = Coat("base", "Base", 300.0, flake_kg_m2=0.4)
SHEET = profile("Base", ("back-roll", "wet-edge", "broadcast"))
FLOOR = Site("Shed", "UTC", row_of((10.0, 10.0), (4.0, 4.0)), (BASE,), (Person("one"),))


def said(site: Site, coat: Coat = BASE) -> list[str]:
    sheet = PROFILES[coat.product.casefold()] if coat is ETCH_COAT else SHEET
    return assumed_for(site, crew_of(site), coat, sheet, ())


def test_a_bay_that_names_no_neighbour_among_others_that_do_is_said_to_be_joined_to_nothing() -> None:
    line = "store: no neighbours are named, so nothing is joined there wet"
    assert line not in said(FLOOR)
    with_store = replace(FLOOR, areas=(*FLOOR.areas, Area("store", 6.0, 3.0)))
    assert line in said(with_store)
    assert line not in said(with_store, replace(BASE, wet_edge=False))


def test_a_help_that_no_two_share_in_a_plan_is_told_and_not_passed_over() -> None:
    mixer, roller = Person("mixer", ("mix",), helps=("broadcast", "roll")), Person("roller", ("roll", "broadcast"))
    line = (
        "mixer is named for helping with broadcast, which no two share in a plan: write it under does where mixer may "
        "do it alone"
    )
    assert line in said(replace(FLOOR, crew=(mixer, roller)))
    for sure in (replace(mixer, helps=("roll", "cut-in")), replace(mixer, does=("mix", "broadcast"))):
        assert line not in said(replace(FLOOR, crew=(sure, roller)))


def test_scraping_is_assumed_where_a_coat_follows_on_flake_only() -> None:
    line = "a person scrapes and sweeps 45 m² an hour (judgement)"
    assert line not in said(FLOOR)
    assert line in said(replace(FLOOR, coats=(BASE, Coat("top", "Base", 100.0, after="base"))))


def test_an_etch_rests_on_its_own_rates_in_the_units_of_the_crew() -> None:
    metric, us = said(FLOOR, ETCH_COAT), said(replace(FLOOR, units=US_CREW), ETCH_COAT)
    assert "a person neutralises 120 m² an hour (judgement)" in metric
    assert "a person neutralises 1300 ft² an hour (judgement)" in us
    assert "a bucket is poured out in a minute, in ribbons (judgement)" not in metric
