"""The rest of a floor is planned as its first buckets went: by what they covered, and by how long they took."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from mixclock.decide.kitshapes import DayPace
from mixclock.decide.plan.days.asitwent import AsItWent, as_it_went, rates_said
from mixclock.decide.plan.days.pace import pace_of
from mixclock.decide.plan.floor.coverage import covered, measures
from mixclock.decide.plan.floor.pieces import pieces_of
from mixclock.decide.plan.floor.quantities import amounts, film_um
from mixclock.job import practice
from mixclock.job.entry import Began, Combined, Did, JobStarted, Poured, ProfileUsed
from mixclock.job.site import Coat, Person
from tests.decide.plan.test_replan import PLAIN_SITE, shed
from tests.decide.worlds import Log, instant


def thirsty() -> Log:
    """A first bay of 12 m² that took 6 L, and the second begun."""
    log = shed()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", PLAIN_SITE))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 6.0, 6.6, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(16, Did("back-roll", 1))
    log.add(20, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(24, Poured(2))
    return log


def needed_l(coat: Coat, log: Log) -> float:
    """What another such bay takes."""
    standing = log.standing()
    area = standing.site.areas[2]
    profile = standing.profile(coat.product)
    assert profile is not None
    return amounts(coat, profile, pieces_of((area,), {area.name: area.size_m2})).needed_l


def test_what_the_first_bucket_covered_counts_for_the_rest_and_that_is_said() -> None:
    log = thirsty()
    before = log.standing().site.coats[0]
    went = as_it_went(log.standing(), instant(30))
    after = went.standing.site.coats[0]
    assert needed_l(before, log) < 5.0
    assert needed_l(after, log) == pytest.approx(6.0, rel=0.01)
    assert any("was planned" in line for line in went.said)
    assert film_um(after, log.standing().profile(after.product)) > 0.0


def test_a_bucket_whose_end_nobody_stated_did_what_a_stated_one_left_of_its_bay() -> None:
    """Bay 1 has 12 m²: 1.9 L went over 5 m² as stated, so the 2.6 L after them went over 7 m², and not over 12."""
    log = shed()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", PLAIN_SITE))
    for number, bay, volume_l, covered_m2 in ((1, "bay 1", 1.9, 5.0), (2, "bay 1", 2.6, None), (3, "bay 2", 3.8, None)):
        log.add(20 * number, Combined("Shed base", (bay,), "base", volume_l, 1.09 * volume_l, mixing_s=180), by="mixer")
        log.add(20 * number + 4, Poured(number, covered_m2=covered_m2))
    found = measures(log.standing(), log.standing().site.coats[0])
    assert [(each.volume_l, each.size_m2) for each in found] == [(1.9, 5.0), (2.6, 7.0)]


def said_of(volume_l: float) -> tuple[float, str]:
    """What another bay of 12 m² takes, and what is said, if the first took so much: 300 µm wet are 3.6 L."""
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l, 1.09 * volume_l, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=12.0))
    went = as_it_went(log.standing(), instant(30))
    (line,) = (line for line in went.said if "so far" in line)
    return needed_l(went.standing.site.coats[0], log), line


def test_a_film_that_went_down_too_thin_is_told_and_what_follows_is_as_thick_as_was_asked() -> None:
    """12 m² out of 2 L are 6 m²/L, of 3.6 L that the film alone takes. With the usual 5 % of waste: 3.79 L a bay."""
    taken_l, line = said_of(2.0)
    assert taken_l == pytest.approx(3.6 / 0.95, rel=0.001)
    assert line.startswith("base goes 6 m²/L so far, ")
    # a twentieth of the 2 L stayed in the pail: 1.9 L on 12 m²
    assert "it lies thinner than 300 µm wet, at about 158 µm" in line


def test_a_bucket_that_left_less_behind_than_pails_and_rollers_keep_was_spread_thinner() -> None:
    """3.5 L of the 3.79 L that were planned, on 12 m²: not a drop could have stayed in the pail. 3.325 L are 277 µm."""
    taken_l, line = said_of(3.5)
    assert taken_l == pytest.approx(3.6 / 0.95, rel=0.001)
    assert "it lies thinner than 300 µm wet, at about 277 µm" in line


def test_where_the_job_file_counts_on_much_waste_less_of_it_is_believed_down_to_what_is_usual() -> None:
    """A fifth was to stay behind: 4.5 L a bay. 4 L did it, so a tenth stayed, and as much is counted for the rest."""
    log = shed()
    wasteful = PLAIN_SITE.replace('wet_film = "300 um"', 'wet_film = "300 um"\nwaste = "20 %"', 1)
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", wasteful))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 4.0, 4.4, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=12.0))
    went = as_it_went(log.standing(), instant(30))
    assert needed_l(went.standing.site.coats[0], log) == pytest.approx(4.0, rel=0.001)
    (line,) = (line for line in went.said if "so far" in line)
    assert line.endswith("the rest is counted by what the buckets covered")


def test_a_bucket_that_went_impossibly_short_is_told_as_it_was_stated() -> None:
    """12 m² out of 18 L are 0.67 m²/L: four fifths would have stayed in pails. No more than three fifths are believed,
    1.33 m²/L."""
    taken_l, line = said_of(18.0)
    assert taken_l == pytest.approx(3.6 / 0.4, rel=0.001)
    assert line.startswith("base goes 0.67 m²/L so far, ")
    assert line.endswith("the rest is counted at 1.3 m²/L")


@pytest.mark.parametrize(
    ("texture", "cove_m", "volume_l"),
    [
        # 300 µm and the 200 µm of a rough slab on 12 m² stay there: 6 L, of 6 / 0.95 L in the pail
        ("rough", 0.0, 6.0 / 0.95),
        # a cove of 20 m is a strip of 2 m² at half the film: 0.3 L beside the 3.6 L of the floor
        ("smooth", 20.0, 3.9 / 0.95),
    ],
)
@pytest.mark.parametrize("stated", [True, False])
def test_what_texture_and_coves_take_was_planned_and_makes_no_floor_thirsty(
    texture: str, cove_m: float, volume_l: float, stated: bool
) -> None:
    log = shed()
    rough = PLAIN_SITE.replace('name = "bay 1"', f'name = "bay 1"\ntexture = "{texture}"\ncove = "{cove_m} m"', 1)
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", rough))
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l, 1.09 * volume_l, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=12.0 if stated else None))
    if not stated:  # the crew goes on, so the bay is done
        log.add(20, Combined("Shed base", ("bay 2",), "base", 3.6 / 0.95, 4.1, mixing_s=180), by="mixer")
        log.add(24, Poured(2))
    assert not [line for line in as_it_went(log.standing(), instant(30)).said if "so far" in line]


@pytest.mark.parametrize(("texture", "cove_m", "half_l"), [("rough", 0.0, 3.0), ("smooth", 60.0, 2.25)])
def test_half_a_bays_litres_cover_half_of_it_whatever_texture_and_coves_take(
    texture: str, cove_m: float, half_l: float
) -> None:
    """Of a rough bay of 12 m² 6 L stay there, half are 3 L; with a cove of 60 m, 6 m² at 150 µm, 4.5 L, half 2.25 L."""
    log = shed()
    rough = PLAIN_SITE.replace('name = "bay 1"', f'name = "bay 1"\ntexture = "{texture}"\ncove = "{cove_m} m"', 1)
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", rough))
    log.add(0, Combined("Shed base", ("bay 1",), "base", half_l / 0.95, 3.0, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    standing = log.standing()
    assert covered(standing, standing.site.coats[0]).by_area["bay 1"] == pytest.approx(6.0, rel=1e-6)


def test_a_floor_that_goes_as_planned_is_left_alone() -> None:
    log = shed()
    assert as_it_went(log.standing(), instant(0)).said == ()


def test_a_crew_that_is_slower_today_is_planned_slower_and_a_quicker_one_is_not_hurried() -> None:
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(60, Did("back-roll", 1))
    went = as_it_went(log.standing(70), instant(70))
    assert any("longer than its stated rates" in line for line in went.said)
    slow = [person.roll_m2_h for person in went.standing.site.crew if person.roll_m2_h]
    stated = [person.roll_m2_h for person in log.standing(70).site.crew if person.roll_m2_h]
    assert min(slow) < min(stated)


def slow_first_bay() -> Log:
    """Of the bay of `exactly_at_the_rates`, 27.4 min by the rates, the rolling ended after 41.1: half as long again."""
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(4 + 1.5 * 27.4, Did("back-roll", 1))
    return log


def roller_m2_h(went: AsItWent) -> float:
    """How fast the roller is planned; the job file says 75 m²/h."""
    return practice.roll_rate_m2_h(went.standing.site.crew[1])


def test_the_next_morning_a_crew_is_as_slow_as_on_its_last_day_until_a_bucket_tells_otherwise() -> None:
    log = slow_first_bay()
    morning = 24 * 60.0
    went = as_it_went(log.standing(morning), instant(morning))
    assert roller_m2_h(went) == pytest.approx(75.0 / 1.5, rel=0.01)
    (line,) = (line for line in went.said if "the crew" in line)
    assert line == "on its last day here the crew took 50 % longer than its stated rates (1 bucket): planned so"
    log.add(morning, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(morning + 4, Poured(2))
    assert roller_m2_h(as_it_went(log.standing(), instant(morning + 5))) == pytest.approx(75.0 / 1.5, rel=0.01)
    log.add(morning + 4 + 21.5, Did("back-roll", 2))
    assert roller_m2_h(as_it_went(log.standing(), instant(morning + 30))) == 75.0


def test_what_past_jobs_tell_of_a_crew_counts_until_a_bucket_of_this_floor_tells_more() -> None:
    past, log = DayPace(1.25, 8), exactly_at_the_rates()
    rolled = log.entries.pop()
    went = as_it_went(log.standing(), instant(20), past)
    assert roller_m2_h(went) == pytest.approx(75.0 / 1.25)
    assert any("on its past jobs this crew took 25 % longer" in line for line in went.said)
    log.entries.append(rolled)
    went = as_it_went(log.standing(), instant(40), past)
    assert roller_m2_h(went) == 75.0
    assert not any("past jobs" in line for line in went.said)


def test_a_crew_that_stated_no_rates_is_not_told_that_it_did() -> None:
    silent, site = Person("mixer"), shed().standing().site
    assert rates_said(replace(site, crew=(silent,))) == "crews usually do"
    assert rates_said(replace(site, crew=(silent, Person("roller", roll_m2_h=60.0)))) == "its stated rates"


def exactly_at_the_rates() -> Log:
    """Bays of 12 m², squares of 3.46 m. The roller cuts in by 35 m/h and rolls by 75 m²/h. Bay 1 has three free sides:
    10.4 m in 17.8 min and 9.6 min, rolled 27.4 min after its pour. Bay 2 has two: 11.9 min and 9.6 min from then on,
    though it was poured 17 min before."""
    log = shed()
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1))
    log.add(10, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(14, Poured(2))
    log.add(31.4, Did("back-roll", 1))
    return log


def test_a_bucket_that_waits_for_the_roller_makes_nobody_slower() -> None:
    log = exactly_at_the_rates()
    log.add(52.9, Did("back-roll", 2))
    pace = pace_of(log.standing(60), instant(60))
    assert pace.batches == 2
    assert pace.factor == pytest.approx(1.0, abs=0.02)
    late = exactly_at_the_rates()
    late.add(31.4 + 1.5 * 21.5, Did("back-roll", 2))
    assert pace_of(late.standing(70), instant(70)).factor == pytest.approx((1.0 + 1.5) / 2.0, abs=0.02)


def test_a_break_of_the_job_file_is_no_work() -> None:
    """From 8:35 to 9:05: the second bay is rolled half an hour later."""
    log = exactly_at_the_rates()
    site = PLAIN_SITE.replace("Europe/Lisbon", "UTC") + 'breaks = ["8:35 for 30 min"]\n'
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(82.9, Did("back-roll", 2))
    assert pace_of(log.standing(90), instant(90)).factor == pytest.approx(1.0, abs=0.02)


def test_a_person_alone_who_mixed_the_next_bucket_in_between_tells_no_pace() -> None:
    """Nobody states when the rolling went on, so that bucket tells nothing; one without that does."""
    site = re.sub(r"\[\[crew\]\].*?(?=\[\[vessels)", '[[crew]]\nname = "mixer"\n', PLAIN_SITE, flags=re.S)
    log = exactly_at_the_rates()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    assert pace_of(log.standing(40), instant(40)).batches == 0
    log.add(60, Did("back-roll", 2))
    assert pace_of(log.standing(70), instant(70)).batches == 1


def late_second_bay() -> Log:
    """`exactly_at_the_rates`, but the second bay takes the roller half as long again from when the first was done."""
    log = exactly_at_the_rates()
    log.add(31.4 + 1.5 * 21.5, Did("back-roll", 2))
    return log


def test_who_alone_rolls_is_planned_slower_and_the_mixer_is_not() -> None:
    """12 m² at 75 m²/h and 6.9 m of edge at 35 m/h are 21.5 min from bay to bay: 32.2 are half as much again."""
    log = late_second_bay()
    went = as_it_went(log.standing(70), instant(70))
    mixer, roller = went.standing.site.crew
    assert practice.squeegee_rate_m2_h(mixer) == 110.0
    assert practice.roll_rate_m2_h(roller) == pytest.approx(75.0 / 1.5, rel=0.01)
    assert practice.cut_in_rate_m_h(roller) == pytest.approx(35.0 / 1.5, rel=0.01)
    assert went.said == ("today roller takes 50 % longer than stated to cut in and back-roll (1 bucket): planned so",)


TWO_ROLLERS = PLAIN_SITE.replace("Europe/Lisbon", "UTC").replace(
    '[[crew]]\nname = "roller"',
    '[[crew]]\nname = "Ana"\ndoes = ["cut in", "roll"]\nroll = "75 m2/h"\n[[crew]]\nname = "roller"',
)


def two_rollers(by: str | None, *, begun: bool) -> Log:
    """Bay 1 rolled at 75 m²/h in 9.6 min would be done at 29.6; it was at 34.4, half as long again."""
    log = shed()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", TWO_ROLLERS))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(4, Poured(1), by="mixer")
    if begun:
        log.add(20, Began("back-roll", 1), by=by)
    log.add(20 + 1.5 * 9.6, Did("back-roll", 1), by=by)
    return log


def test_of_two_who_roll_the_one_who_stated_it_is_planned_slower() -> None:
    log = two_rollers("Ana", begun=True)
    pace = pace_of(log.standing(40), instant(40))
    assert pace.of("Ana", "roll") == pytest.approx(1.5, rel=0.01)
    assert pace.of("roller", "roll") == pytest.approx(1.0)
    (line,) = as_it_went(log.standing(40), instant(40)).said
    assert line == "today Ana takes 50 % longer than stated to back-roll (1 bucket): planned so"


@pytest.mark.parametrize(("by", "begun"), [(None, True), ("mixer", True), ("Ana", False)])
def test_a_step_of_hands_or_a_begin_that_nobody_knows_moves_only_the_whole_crew(by: str | None, begun: bool) -> None:
    """The mixer who calls it out doesn't roll; and without its begin nobody knows whether Ana waited."""
    log = two_rollers(by, begun=begun)
    pace = pace_of(log.standing(40), instant(40))
    assert pace.people == ()
    assert pace.batches == 1
    assert pace.of("Ana", "roll") == pace.of("mixer", "squeegee") == pace.factor


