"""The take-off against sums worked by hand in the comments."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.plan.floor.flake import flake_of
from mixclock.decide.plan.floor.plans import FloorPiece, PlannedBatch
from mixclock.decide.plan.floor.quantities import amounts, split_parts
from mixclock.decide.plan.floor.stock import Stock
from mixclock.decide.plan.floor.takeoff import TakeOff, take_off
from mixclock.job.profile import Dilution, Family, MixRule, Profile
from mixclock.job.site import Area, Coat, Site

BASE = Profile("Base", Family.EPOXY, "invented", MixRule((2.0, 1.0), None, (1.13, 0.98)))
TOP = Profile("Top", Family.WATERBORNE_EPOXY, "invented", MixRule((4.0, 1.0), None, (1.2, 1.1)))
ETCH = Profile(
    "Etch", Family.ACID_ETCH, "invented", MixRule(density_kg_l=(1.16,)), dilution=Dilution(3.0, 1.5, acid_pct=31.0)
)
NEUTRAL = Profile("Soda", Family.NEUTRALISER, "invented", MixRule(density_kg_l=(1.02,)), dilution=Dilution(10.0))
SHELF = {profile.name.casefold(): profile for profile in (BASE, TOP, ETCH, NEUTRAL)}
AT = datetime(2026, 4, 13, 8, tzinfo=UTC)
AREAS = (Area("bay 1", 10.0), Area("bay 2", 20.0))
COAT = Coat("base", "Base", wet_film_um=300.0, waste=0.1)


def taken(*coats: Coat, areas: tuple[Area, ...] = AREAS, batches: tuple[PlannedBatch, ...] = ()) -> TakeOff:
    return take_off(Site("studio", "UTC", areas, coats, currency="EUR"), SHELF, batches)


def batch(coat: Coat, pieces: tuple[FloorPiece, ...], volume_l: float, number: int = 1) -> PlannedBatch:
    return PlannedBatch(
        number, coat.name, coat.product, pieces, volume_l, volume_l, volume_l, None, None, None, None, None, AT, AT,
        None, "pail", "",
    )  # fmt: skip


def test_a_floor_worked_by_hand_takes_ten_litres() -> None:
    # 30 m² at 300 µm are 9 L; a tenth of what is mixed stays in pails: 9 / 0.9 = 10 L.
    # 2 : 1 is 6.667 L of A at 1.13 = 7.533 kg and 3.333 L of B at 0.98 = 3.267 kg, together 10.8 kg.
    found = taken(COAT).coats[0]
    assert found.needed_l == pytest.approx(10.0)
    assert found.parts.a_l == pytest.approx(20 / 3)
    assert found.parts.b_l == pytest.approx(10 / 3)
    assert found.parts.a_kg == pytest.approx(7.5333, abs=1e-4)
    assert found.parts.b_kg == pytest.approx(3.2667, abs=1e-4)
    assert found.mass_kg == pytest.approx(10.8)
    assert [area.volume_l for area in found.areas] == pytest.approx([10 / 3, 20 / 3])


def test_kits_are_bought_whole_with_one_to_spare_where_asked_and_the_rest_is_left() -> None:
    # 10 L out of kits of 4 L: 3 kits, 12 L; with one to spare 4 kits, 16 L, 6 L left
    found = taken(replace(COAT, kit_l=4.0, split=True, spare_kits=1, price=50.0)).coats[0]
    assert found.kits is not None
    assert (found.kits.needed, found.kits.spare, found.kits.bought) == (3, 1, 4)
    assert found.left_l == pytest.approx(6.0)
    assert found.product_cost == pytest.approx(200.0)


def test_batches_of_whole_kits_may_take_more_kits_than_the_floor_would() -> None:
    # two batches of one 8 L kit each, though 10 L would do: two kits, 6 L mixed and left
    coat = replace(COAT, kit_l=8.0)
    batches = (
        batch(coat, (FloorPiece("bay 1", 10.0, 0.0),), 8.0),
        batch(coat, (FloorPiece("bay 2", 20.0, 0.0),), 8.0, number=2),
    )
    found = taken(coat, batches=batches).coats[0]
    assert found.kits is not None
    assert found.kits.bought == 2
    assert found.surplus_l == pytest.approx(6.0)


def test_the_rest_of_a_floor_takes_only_what_is_left_to_lay() -> None:
    site = Site("studio", "UTC", AREAS, (COAT, Coat("top", "Top", wet_film_um=100.0, after="base")))
    rest = take_off(site, SHELF, (batch(COAT, (FloorPiece("bay 2", 20.0, 0.0),), 6.7),), {("base", "bay 2"): 20.0})
    assert [coat.coat for coat in rest.coats] == ["base"]
    assert [area.area for area in rest.coats[0].areas] == ["bay 2"]


def test_flake_at_full_cover_is_thrown_to_refusal_and_a_third_of_it_swept_back() -> None:
    # 0.4 kg/m² on 30 m² stick: 12 kg; 18 kg thrown, 6 kg swept back (common practice, no source)
    found = taken(replace(COAT, flake_kg_m2=0.4, flake_size="1/4 in", flake_price_kg=5.0)).coats[0]
    assert found.flake is not None
    assert found.flake.to_refusal
    assert found.flake.named == "1/4 in flake"
    assert (found.flake.stuck_kg, found.flake.thrown_kg, found.flake.swept_kg) == pytest.approx((12.0, 18.0, 6.0))
    assert found.flake_cost == pytest.approx(90.0)
    assert [area.flake.thrown_kg for area in found.areas if area.flake] == pytest.approx([6.0, 12.0])


def test_flake_with_a_price_costs_what_is_thrown_by_the_batches_of_a_plan() -> None:
    # 0.4 kg/m² stick; half as much again is thrown: 0.6 kg/m². Bay 1, 10 m²: 6 kg at 5.50 = 33. Bay 2 is planned in two
    # batches of 8 and 12 m²: 4.8 + 7.2 = 12 kg, 66. Together 18 kg, 99. The base, 50 a kit of 4 L: 3 kits, 150. In all
    # 249. The flake alone, by areas: 33 and 66; the base by its litres, 10 : 20 of 150 = 50 and 100; so 83 and 166.
    coat = replace(COAT, flake_kg_m2=0.4, flake_price_kg=5.5, kit_l=4.0, split=True, price=50.0)
    batches = (
        batch(coat, (FloorPiece("bay 1", 10.0, 0.0),), 10 / 3),
        batch(coat, (FloorPiece("bay 2", 8.0, 0.0, 1, 2),), 8 / 3, number=2),
        batch(coat, (FloorPiece("bay 2", 12.0, 0.0, 2, 2),), 4.0, number=3),
    )
    found = taken(coat, batches=batches)
    assert found.coats[0].flake_cost == pytest.approx(99.0)
    assert found.coats[0].product_cost == pytest.approx(150.0)
    assert found.cost == pytest.approx(249.0)
    assert found.cost_by_area() == pytest.approx({"bay 1": 83.0, "bay 2": 166.0})
    assert found.unpriced == ()


def test_half_the_flake_leaves_base_showing_and_is_not_thrown_to_refusal() -> None:
    found = taken(replace(COAT, flake_kg_m2=0.244)).coats[0].flake
    assert found is not None
    assert found.cover_share == pytest.approx(0.5)
    assert not found.to_refusal
    assert found.thrown_kg < 1.5 * found.stuck_kg


def test_sand_is_measured_by_the_cover_of_sand() -> None:
    found = taken(replace(COAT, flake_kg_m2=2.44, flake_size="0.4-0.8 mm quartz")).coats[0].flake
    assert found is not None
    assert found.material == "sand"
    assert found.cover_share == pytest.approx(1.0)


def test_coves_and_stairs_take_their_own_by_length_in_thinner_coats() -> None:
    # 20 m of cove 10 cm high are 2 m², 4 m of stairs 45 cm are 1.8 m²; 3.8 m² at 150 µm are 0.57 L, /0.9 = 0.633 L
    plain = taken(COAT).coats[0].needed_l
    trimmed = taken(COAT, areas=(replace(AREAS[0], cove_m=20.0, stairs_m=4.0), AREAS[1]))
    assert trimmed.coats[0].needed_l - plain == pytest.approx(0.6333, abs=1e-4)
    assert any("sag" in line for line in trimmed.assumed)


def test_stairs_and_the_strip_of_a_cove_are_etched_as_wet_as_the_floor() -> None:
    """By hand: 10 m² of floor, 20 m of cove 10 cm high and 4 m of stairs 45 cm are 13.8 m²; at 1.5 m²/L 9.2 L, of
    which a quarter is acid, 2.3 L. Nothing sags that is rinsed off, so nothing is laid thin."""
    etch = Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)
    found = taken(etch, areas=(replace(AREAS[0], cove_m=20.0, stairs_m=4.0),))
    dilution = found.coats[0].dilution
    assert dilution is not None
    assert (found.coats[0].needed_l, dilution.product_l) == (pytest.approx(9.2), pytest.approx(2.3))
    assert not any("sag" in line for line in found.assumed)


def test_a_rough_slab_takes_more_than_its_film() -> None:
    # rough is 200 µm more: 10 m² at 500 µm are 5 L, /0.9
    found = taken(COAT, areas=(Area("bay 1", 10.0, texture="rough"),)).coats[0]
    assert found.needed_l == pytest.approx(5.0 / 0.9)


def test_only_the_first_coat_that_stays_fills_a_rough_slab() -> None:
    """10 m² at 300 µm are 3 L, and 200 µm for the slab 2 L more, of 0.9 in the pail: the second coat lies on the first.
    What was etched is as rough as before, and a bay that the first coat leaves out is too."""
    rough, other = Area("bay 1", 10.0, texture="rough"), Area("bay 2", 10.0, texture="rough")
    second = replace(COAT, name="second", after=COAT.name)
    first, above = taken(COAT, second, areas=(rough,)).coats
    assert (first.needed_l, above.needed_l) == (pytest.approx(5.0 / 0.9), pytest.approx(3.0 / 0.9))
    etch = Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)
    assert taken(etch, replace(COAT, after="etch"), areas=(rough,)).coats[1].needed_l == pytest.approx(5.0 / 0.9)
    (_, both) = taken(replace(COAT, areas=("bay 1",)), second, areas=(rough, other)).coats
    assert both.needed_l == pytest.approx((3.0 + 5.0) / 0.9)
    assert sum("rough" in line for line in taken(COAT, second, areas=(rough,)).assumed) == 1


def test_an_etch_is_three_parts_of_water_to_one_of_acid_with_soda_for_all_of_the_acid() -> None:
    # 30 m² at 1.5 m²/L are 20 L of solution: 5 L of acid into 15 L of water; strength 31/(1+3·0.998/1.16) = 8.66 %;
    # soda for 5 L · 1.16 · 31 % = 1.798 kg HCl · 84.007/36.461 = 4.14 kg at most
    found = taken(Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)).coats[0].dilution
    assert found is not None
    assert (found.product_l, found.water_l) == pytest.approx((5.0, 15.0))
    assert found.acid_pct == pytest.approx(8.66, abs=0.01)
    assert found.soda_kg == pytest.approx(4.143, abs=0.002)


def test_a_can_of_acid_goes_as_far_as_its_solution() -> None:
    # 20 L of solution from cans of 2 L acid, each makes 8 L: 3 cans
    found = taken(Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0, kit_l=2.0, split=True)).coats[0]
    assert found.kits is not None
    assert (found.kits.bought, found.kits.size_l) == (3, pytest.approx(8.0))


def test_a_neutraliser_is_thinned_and_has_no_strength_of_acid() -> None:
    found = taken(Coat("soda", "Soda", spread_m2_l=2.0, waste=0.0)).coats[0].dilution
    assert found is not None
    assert found.acid_pct is None
    assert found.product_l == pytest.approx(15.0 / 11.0)


def test_tools_in_a_waterborne_are_cleaned_with_water_others_with_what_the_sheet_names() -> None:
    found = taken(COAT, Coat("top", "Top", wet_film_um=100.0))
    assert [coat.cleaner for coat in found.coats] == ["the cleaner that the sheet names", "water"]
    assert [coat.cleaner_l for coat in found.coats] == [0.5, None]


def test_what_has_no_price_is_named_and_left_out_of_the_total() -> None:
    found = taken(replace(COAT, kit_l=5.0, split=True, price=80.0), Coat("top", "Top", wet_film_um=100.0))
    assert found.cost == pytest.approx(160.0)
    assert found.unpriced == ("Top (top)",)
    assert found.cost_by_area() == pytest.approx({"bay 1": 160 / 3, "bay 2": 320 / 3})


@given(
    sizes=st.lists(st.floats(0.5, 200.0), min_size=1, max_size=6),
    film_um=st.floats(50.0, 1000.0),
    waste=st.floats(0.0, 0.5),
    kit_l=st.floats(0.5, 60.0),
)
def test_areas_add_up_to_the_coat_and_the_kits_always_reach(
    sizes: list[float], film_um: float, waste: float, kit_l: float
) -> None:
    areas = tuple(Area(f"bay {number}", size) for number, size in enumerate(sizes))
    coat = Coat("base", "Base", wet_film_um=film_um, waste=waste, kit_l=kit_l, split=True, price=10.0)
    found = taken(coat, areas=areas).coats[0]
    assert sum(area.volume_l for area in found.areas) == pytest.approx(found.needed_l)
    assert sum(area.cost or 0.0 for area in found.areas) == pytest.approx(found.cost)
    assert found.kits is not None
    assert found.bought_l >= found.needed_l - 1e-4
    assert (found.kits.needed - 1) * kit_l < found.needed_l


def test_the_rest_of_a_floor_is_bought_less_what_stands_there() -> None:
    """By hand: 30 m² take 10 L, kits of 4 L; 3 were bought. Mixed so far 5 L: two kits opened, 3 L left in them, one
    unopened. The rest is 6 L: 3 L from the opened kits, 3 L from one kit more, which stands there. A rest of 9 L takes
    two kits more: one is bought."""
    coat = replace(COAT, kit_l=4.0, split=True, price=50.0)
    site = Site("studio", "UTC", AREAS, (coat,))
    stocks = {"base": Stock(5.0, 3.0, 2, 3)}
    for rest_l, needed, bought in ((6.0, 1, 0), (9.0, 2, 1)):
        rest = batch(coat, (FloorPiece("bay 2", 18.0, 0.0),), rest_l)
        found = take_off(site, SHELF, (rest,), {("base", "bay 2"): 18.0}, stocks).coats[0]
        assert found.kits is not None
        assert (found.kits.needed, found.kits.bought, found.product_cost) == (needed, bought, 50.0 * bought)


def test_where_nothing_fits_any_more_only_what_is_left_is_listed() -> None:
    site = Site("studio", "UTC", AREAS, (COAT, Coat("top", "Top", wet_film_um=100.0, after="base")))
    left = {("base", "bay 1"): 0.0, ("base", "bay 2"): 12.0, ("top", "bay 1"): 10.0, ("top", "bay 2"): 20.0}
    base, top = take_off(site, SHELF, (), left).coats
    assert [(area.area, area.size_m2) for area in base.areas] == [("bay 2", 12.0)]
    assert sum(area.size_m2 for area in top.areas) == 30.0


def test_a_kit_by_weight_without_densities_is_taken_to_make_little() -> None:
    """A filled resin of 1.6 kg/L makes 7.5 L of a kit of 12 kg; taken as unfilled it would be 10.9 L, and 10 L of floor
    would be one kit short."""
    plain = Profile("Plain", Family.EPOXY, "invented", MixRule((2.0, 1.0)))
    coat = Coat("base", "Plain", wet_film_um=300.0, waste=0.1, kit_kg=12.0, split=True)
    found = take_off(Site("studio", "UTC", AREAS, (coat,)), {"plain": plain})
    assert found.coats[0].kits is not None
    assert found.coats[0].kits.bought == 2
    assert any("makes least" in line for line in found.assumed)


def test_a_price_is_said_to_be_a_litres_only_where_no_kit_has_it_and_cleaner_only_where_water_does_not_clean() -> None:
    of_a_litre, cleaner = "taken to be that of a litre", "500 mL of cleaner for the tools of each batch"
    top = Coat("top", "Top", wet_film_um=100.0, waste=0.1, price=9.0)
    for coat, by_litre, with_cleaner in (
        (replace(COAT, price=9.0), 1, 1),
        (replace(COAT, price=50.0, kit_l=4.0, split=True), 0, 1),
        (COAT, 0, 1),
        (top, 1, 0),
    ):
        said = taken(coat).assumed
        assert sum(of_a_litre in each for each in said) == by_litre, said
        assert sum(cleaner in each for each in said) == with_cleaner, said


def test_a_bucket_of_a_whole_kit_by_weight_weighs_what_the_kit_does() -> None:
    """12 kg, 4 to 1 by weight, no densities: 9.6 kg of A and 2.4 kg of B, whatever volume it is taken to make."""
    sheet = Profile("Filled", Family.EPOXY, "invented", MixRule(ratio_by_mass=(4.0, 1.0)))
    coat = Coat("base", "Filled", wet_film_um=300.0, kit_kg=12.0)
    found = amounts(coat, sheet, (FloorPiece("bay 1", 20.0, 0.0),))
    assert (found.kits, round(found.mass_kg, 6)) == (1.0, 12.0)
    a_kg, b_kg = split_parts(sheet, found.mixed_l, found.mass_kg)[2:]
    assert (round(a_kg or 0.0, 6), round(b_kg or 0.0, 6)) == (9.6, 2.4)


def test_more_sand_than_sticks_is_thrown_and_swept_back_not_stuck() -> None:
    """6 kg asked for on a square metre, 2.44 stick at full cover: of 96 kg on 16 m² some 40 kg stay."""
    flake = flake_of(Coat("base", "Base", flake_kg_m2=6.0, flake_size="sand"), 16.0)
    assert flake.thrown_kg == 96.0
    assert 39.0 <= flake.stuck_kg <= 40.0
    assert flake.cover_share == 1.0
    rounded = flake_of(Coat("base", "Base", flake_kg_m2=0.49), 10.0)
    assert rounded.stuck_kg == 4.9
