"""More of the take-off against sums by hand: what stands there already, what is shared out, what is said of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.stock import Stock
from mixclock.decide.plan.floor.takeoff import CoatTake, TakeOff, take_off
from mixclock.job.profile import Dilution, Family, Film, MixRule, Profile
from mixclock.job.site import Area, Coat, Site
from mixclock.units import US_CREW
from tests.decide.plan.test_takeoff import AREAS, BASE, COAT, ETCH, SHELF, TOP, batch, taken

OVER_FLAKE = Coat("top", "Top", wet_film_um=125.0, waste=0.1, over_flake=True)


def with_stock(coat: Coat, stock: Stock, rest_l: float) -> CoatTake:
    """The rest of a floor, 18 m² in one batch, with what is there."""
    rest = batch(coat, (FloorPiece("bay 2", 18.0, 0.0),), rest_l)
    site = Site("studio", "UTC", AREAS, (coat,))
    return take_off(site, SHELF, (rest,), {(coat.name, "bay 2"): 18.0}, {coat.name: stock}).coats[0]


def said_of(*coats: Coat, profile: Profile = TOP, areas: tuple[Area, ...] = AREAS) -> tuple[str, ...]:
    """What a take-off says to be assumed."""
    return take_off(Site("studio", "UTC", areas, coats), {**SHELF, profile.name.casefold(): profile}).assumed


def test_a_top_coat_over_flake_is_told_to_drink_up_to_a_film_of_the_thickest_kind() -> None:
    """30 m² at 125 µm, a tenth lost: 4.17 L; at 314 µm, 130 ft² a gallon, 10.47 L: 6.3 L more. 314 and 272 µm are 3.2
    and 3.7 m² a litre, 125 µm are 8."""
    [said] = [each for each in said_of(OVER_FLAKE) if "over flake" in each]
    assert said.startswith("top over flake: its sheet doesn't say how far it goes there, 3.2 m²/L to 3.7 m²/L is usual")
    assert "the job file's 8 m²/L is taken" in said
    assert "up to 6.3 L more" in said


@pytest.mark.parametrize(("film_um", "said"), [(271.0, True), (272.0, False), (350.0, False)])
def test_a_top_coat_that_is_counted_thick_enough_over_flake_is_left_alone(film_um: float, said: bool) -> None:
    assert any("over flake" in each for each in said_of(replace(OVER_FLAKE, wet_film_um=film_um))) is said


def test_a_sheet_that_says_how_far_it_goes_over_flake_is_followed_where_the_job_file_counts_on_less() -> None:
    """4 m² a litre are 250 µm: for the 125 µm of the job file it stands in, with its 400 µm it changes nothing."""
    sheet = replace(TOP, film=Film(over_flake_m2_l=4.0))
    for film_um, litres, words in (
        (125.0, 30 * 0.25 / 0.9, "top drinks over flake: 4 m²/L by its sheet, in place of the job file's 8 m²/L"),
        (400.0, 30 * 0.4 / 0.9, "top drinks over flake: 2.5 m²/L by its sheet"),
    ):
        coat = replace(OVER_FLAKE, wet_film_um=film_um)
        found = take_off(Site("studio", "UTC", AREAS, (coat,)), {"top": sheet})
        assert found.coats[0].needed_l == pytest.approx(litres)
        assert found.coats[0].may_drink_l is None, "its sheet has said how much"
        assert words in found.assumed
    assert not any("over flake" in each for each in said_of(replace(OVER_FLAKE, over_flake=False), profile=sheet))


def test_of_two_coats_each_is_found_by_its_name_and_one_that_is_not_on_the_floor_is_not() -> None:
    found = take_off(Site("studio", "UTC", AREAS, (COAT, replace(OVER_FLAKE, over_flake=False))), SHELF)
    assert [take.product for name in ("base", "top") if (take := found.of(name))] == ["Base", "Top"]
    assert found.of("primer") is None


def test_what_stands_there_is_counted_before_anything_is_bought() -> None:
    """Kits of 4 L, one to spare. Three bought, one opened: two stand there. A rest of 6 L, 1 L of it left in the open
    kit: two kits and the spare one, one of them to buy; opened or kept are three, 13 L, and 7 L are not needed."""
    coat = replace(COAT, kit_l=4.0, split=True, price=50.0, spare_kits=1)
    found = with_stock(coat, Stock(3.0, 1.0, 1, 3), 6.0)
    assert found.kits is not None
    assert (found.kits.needed, found.kits.spare, found.kits.there, found.kits.bought) == (2, 1, 2, 1)
    assert found.kits.opened == 3
    assert found.bought_l == pytest.approx(13.0)
    assert found.left_l == pytest.approx(13.0 - 18 * 0.3 / 0.9)
    assert found.product_cost == pytest.approx(50.0)
    assert found.stock == Stock(3.0, 1.0, 1, 3)


def test_more_kits_than_are_needed_stay_there_and_none_is_bought() -> None:
    coat = replace(COAT, kit_l=4.0, split=True, price=50.0)
    found = with_stock(coat, Stock(0.0, 0.0, 0, 5), 6.0)
    assert found.kits is not None
    assert (found.kits.needed, found.kits.bought, found.kits.opened) == (2, 0, 5)
    assert found.bought_l == pytest.approx(20.0)
    assert found.product_cost == 0.0


def test_more_kits_opened_than_bought_leave_none_and_what_was_never_counted_leaves_none() -> None:
    assert Stock(9.0, 0.0, 4, 3).unopened_kits == 0
    assert Stock(9.0, 0.0, 0, None).unopened_kits == 0
    assert Stock(9.0, 0.0, 1, 3).unopened_kits == 2
    assert Stock(9.0).unopened_kits == 0
    assert Stock(9.0, bought_kits=3).unopened_kits == 3
    assert with_stock(replace(COAT, kit_l=4.0, split=True), Stock(9.0), 6.0).bought_l == pytest.approx(8.0)


def test_what_is_left_in_an_opened_kit_of_two_parts_is_used_where_parts_may_be_measured_and_of_one_part_always() -> (
    None
):
    one_part = replace(BASE, mix=MixRule(density_kg_l=(1.1,)))
    coat = replace(COAT, kit_l=4.0)
    for profile, split, needed in ((BASE, False, 2), (BASE, True, 1), (one_part, False, 1)):
        site = Site("studio", "UTC", AREAS, (replace(coat, split=split),))
        rest = batch(coat, (FloorPiece("bay 2", 18.0, 0.0),), 6.0)
        left = {("base", "bay 2"): 18.0}
        found = take_off(site, {"base": profile}, (rest,), left, {"base": Stock(2.0, 2.0, 1)}).coats[0]
        assert found.kits is not None
        assert found.kits.needed == needed, (profile.two_part, split)


def test_kits_that_hold_exactly_what_is_mixed_are_not_one_more_for_a_rounding() -> None:
    coat = replace(COAT, kit_l=4.0, split=True)
    for mixed_l, kits in ((12.0 + 1e-7, 3), (12.001, 4), (11.9, 3)):
        found = with_stock(coat, Stock(0.0), mixed_l)
        assert found.kits is not None
        assert found.kits.needed == kits


def test_what_is_left_in_opened_kits_may_be_all_that_the_rest_takes() -> None:
    coat = replace(COAT, kit_l=4.0, split=True, price=50.0)
    found = with_stock(coat, Stock(4.0, 7.0, 3, 3), 6.0)
    assert found.kits is not None
    assert (found.kits.needed, found.kits.bought, found.product_cost) == (0, 0, 0.0)


def test_grit_goes_by_what_is_mixed_and_cleaner_by_the_buckets() -> None:
    """30 g in each litre: 10 L take 300 g. Half a litre of cleaner for each of three buckets."""
    coat = replace(COAT, grit_g_l=30.0)
    assert taken(coat).coats[0].grit_kg == pytest.approx(0.3)
    assert taken(COAT).coats[0].grit_kg is None
    batches = tuple(batch(coat, (FloorPiece("bay 1", 10.0, 0.0),), 4.0, number) for number in (1, 2, 3))
    found = taken(coat, batches=batches).coats[0]
    assert found.grit_kg == pytest.approx(0.36)
    assert found.cleaner_l == pytest.approx(1.5)
    assert found.batches == 3


def test_a_price_by_the_litre_is_that_of_what_is_in_the_can_and_by_the_gallon_for_a_us_crew() -> None:
    """20 L of etch are 5 L of acid: at 2 a litre, 10; 5 L are 1.32 US gallons: at 8 a gallon, 10.57."""
    etch = Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0, price=2.0)
    assert taken(etch).coats[0].product_cost == pytest.approx(10.0)
    site = Site("studio", "UTC", AREAS, (replace(etch, price=8.0),), units=US_CREW)
    found = take_off(site, SHELF)
    assert found.coats[0].product_cost == pytest.approx(8.0 * 5.0 / 3.785412, rel=1e-5)
    assert any("taken to be that of a gallon" in each for each in found.assumed)
    assert [coat.thinner for coat in taken(etch, COAT).coats] == ["water", "none unless the sheet names one"]


def test_each_area_has_its_own_share_of_mass_parts_flake_and_cost() -> None:
    """Bay 1 is a third of the floor: 3.333 L, 3.6 kg, 2.222 L of A and 1.111 of B; 4 kg of flake stick."""
    coat = replace(COAT, flake_kg_m2=0.4, flake_price_kg=5.0, kit_l=4.0, split=True, price=60.0)
    found = taken(coat, areas=(Area("bay 1", 10.0, cove_m=3.0), Area("bay 2", 20.0)))
    bay = found.coats[0].areas[0]
    litres = (10.0 * 0.3 + 0.3 * 0.15) / 0.9
    assert (bay.area, bay.size_m2, bay.upright_m2) == ("bay 1", 10.0, pytest.approx(0.3))
    assert bay.volume_l == pytest.approx(litres)
    assert bay.mass_kg == pytest.approx(litres * 1.08)
    assert (bay.parts.a_l, bay.parts.b_l) == pytest.approx((litres * 2 / 3, litres / 3))
    assert bay.flake is not None
    assert (bay.flake.stuck_kg, bay.flake.thrown_kg) == pytest.approx((4.0, 6.0))
    assert bay.cost == pytest.approx(180.0 * litres / (litres + 20 * 0.3 / 0.9) + 30.0)
    assert bay.dilution is None


def test_an_area_has_its_own_acid_and_water() -> None:
    """Bay 1, 10 m² at 1.5 m² a litre: 6.667 L, of which 1.667 L of acid and 5 L of water."""
    bay = taken(Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)).coats[0].areas[0].dilution
    assert bay is not None
    assert (bay.product_l, bay.water_l) == pytest.approx((5 / 3, 5.0))


def test_flake_without_a_price_is_named_as_left_out_and_costs_nothing_that_is_known() -> None:
    found = taken(replace(COAT, flake_kg_m2=0.4, kit_l=5.0, split=True, price=80.0))
    assert found.unpriced == ("flake (base)",)
    assert found.coats[0].flake_cost is None
    assert found.coats[0].cost == found.cost == pytest.approx(160.0)
    plain = taken(COAT)
    assert (plain.cost, plain.coats[0].cost, plain.coats[0].areas[0].cost) == (None, None, None)
    assert plain.cost_by_area() == {}
    only_flake = taken(replace(COAT, flake_kg_m2=0.4, flake_price_kg=5.0))
    assert (only_flake.unpriced, only_flake.cost) == (("Base (base)",), pytest.approx(90.0))
    assert only_flake.cost_by_area() == pytest.approx({"bay 1": 30.0, "bay 2": 60.0})


def test_what_is_mixed_or_bought_short_of_the_floor_leaves_nothing_rather_than_less() -> None:
    short = taken(COAT, batches=(batch(COAT, (FloorPiece("bay 1", 30.0, 0.0),), 8.0),)).coats[0]
    assert (short.surplus_l, short.left_l) == (0.0, 0.0)
    over = taken(COAT, batches=(batch(COAT, (FloorPiece("bay 1", 30.0, 0.0),), 11.0),)).coats[0]
    assert (over.surplus_l, over.left_l) == pytest.approx((1.0, 1.0))


def test_what_the_floor_is_taken_to_be_is_said_where_nobody_said_it() -> None:
    smooth = "the slab is taken to be smooth where the job file states no texture"
    for areas, words in (
        (AREAS, (smooth,)),
        ((Area("bay 1", 10.0, texture="rough"),), ("a rough slab takes 200 µm before any film stands on it",)),
        (
            (Area("bay 1", 10.0, texture="ground"), Area("bay 2", 5.0, cove_m=2.0)),
            (
                "a ground slab takes 30 µm before any film stands on it",
                smooth,
                "a cove takes a strip of 10 cm",
                "coves and stairs are laid in coats of half the film: they sag",
            ),
        ),
        (
            (Area("bay 1", 10.0, stairs_m=2.0), Area("bay 2", 5.0)),
            (
                smooth,
                "a stair has 45 cm of tread and riser, all along it",
                "coves and stairs are laid in coats of half the film: they sag",
            ),
        ),
    ):
        said = [each.partition(" (")[0] for each in said_of(COAT, areas=areas)]
        floor = [each for each in said if any(word in each for word in ("slab", "cove", "stair"))]
        assert floor == list(words)


def test_what_a_sheet_of_acid_leaves_open_is_said_and_nothing_that_it_states() -> None:
    bare = Profile("Etch", Family.ACID_ETCH, "invented", MixRule(density_kg_l=(1.16,)))
    plain, told = Coat("etch", "Etch", waste=0.0), Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)
    thinned, goes = "three parts of water to one of acid", "where neither job file nor sheet says how far an etch goes"
    strong = "the acid is taken to be muriatic acid of 31 %"
    for profile, coat, expected in (
        (bare, plain, [thinned, goes, strong]),
        (bare, told, [thinned, strong]),
        (bare, replace(plain, wet_film_um=600.0), [thinned, strong]),
        (replace(bare, dilution=Dilution(4.0)), plain, [goes, strong]),
        (replace(bare, dilution=Dilution(4.0, 1.5)), plain, [strong]),
        (replace(bare, dilution=Dilution(acid_pct=31.0)), told, [thinned]),
        (ETCH, told, []),
    ):
        said = said_of(coat, profile=profile)
        assert [words for words in (thinned, goes, strong) if any(words in each for each in said)] == expected
    assert not any(words in each for words in (thinned, goes, strong) for each in said_of(COAT))


def test_densities_are_said_to_be_taken_only_where_the_sheet_has_none_and_a_filled_one_only_for_kits_by_weight() -> (
    None
):
    plain = Profile("Plain", Family.EPOXY, "invented", MixRule((2.0, 1.0)))
    by_volume, by_weight = Coat("a", "Plain", wet_film_um=300.0), Coat("b", "Plain", wet_film_um=300.0, kit_kg=12.0)
    for coat, usual, filled in ((by_volume, 1, 0), (by_weight, 0, 1), (COAT, 0, 0), (replace(COAT, kit_kg=12.0), 0, 0)):
        said = said_of(coat, profile=plain)
        assert sum("a sheet states no densities" in each for each in said) == usual
        assert sum("it makes least" in each for each in said) == filled


def test_what_share_is_lost_and_how_much_flake_sticks_is_said_where_it_is_assumed() -> None:
    lost = "5 % stays in pails and rollers"
    assert any(lost in each for each in said_of(replace(COAT, waste=None)))
    assert not any(lost in each for each in said_of(COAT))
    flaked = said_of(replace(COAT, flake_kg_m2=0.4))
    assert [each for each in flaked if "sticks at full cover" in each or "is swept back" in each] == [
        "0.49 kg/m² of flake sticks at full cover (common practice, no source)",
        "half as much flake again is thrown as sticks, and is swept back (common practice, no source)",
    ]
    assert not any("flake" in each for each in said_of(COAT))


def test_the_coats_that_nothing_is_left_of_are_not_listed_and_a_coat_keeps_to_its_own_areas() -> None:
    site = Site("studio", "UTC", AREAS, (replace(COAT, areas=("bay 2",)),))
    found: TakeOff = take_off(site, SHELF)
    assert [area.area for area in found.coats[0].areas] == ["bay 2"]
    assert take_off(site, SHELF, left_m2={}).coats == ()
    assert take_off(site, SHELF, left_m2={("base", "bay 2"): 0.4}).coats[0].areas[0].size_m2 == 0.4