def test_who_did_something_else_meanwhile_is_not_called_slow() -> None:
    log = two_rollers("Ana", begun=True)
    log.add(24, Combined("Shed base", ("bay 2",), "base", 3.8, 4.1, mixing_s=180), by="mixer")
    log.add(28, Poured(2), by="mixer")
    assert pace_of(log.standing(40), instant(40)).of("Ana", "roll") == pytest.approx(1.5, rel=0.01)
    log.add(30, Did("back-roll", 2), by="Ana")
    assert ("Ana", "roll") not in {(own.who, own.kind) for own in pace_of(log.standing(40), instant(40)).people}


def test_acid_that_went_too_far_leaves_no_film_to_be_told_of() -> None:
    log = shed()
    pot_life = '[pot-life]\nmass = "1.0 kg"\nend = "gel"\nat = { "20 °C" = "40 min" }\n'
    acid = f'name = "Shed base"\nfamily = "acid etch"\nsource = "invented"\n{pot_life}'
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", acid))
    log.add(0, Combined("Shed base", ("bay 1",), "base", 2.0, 2.2, mixing_s=180), by="mixer")
    log.add(4, Poured(1, covered_m2=12.0))
    (line,) = (line for line in as_it_went(log.standing(), instant(30)).said if "so far" in line)
    assert line.endswith("the slab got less than was asked there; the rest is planned as was asked, so pour more of it")
    assert "thinner" not in line
