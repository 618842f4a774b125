"""What a crew reads of a plan in the terminal."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.plan.floor.plans import FROM_THE_JOINT, Chance, FloorPiece, PlannedStep, SoonestFinish
from mixclock.decide.plan.floor.systems import Comparison, System
from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.job.site import Area
from mixclock.units import US_CREW
from mixclock.words.plan import plan_lines
from mixclock.words.plan.daylist import person_rows
from mixclock.words.plan.purchases import area_line, coat_lines, total_lines
from mixclock.words.plan.text import fit, person_lines
from tests.words.plan.plans import BATCHES, NO_PLAN, PLAN, SHELF, SITE, STEPS, at, etch_sheet, sheet


def text(lines: list[str]) -> str:
    """The lines as one, however they were broken."""
    return " ".join(" ".join(lines).split())


def test_the_first_lines_say_whether_it_fits_when_it_is_done_and_what_is_tight() -> None:
    said = text(plan_lines(sheet())[:6])
    assert "it fits. 2 batches of base, 1 batch of top; done Tue 14 Apr 8:04" in said
    assert "Tightest: pour batch 1, bay 1, 14 min to spare" in said
    assert "All of it holds with 9 chances in 10 (93 %)" in said


def test_no_line_is_longer_than_80_columns() -> None:
    for told in (sheet(), sheet(NO_PLAN), etch_sheet()):
        assert all(len(line) <= 80 for line in plan_lines(told))


@given(name=st.text(st.characters(codec="utf-8", categories=("L", "N", "Z", "P")), min_size=1, max_size=200))
def test_even_long_names_keep_to_80_columns(name: str) -> None:
    assert all(len(line) <= 80 for line in fit(f"    {name}"))


def test_each_person_reads_their_own_times_and_edges_on_the_clock_of_the_studio() -> None:
    mixer, roller = text(list(person_lines(sheet(), "mixer"))), text(list(person_lines(sheet(), "roller")))
    assert "8:06 to 8:07 pour batch 1, bay 1: by 8:21, 14 min to spare" in mixer
    assert "8:22 to 8:32 flake batch 1, bay 1, 6 kg: by 9:00, 28 min to spare; leave 40 cm" in roller
    assert "flake" not in mixer


def test_whoever_measures_out_reads_the_amounts_in_their_own_list() -> None:
    """10 m² at 300 µm, of which a twentieth stays behind: 3.158 L, two of A to one of B, 1.13 and 0.98 kg/L."""
    mixer = text(list(person_lines(sheet(), "mixer")))
    assert "measure out, stir A: batch 1, base: A 2.11 L or 2.38 kg, B 1.05 L or 1.03 kg" in mixer
    whole = replace(PLAN, batches=(replace(BATCHES[0], kits=2.0), *BATCHES[1:]))
    assert "stir A: batch 1, base: 2 kits 8:03" in text(list(person_lines(sheet(whole), "mixer")))
    etched = text([line for who in etch_sheet().people() for line in person_lines(etch_sheet(), who)])
    assert "by mass" not in etched
    assert "by volume" not in etched


def test_a_strips_flake_is_its_share_of_the_buckets() -> None:
    """0.6 kg a square metre and ten of them: 6 kg are thrown on bay 1, in three strips 2 kg each."""
    steps = tuple(replace(step, strip=1) if step.kind == "broadcast" else step for step in STEPS)
    batches = tuple(replace(batch, strips=3) for batch in BATCHES)
    roller = text(list(person_lines(sheet(replace(PLAN, steps=steps, batches=batches)), "roller")))
    assert "flake, 2 kg by 9:00" in roller


def test_where_nothing_more_is_bought_no_sum_is_said_and_no_area_costs_nothing() -> None:
    told = sheet()
    bought = replace(
        told.take, coats=tuple(replace(coat, product_cost=0.0, flake_cost=None) for coat in told.take.coats)
    )
    assert not list(total_lines(replace(told, take=bought)))
    area = replace(told.take.coats[0].areas[0], cost=0.0)
    assert "0.00" not in area_line(told, area)
    assert [line for line in total_lines(told) if line.startswith("By area")]


def test_a_squeegee_is_told_when_to_reach_the_joint_not_when_to_end() -> None:
    assert "reach the joint by 8:50, 26 min to spare" in text(list(person_lines(sheet(), "mixer")))


def test_purchases_say_kits_parts_leftover_flake_and_cost() -> None:
    # 22 m² at 300 µm are 6.6 L, /0.95 = 6.947 L: one kit of 9 L, 2.05 L left; flake 8.8 kg sticks, 13.2 thrown
    said = text(plan_lines(sheet()))
    assert "6.9 L (7.5 kg) needed: A 4.63 L or 5.23 kg, B 2.32 L or 2.27 kg" in said
    assert "buy 1 kit of 9 L" in said
    assert "2.1 L left over" in said
    assert "13.2 kg of 1/4 in flake to throw to refusal: 8.8 kg sticks (82 % of full cover), 4.4 kg is swept" in said
    assert "In all 95.00 EUR, without Fast top (top), 1/4 in flake (base): no price" in said


def test_a_mix_sheet_gives_both_parts_to_three_figures_in_the_order_of_adding() -> None:
    lines = plan_lines(sheet())
    first = next(index for index, line in enumerate(lines) if "BATCH 1" in line)
    assert "A          2.11 L   2.38 kg   into the pail first" in lines[first + 1]
    assert "B          1.05 L   1.03 kg   into A, all of it: the clock runs from here" in lines[first + 2]
    said = text(lines[first:])
    assert "B into A at 8:03, mixer" in said
    assert "Let it stand until 8:16" in said
    assert "pour by 8:21, 14 min to spare" in said
    assert "Have 6 kg of 1/4 in flake ready" in said


def test_mixing_goes_with_its_cautions_and_defers_to_the_safety_data_sheet() -> None:
    said = text(plan_lines(sheet()))
    assert "! Own caution." in said
    assert "Isocyanates in part B harm the lungs" in said
    assert "safety data sheet, local rules and licensed practice come before this" in said
    assert "Loose flake is slippery" in said


def test_acid_goes_into_water_on_the_mix_sheet_and_in_the_purchases() -> None:
    lines = plan_lines(etch_sheet())
    water = next(index for index, line in enumerate(lines) if line.startswith("    water"))
    assert "into the pail first" in lines[water]
    assert lines[water + 1].startswith("    acid")
    assert "INTO the water, slowly; never the other way" in lines[water + 1]
    said = text(lines)
    assert "3.7 L of acid INTO 11 L of water, never the other way: 3 parts of water to one of acid" in said
    assert "rinse twice, until clean rinse water has the pH of the tap's" in said
    assert "kg of baking soda, or as much of another neutraliser, stands ready" in said
    assert "Acid into water, never water into acid." in said


def test_nothing_fits_says_what_is_in_the_way_and_what_would_free_it() -> None:
    said = text(plan_lines(sheet(NO_PLAN)))
    assert "no plan fits" in said
    assert "In the way: base on bay 2: this crew can't roll it before it stops levelling." in said
    assert "To make it fit: one more person who rolls. Then 2 batches, done Mon 13 Apr 10:00" in said
    assert "To make it fit: batches of at most 2 L" in said


def test_nothing_that_was_tried_helping_is_said_too() -> None:
    assert "mixclock tried changes, alone and two together: none of those makes it fit" in text(
        plan_lines(sheet(replace(NO_PLAN, changes=())))
    )


def test_what_changed_what_is_kept_and_a_search_cut_short_are_said_first() -> None:
    plan = replace(PLAN, changed=("done 12 min later than planned before",), kept=(1, 2), stopped_early=True)
    said = text(plan_lines(sheet(plan))[:14])
    assert "Changed: done 12 min later than planned before." in said
    assert "2 batches are stated already and kept" in said
    assert "best so far" in said


def test_a_us_crew_buys_gallons_and_pounds() -> None:
    site = replace(SITE, units=US_CREW, currency="USD", areas=(Area("bay 1", 10.0), Area("bay 2", 12.0)))
    said = text(plan_lines(sheet(PLAN, site))).partition("ASSUMED")[0]
    assert "gal" in said
    assert "lb" in said
    assert " kg" not in said
    assert "USD" in said


def test_a_step_that_would_come_too_late_is_not_told_as_spare_time() -> None:
    late = replace(STEPS[2], slack_s=-90.0)
    assert "2 min too late" in text(plan_lines(sheet(replace(PLAN, steps=(late,)))))


def test_two_products_are_compared_on_quantity_cost_time_slack_and_what_they_leave_out() -> None:
    one = System("Slow base", PLAN, take_off(SITE, SHELF, PLAN.batches), ("no windows.recoat: when",))
    other = System("Fast base", NO_PLAN, take_off(SITE, SHELF), ())
    told = replace(sheet(), compared=Comparison(("base",), one, other, ("base: the same 300 µm dry",)))
    said = text(plan_lines(told))
    assert "base: the same 300 µm dry" in said
    assert "least slack 14 min, pour" in said
    assert "done Tue 14 Apr 8:04 base on bay 2: this crew" in said
    assert "Slow base would leave out: no windows.recoat: when" in said
    assert "Fast base would leave out: nothing" in said


def scraping(areas: tuple[str, ...], since: float, until: float) -> PlannedStep:
    return PlannedStep("scrape", "roller", at(since), at(until), "base", areas=areas, window="scrape")


def test_a_scraping_that_only_goes_on_is_one_line_of_the_day() -> None:
    """Two buckets lie on bay 1: whoever scrapes it does so once."""
    rows = (scraping(("bay 1",), 0, 13), scraping(("bay 1",), 13, 26), scraping(("bay 2",), 26, 40))
    told = list(person_rows(sheet(replace(PLAN, steps=rows)), "roller"))
    assert [(begins, ends) for _, begins, ends, _ in told] == [("8:00", "8:26"), ("8:26", "8:40")]


def test_what_is_left_of_a_bucket_under_way_is_told_with_its_strip_and_amount() -> None:
    step = PlannedStep("pour", "roller", at(0), at(1), "base", 7, ("bay 1",), note="670 mL on 4 m²", strip=2)
    ((_, _, _, told),) = person_rows(sheet(replace(PLAN, steps=(step,))), "roller")
    assert told == "batch 7, strip 2, bay 1: pour; 670 mL on 4 m²"


def test_a_us_crew_reads_all_areas_of_a_coat_in_the_same_unit() -> None:
    """Four gallons for the hall and under one for the porch: not 77 fl oz beside gallons."""
    site = replace(SITE, units=US_CREW, areas=(Area("hall", 45.0), Area("porch", 7.0)))
    lines = plan_lines(sheet(replace(PLAN, batches=()), site))
    begins = lines.index("AREA BY AREA")
    base = [line for line in lines[begins : lines.index("", begins)] if line.strip().startswith("base:")]
    assert len(base) == 2
    assert all("gal" in line and "fl oz" not in line for line in base), base


def strip_step(kind: str, since: float, until: float, strip: int, by: float | None = None, joint: bool = False) -> (
    PlannedStep
):  # fmt: skip
    note = FROM_THE_JOINT if joint else ""
    due, slack_s = (None, None) if by is None else (at(by), (by - until) * 60.0)
    return PlannedStep(
        kind, "roller", at(since), at(until), "base", 1, ("bay 1",), None, due, slack_s, note, strip=strip
    )


def test_all_that_one_person_does_on_a_strip_is_one_row_with_the_tightest_reserve() -> None:
    """Four rows of two lines each for a strip of ten minutes: nobody reads that beside a bucket."""
    rows = (
        strip_step("pour", 0, 1, 1, 18),
        strip_step("squeegee", 1, 3, 1),
        strip_step("roll", 3, 6, 1, 10),
        strip_step("pour", 6, 7, 2, 18),
        strip_step("squeegee", 7, 9, 2, 11, joint=True),
        strip_step("roll", 9, 12, 2, 20),
    )
    batches = (replace(BATCHES[0], strips=2), *BATCHES[1:])
    told = list(person_rows(sheet(replace(PLAN, steps=rows, batches=batches)), "roller"))
    assert [row[1:] for row in told] == [
        ("8:00", "8:06", "batch 1, strip 1 of 2, bay 1: pour, squeegee, back-roll by 8:10 (4 min to spare)"),
        (
            "8:06",
            "8:12",
            "batch 1, strip 2 of 2: pour by 8:18, squeegee from the joint by 8:11 (2 min to spare), back-roll by 8:20",
        ),
    ]


def test_a_break_and_the_setting_up_belong_to_no_coat() -> None:
    rows = tuple(
        PlannedStep(kind, "roller", at(since), at(since + 20), "base", by=at(90), slack_s=60.0)
        for since, kind in ((0, "set-up"), (30, "break"))
    )
    told = [row[3] for row in person_rows(sheet(replace(PLAN, steps=rows)), "roller")]
    assert told[1] == "break"
    assert told[0].startswith("set up: tools, sheeting, pails")
    assert "base" not in told[0]


def test_what_holds_for_every_bucket_is_said_once_for_all_coats() -> None:
    lines = plan_lines(sheet())
    cautions = [line for line in lines if line.startswith("  ! ")]
    assert len(cautions) == len(set(cautions)), "a caution stands twice"
    shared = lines[lines.index("MIXING, EVERY BUCKET") :]
    assert "Name the dump spot" in text(shared[: shared.index("")])
    top = text(lines[lines.index("MIX SHEETS: top, Fast top") :]).partition("BATCH")[0]
    assert "Isocyanates" in top
    assert "Name the dump spot" not in top


def test_what_is_left_over_reads_as_a_person_says_it() -> None:
    def left(mixed_l: float, bought_l: float) -> str:
        base = replace(take_off(SITE, SHELF, PLAN.batches).coats[0], needed_l=6.3, mixed_l=mixed_l, bought_l=bought_l)
        told = replace(sheet(), take=replace(take_off(SITE, SHELF, PLAN.batches), coats=(base,)))
        return next(line for line in coat_lines(told, base) if "left over" in line)

    assert left(9.0, 9.0) == "2.7 L left over, all of it mixed: spread it out thin"
    assert left(9.0, 18.0) == "11.7 L left over: 2.7 L of it mixed and to be spread out thin, 9 L unopened"
    assert left(6.4, 9.0) == "2.7 L left over"
    assert left(6.3, 6.32) == "none left over"


def test_one_pail_has_one_clean_one_to_change_into() -> None:
    said = text(plan_lines(sheet()))
    assert "in use at once: 1 mixing pail and a clean one to change into; 1 squeegee; 1 roller" in said


def test_two_plans_of_the_same_chance_in_ten_are_told_apart_in_hundredths() -> None:
    chance, soonest = replace(PLAN.chance or Chance(1, 0.0), holds=0.97), SoonestFinish(at(20), 0.91)
    said = text(plan_lines(sheet(replace(PLAN, chance=chance, soonest=soonest))))
    assert "97 chances in 100; it could be Mon 13 Apr 8:20, but that holds with 91 chances in 100 only" in said


def test_kits_by_weight_are_bought_by_weight() -> None:
    base = replace(SITE.coats[0], kit_l=None, kit_kg=6.0)
    said = text(plan_lines(sheet(PLAN, replace(SITE, coats=(base, SITE.coats[1])))))
    assert "buy 2 kits of 6 kg, each makes 5.6 L" in said


def test_of_a_bay_that_is_laid_in_part_the_rest_is_named() -> None:
    """4 m² of bay 1 are left: "bay 1" alone would send a crew over what is wet already."""
    rest = replace(BATCHES[0], pieces=(FloorPiece("bay 1", 4.0, 3.0),))
    told = text(plan_lines(sheet(replace(PLAN, batches=(rest, *BATCHES[1:])))))
    assert "BATCH 1 Mon 13 Apr 8:03 the rest of bay 1" in told
    assert "pour batch 1, the rest of bay 1: by 8:21" in told
    assert "BATCH 2 Mon 13 Apr 8:20 bay 2" in told
    halves = tuple(FloorPiece("bay 1", 2.0, 1.0, part, 2) for part in (1, 2))
    split = replace(PLAN, batches=(replace(rest, pieces=halves[:1]), replace(rest, number=4, pieces=halves[1:])))
    assert "the first half of the rest of bay 1" in text(plan_lines(sheet(split)))


def test_a_search_that_was_stopped_between_two_coats_says_that_one_of_them_is_planned() -> None:
    halted = replace(PLAN, obstacle=NO_PLAN.obstacle, stopped_early=True, chance=None)
    said = text(plan_lines(sheet(halted))[:8])
    assert "stopped before all of it was planned" in said
    assert "below stands what was planned by then" in said
    nothing = text(plan_lines(sheet(replace(NO_PLAN, changes=(), stopped_early=True)))[:8])
    assert "stopped before a plan was found" in nothing
    assert "best so far" not in nothing


def test_a_refused_plan_says_what_the_steps_below_it_are() -> None:
    """A crew that read "no plan fits" and then the steps of one coat would take them for the whole job."""
    base = tuple(batch for batch in BATCHES if batch.coat == "base")
    due = tuple(step for step in STEPS if step.batch == 1)
    for batches, steps, told in (
        (base, STEPS, "No plan that comes near was found. Below stands base alone."),
        ((), due, "Below stands what is still due on the floor, and nothing else."),
        ((), (), "No plan that comes near was found either."),
    ):
        assert told in text(plan_lines(sheet(replace(NO_PLAN, batches=batches, steps=steps))))
    whole = text(plan_lines(sheet(replace(NO_PLAN, batches=BATCHES, steps=STEPS))))
    assert "No plan that comes near" not in whole


def test_the_tightest_steps_name_a_window_only_where_it_is_not_the_step_itself() -> None:
    """'Back-roll batch 2 (back-roll)' is one word too many."""
    told = text(plan_lines(sheet())).partition("TIGHTEST STEPS")[2].partition("MIND")[0]
    for named_once in (
        "pour batch 1, bay 1, mixer",
        "back-roll batch 2, bay 2, roller",
        "flake batch 2, bay 2, roller",
    ):
        assert named_once in told
    tight = sheet(replace(PLAN, steps=tuple(step for step in PLAN.steps if step.kind == "squeegee")))
    assert "squeegee batch 2, bay 2 (wet edge), mixer" in text(plan_lines(tight))
