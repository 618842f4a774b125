"""One product in the place of another: the same film and share of flake, and what each leaves out."""

from __future__ import annotations

import pytest

from mixclock.decide.plan.floor.systems import Price, leaves_out, with_product
from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.job.profile import Family, Film, MixRule, Profile, SheetPoint, SheetSpan, WindowRule
from mixclock.job.site import Area, Coat, Site

SOON = SheetSpan((SheetPoint(1800.0),))
SOLID = Profile(
    "Solid", Family.EPOXY, "invented", MixRule((2.0, 1.0), None, (1.13, 0.98)), film=Film(100.0, (200.0, 400.0)),
    windows=(WindowRule("broadcast", "poured", closes=SOON), WindowRule("induction", "mixed", opens=SOON)),
)  # fmt: skip
THIN = Profile(
    "Thin", Family.WATERBORNE_EPOXY, "invented", MixRule((4.0, 1.0), None, (1.2, 1.1)), film=Film(50.0, (100.0, 200.0))
)
UNSTATED = Profile("Unstated", Family.EPOXY, "invented", MixRule((2.0, 1.0), None, (1.1, 1.0)))
SITE = Site(
    "studio",
    "UTC",
    (Area("bay 1", 10.0),),
    (
        Coat("base", "Solid", wet_film_um=300.0, flake_kg_m2=0.4, kit_l=9.0, price=95.0, waste=0.0),
        Coat("seal", "Thin", wet_film_um=120.0, after="base", kit_l=5.0, price=60.0, split=True, waste=0.0),
    ),
)
SHELF = {profile.name.casefold(): profile for profile in (SOLID, THIN, UNSTATED)}


def test_the_other_product_goes_on_so_thick_that_as_much_of_it_stays() -> None:
    # 300 µm of a 100 % product stay 300 µm; a 50 % product must go on at 600 µm, twice the litres
    swapped = with_product(SITE, SOLID, THIN)
    assert swapped.coats == ("base",)
    assert swapped.site.coats[0].wet_film_um == pytest.approx(600.0)
    assert "the same 300 µm dry" in swapped.said[0]
    before, after = take_off(SITE, SHELF).coats[0], take_off(swapped.site, SHELF).coats[0]
    assert after.needed_l == pytest.approx(2.0 * before.needed_l)
    assert after.flake is not None
    assert before.flake is not None
    assert after.flake.thrown_kg == before.flake.thrown_kg


def test_without_stated_solids_the_wet_film_is_the_same_and_that_is_said() -> None:
    swapped = with_product(SITE, SOLID, UNSTATED)
    assert swapped.site.coats[0].wet_film_um == 300.0
    assert "does not state its solids" in swapped.said[0]


def test_kit_and_price_are_never_those_of_the_product_that_was_taken_out() -> None:
    assert with_product(SITE, SOLID, UNSTATED).site.coats[0].price is None
    known = with_product(SITE, SOLID, THIN).site.coats[0]
    assert (known.kit_l, known.price) == (5.0, 60.0)
    told = with_product(SITE, SOLID, UNSTATED, Price(6.0, None, 80.0)).site.coats[0]
    assert (told.kit_l, told.price) == (6.0, 80.0)


def test_other_coats_stay_as_they_are() -> None:
    assert with_product(SITE, SOLID, THIN).site.coats[1] == SITE.coats[1]


def test_a_product_leaves_out_the_flake_that_its_sheet_has_no_window_for_and_steps_of_the_other() -> None:
    swapped = with_product(SITE, SOLID, THIN)
    lines = leaves_out(swapped.site, swapped.coats, THIN, SOLID)
    assert "base: its sheet states no broadcast, and flake is asked for" in lines
    assert "base: 600 µm wet is outside its sheet, 100 µm to 200 µm" in lines
    assert any(line.startswith("no induction") for line in lines)
    own = leaves_out(SITE, ("base",), SOLID, THIN)
    assert not any("broadcast" in line or "outside its sheet" in line for line in own)
