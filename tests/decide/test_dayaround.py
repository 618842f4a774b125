"""Small mixes, grit, interruptions, who works alone, and call-backs: the day around the buckets."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.alerting.alone import CONTACT_AFTER, NO_DEVICE, alone_alert
from mixclock.decide.alerting.grit import grit_kg, stir_alert
from mixclock.decide.plan.days.comingbuckets import buckets_left
from mixclock.decide.plan.days.planjson import plan_text, plans_in
from mixclock.decide.plan.floor.coverage import batches_of, covered, stocks_of, used_l
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.quantities import film_um
from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.decide.shapes import Stage
from mixclock.decide.why.case import Case
from mixclock.job.dayentries import BackAtWork, Settled, StoppedWork, Visited
from mixclock.job.entry import Combined, Did, Found, Heard, JobFinished, JobStarted, Planned, Poured, Reading, Saw
from mixclock.job.profile import Family, Film, Profile
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.statements import VERBS
from mixclock.job.steps import BACK_ROLL, RECOAT, TACK_FREE, Rank
from mixclock.outside.channels.message import Message
from mixclock.outside.channels.phone import phone_channels
from mixclock.words.gritwords import grit_line
from mixclock.words.interruption import interruption_lines
from mixclock.words.overflake import over_flake
from tests.boatshed import PAIR_WITH_RATES
from tests.decide.worlds import MODEL, SITE, Log, instant

GRIT = SITE.replace('wet_film = "300 um"', 'wet_film = "300 um"\ngrit = "60 g/L"')
ALONE = SITE.replace(PAIR_WITH_RATES, '[[crew]]\nname = "mixer"\n').replace(
    "[[areas]]", 'check_in = "15 min"\ncontact = "site office"\n[[areas]]', 1
)


def job(site: str = SITE) -> Log:
    log = Log()
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    return log


def state(log: Log, minutes: float, verb: str, **told: object) -> list[object]:
    """A statement by the type that command and phone share."""
    statement = VERBS[verb].told(told)
    drafts = statement.drafts(log.standing(minutes), Attribution(instant(minutes), None, None, None))
    return [log.add(minutes, draft.facts).facts for draft in drafts]


def test_a_patch_has_its_own_bucket_clock_and_upsets_neither_coat_nor_plan() -> None:
    log = job()
    log.add(0, Planned(plan_text(Plan("Boat shed", instant(0), (), ()))))
    before = covered(log.standing(), log.standing().site.coats[0]).by_area
    [spot] = state(log, 1, "spot", product="Shed base", volume_l=0.3, use="patch", areas=["bay 2"])
    assert isinstance(spot, Combined)
    assert (spot.spot, spot.coat, spot.areas) == ("patch", None, ("patch, bay 2",))
    standing = log.standing()
    assert standing.batches[0].coat is None
    assert batches_of(standing, standing.site.coats[0]) == []
    assert covered(standing, standing.site.coats[0]).by_area == before
    assert log.window("pour-out", 2).closes is not None, "its bucket is called out like any other"
    log.add(4, Poured(1))
    names = {track.name for track in log.tracks() if track.area is not None}
    assert names == {TACK_FREE, RECOAT}, "nobody is called to roll or flake a patch"
    assert list(buckets_left(standing, plans_in(log.entries)[-1])) == []


def test_a_product_that_nobody_knows_is_no_spot_either() -> None:
    with pytest.raises(CannotTellError):
        state(job(), 1, "spot", product="Moon dust", volume_l=0.3, use="patch")


def test_grit_is_the_same_dose_in_every_bucket_and_is_stirred_up_while_the_bucket_lives() -> None:
    log = job(GRIT)
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=6.0, material_c=20.0), by="mixer")
    standing = log.standing()
    assert grit_kg(standing, standing.batches[0]) == pytest.approx(0.36)  # 60 g/L in 6 L
    line = grit_line(standing, standing.batches[0])
    assert line is not None
    assert "360 g" in line
    ended = (standing.batches[0].mixing_ended - instant(0)).total_seconds() / 60.0
    assert stir_alert(standing, standing.batches[0], instant(ended + 2.9)) is None
    first = stir_alert(standing, standing.batches[0], instant(ended + 3.1))
    second = stir_alert(standing, standing.batches[0], instant(ended + 6.1))
    assert first is not None
    assert second is not None
    assert (second.due - first.due).total_seconds() == 180.0
    log.add(ended + 3.5, Poured(1))
    assert stir_alert(log.standing(), log.standing().batches[0], instant(ended + 6.1)) is None
    plain = job()
    plain.add(0, Combined("Shed base", ("bay 1",), volume_l=6.0))
    assert grit_line(plain.standing(), plain.standing().batches[0]) is None


def test_what_a_patch_takes_is_gone_from_the_kits_of_the_coat_that_is_under_way() -> None:
    log = job(SITE.replace('product = "Shed base"', 'product = "Shed base"\nkit = "4 L"', 1))
    log.add(0, Combined("Shed base", ("bay 1",), coat="base", volume_l=3.8))
    base = log.standing().site.coats[0]
    before = stocks_of(log.standing(), {"base": 3})["base"]
    state(log, 20, "spot", product="Shed base", volume_l=0.3, use="patch", areas=["bay 2"])
    after = stocks_of(log.standing(), {"base": 3})["base"]
    assert (before.opened_kits, after.opened_kits) == (1, 2), "0.2 L were left of the first kit"
    assert after.mixed_l - before.mixed_l == pytest.approx(0.3)
    assert used_l(log.standing(), base) == pytest.approx(4.1)
    assert used_l(log.standing(), log.standing().site.coats[1]) == 0.0, "counted once"


def test_a_top_coat_over_flake_is_planned_by_what_its_sheet_says_that_it_drinks() -> None:
    site = job().standing().site
    top = site.coats[1]
    assert (site.coats[0].over_flake, top.over_flake) == (False, True)
    silent = Profile("Shed top", Family.POLYASPARTIC, "invented")
    told = replace(silent, film=Film(over_flake_m2_l=3.2))  # 130 ft²/gal
    assert film_um(top, silent) < 272.0
    assert film_um(top, told) == pytest.approx(1000.0 / 3.2)
    assert film_um(replace(top, wet_film_um=400.0, spread_m2_l=None), told) == 400.0, "never less than the job asks for"
    profiles = {"shed base": replace(silent, name="Shed base"), "shed top": silent}
    taken = take_off(site, profiles)
    assert any("more: gauge the first bucket" in line for line in taken.assumed)
    by_sheet = take_off(site, {**profiles, "shed top": told})
    assert any("drinks over flake: 3.2 m²/L by its sheet" in line for line in by_sheet.assumed)
    assert by_sheet.coats[1].needed_l > 2.0 * taken.coats[1].needed_l


def lines(log: Log, minutes: float) -> tuple[str, ...]:
    entry = log.entries[-1]
    return interruption_lines(entry, log.standing(minutes), log.tracks(minutes), instant(minutes))


def test_who_is_called_away_hears_the_bucket_first_then_the_roller_then_the_edge() -> None:
    log = job()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0))
    log.add(4, Poured(1))
    log.add(6, Combined("Shed base", ("bay 2",), volume_l=3.8, material_c=20.0))
    log.add(7, StoppedWork("telephone"))
    told = lines(log, 7)
    assert told[0].startswith("batch 2: pour it out and spread it, or take it outside")
    assert told[1].startswith("batch 1, bay 1: roll it once across")
    assert "say `back`" in told[-1]


def test_a_hot_bucket_is_saved_before_everything() -> None:
    log = job()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0))
    log.add(5, Saw("hot", 1))
    log.add(6, StoppedWork())
    assert lines(log, 6)[0].startswith("batch 1 runs hot: outside if you can hold it")


def test_who_is_back_hears_how_long_it_was_what_is_gone_and_what_comes_first() -> None:
    log = job()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0))
    log.add(4, Poured(1))
    log.add(5, StoppedWork("a delivery"))
    log.add(60, BackAtWork())
    told = lines(log, 60)
    assert told[0] == "away 55 min"
    assert any(line.startswith("gone: batch 1, bay 1, back-roll") for line in told)
    with pytest.raises(CannotTellError):
        state(log, 61, "back")


def test_with_nothing_wet_nobody_is_held_up() -> None:
    log = job()
    log.add(0, StoppedWork())
    assert lines(log, 0) == ("nothing is wet and no bucket stands: go",)


def test_who_works_alone_is_called_after_a_quarter_of_an_hour_and_then_the_contact_is() -> None:
    log = job(ALONE)
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=1.0, material_c=20.0))
    asked = lambda minutes: alone_alert(log.standing(minutes), log.tracks(minutes), instant(minutes))  # noqa: E731
    assert asked(14.9) is None
    call = asked(15.1)
    assert call is not None
    assert (call.rank, call.stage) == (Rank.CRITICAL, Stage.NOW)
    late = asked(15.1 + CONTACT_AFTER.total_seconds() / 60.0)
    assert late is not None
    assert late.stage is Stage.LATE
    log.add(20.5, Heard())
    assert asked(30) is None, "a heard is a sign of life"
    log.add(35, Reading(air_c=18.0, logger="shed sensor"))
    assert asked(36) is not None, "a sensor on a wall is none"
    log.add(31, Poured(1))
    assert asked(50) is None, "no bucket lives any more, and this resin has no solvent"


def test_a_crew_of_two_and_a_job_that_did_not_ask_for_it_are_left_alone() -> None:
    for site in (SITE, ALONE.replace('check_in = "15 min"\n', "")):
        log = job(site)
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=1.0, material_c=20.0))
        assert alone_alert(log.standing(60), log.tracks(60), instant(60)) is None
    assert "no safety device" in NO_DEVICE


def test_the_contact_is_told_of_silence_alone_and_everybody_else_of_the_rest() -> None:
    targets = {"mate": "json://localhost", "site office": "json://localhost"}
    mate, office = phone_channels(targets, contact="site office")
    pour = Message("b1.pour-out", "critical", "", "", "", louder=True)
    silent = Message("alone.12", "critical", "", "", "", louder=True)
    first = Message("alone.12", "critical", "", "", "")
    assert [channel.wants(each) for channel in (mate, office) for each in (pour, first, silent)] == [
        True, True, True, False, False, True,
    ]  # fmt: skip


def test_a_call_back_opens_its_old_job_names_the_lots_to_match_and_closes_the_finding_with_how() -> None:
    log = job()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.8, material_c=20.0, lot_a="7A", lot_b="9B"))
    log.add(4, Poured(1))
    log.add(10, Did(BACK_ROLL, 1))
    with pytest.raises(CannotTellError):
        state(log, 11, "visit", why="edge lifts")
    log.add(100, JobFinished())
    log.add(5000, Found("bay 1", "peeling"))
    state(log, 5001, "visit", why="edge lifts")
    assert log.standing().finished is None
    told = lines(log, 5001)
    assert told[0].startswith("found on bay 1: peeling")
    assert "to match on bay 1, base: A 7A and B 9B" in told
    with pytest.raises(CannotTellError):
        state(log, 5002, "fixed", area="bay 2", how="nothing to mend")
    [settled] = state(log, 5003, "fixed", area="bay 1", how="edge cut back, coated with lot 7A")
    assert isinstance(settled, Settled)
    assert isinstance(log.entries[settled.finding - 1].facts, Found)  # type: ignore[operator]
    log.add(5004, JobFinished())
    assert log.standing().finished is not None
    assert Visited.kind == "visited"
    case = Case(log.standing(), log.entries[-1].happened, MODEL)
    assert set(case.settled) == {"bay 1"}
    assert not case.open_findings
    log.add(9000, Found("bay 1", "peeling"))
    again = Case(log.standing(), log.entries[-1].happened, MODEL)
    assert set(again.open_findings) == {"bay 1"}, "it has come back"


def test_the_first_bucket_over_flake_asks_for_the_gauge_where_the_job_file_counts_on_far_less() -> None:
    log = job()
    top = Combined("Shed top", ("bay 1",), coat="top", volume_l=1.0)
    log.add(0, Combined("Shed base", ("bay 1",), coat="base", volume_l=3.8))
    log.add(900, top)
    standing = log.standing()
    told = over_flake(standing, standing.batches[1])
    assert told is not None
    assert "over flake 3.2 m²/L to 3.7 m²/L is usual" in told  # 130 and 150 ft²/gal
    assert over_flake(standing, standing.batches[0]) is None
    log.add(930, top)
    assert over_flake(log.standing(), log.standing().batches[2]) is None, "once a coat"
