"""What a window of a batch carries, in figures: from when, by whom, how much of the bucket, and what ends it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.tracks import Track
from mixclock.job.entry import Combined, CupUsed, Did, JobStarted, MixingEnded, Poured, ProfileUsed, Reading, Saw
from tests.decide.worlds import BASE, SITE, TOP, Log, instant, minutes_of

STAND = '[windows.induction]\nafter = "mixed"\nopens = { "20 °C" = "10 min" }\ncloses = { "20 °C" = "30 min" }\n'
DATED_FLAKE = BASE.replace('[windows.broadcast]\nafter = "poured"\n',
                           '[windows.broadcast]\nafter = "poured"\nopens = { "20 °C" = "10 min" }\n')  # fmt: skip


def laid(sheet: str = BASE, *, site: str = SITE, slab_c: float = 20.0, poured: float | None = 5.0) -> Log:
    """A bucket of 4 L in the pail, mixed at eight."""
    log = Log()
    log.entries.clear()
    log.add(-60, JobStarted("Boat shed", site))
    log.add(-60, ProfileUsed("Shed base", sheet))
    log.add(-60, ProfileUsed("Shed top", TOP))
    log.add(-10, Reading(air_c=slab_c, rh_pct=50.0, slab_c=slab_c))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail", coat="base"))
    if poured is not None:
        log.add(poured, Poured(1))
    return log


def track(log: Log, name: str, batch: int = 1, area: str | None = None) -> Track:
    [found] = [one for one in log.tracks() if (one.name, one.batch.id) == (name, batch) and area in (None, one.area)]
    return found


def test_a_bucket_is_of_no_area_and_no_portion_and_is_called_to_whoever_pours() -> None:
    pour = track(laid(poured=None), "pour-out")
    assert (pour.area, pour.portion, pour.who, minutes_of(pour.starts)) == (None, 0, "mixer", 0.0)
    assert track(laid(poured=None), "back-roll").portion == 0
    assert track(laid(), "back-roll").portion == 1
    assert track(laid(), "back-roll").who == "roller"


def test_the_stand_opens_and_shuts_by_its_own_spans_from_the_end_of_mixing_until_the_first_pour() -> None:
    log = laid(BASE + STAND, poured=None)
    wait = track(log, "induction")
    assert (wait.area, wait.portion, wait.stated, wait.who) == (None, 0, None, "mixer")
    assert "end of mixing taken from the mixing time" in wait.assumed
    assert wait.opens is not None
    assert wait.closes is not None
    assert minutes_of(wait.starts) == 3.0
    assert minutes_of(wait.opens.edge.likely) == pytest.approx(13.0, abs=0.01)
    assert minutes_of(wait.closes.edge.likely) == pytest.approx(33.0, abs=0.01)
    log.add(4, MixingEnded(1))
    log.add(20, Poured(1))
    ended = track(log, "induction")
    assert minutes_of(ended.starts) == 4.0
    assert ended.stated is not None
    assert minutes_of(ended.stated.at) == 20.0
    assert "end of mixing taken from the mixing time" not in ended.assumed


@pytest.mark.parametrize(
    ("spans", "stands"),
    [
        ('opens = "0 min"', False),
        ('opens = "0 min"\ncloses = "30 min"', True),
        ('opens = "5 min"', True),
    ],
)
def test_a_sheet_that_asks_for_no_stand_has_none(spans: str, stands: bool) -> None:
    log = laid(BASE + f'[windows.induction]\nafter = "mixed"\n{spans}\n')
    assert any(one.name == "induction" for one in log.tracks()) is stands


def test_what_went_on_in_the_bucket_shortens_what_closes_and_is_no_credit_for_what_opens() -> None:
    """Flake may be thrown from ten minutes after the pour: a bucket that stood for twenty is no sooner ready for it."""
    for poured in (3.0, 20.0):
        flake = track(laid(DATED_FLAKE, poured=poured), "broadcast")
        assert flake.opens is not None
        assert flake.closes is not None
        assert minutes_of(flake.opens.edge.likely) == pytest.approx(poured + 10.0, abs=0.001)
        assert minutes_of(flake.closes.edge.likely) < poured + 40.0
    recoat = track(laid(poured=20.0), "recoat")
    assert recoat.opens is not None
    assert minutes_of(recoat.opens.edge.likely) == pytest.approx(20.0 + 12 * 60.0, abs=0.01)


def test_a_bucket_that_had_gone_before_it_was_poured_leaves_a_thousandth_of_each_window() -> None:
    late = track(laid(poured=200.0), "back-roll")
    assert late.ripeness_closes(instant(200.0)) == pytest.approx(0.999, abs=1e-6)
    assert late.closes is not None
    assert 0.0 < minutes_of(late.closes.edge.likely) - 200.0 < 0.03
    assert "100 % was used up in the bucket" in late.because


def test_rolling_is_to_begin_so_long_before_its_early_edge_as_the_bay_takes() -> None:
    """12 m² at 75 m² an hour: 9.6 minutes, as much as the portion covers."""
    roll = track(laid(), "back-roll")
    assert roll.due is not None
    assert roll.closes is not None
    assert (roll.closes.edge.early - roll.due.latest_start).total_seconds() / 60.0 == pytest.approx(9.6, abs=0.01)


def test_a_window_narrower_than_its_doubt_is_called_at_its_likely_hour() -> None:
    narrow = BASE.replace('"20 °C" = "48 h"', '"20 °C" = "13 h"').replace('"10 °C" = "72 h"', '"10 °C" = "25 h"')
    narrow = narrow.replace('"30 °C" = "24 h" }', '"30 °C" = "9 h" }')
    for sheet, sure in ((narrow, False), (BASE, True)):
        recoat = track(laid(sheet), "recoat")
        assert recoat.closing is not None
        assert recoat.called is not None
        assert recoat.due is not None
        assert recoat.closing.early < recoat.closing.likely
        assert recoat.called.early == (recoat.closing.early if sure else recoat.closing.likely)
        assert sure or recoat.called.early - recoat.due.latest_start == timedelta(minutes=30)  # the prep for it


def test_the_neighbours_of_a_wet_edge_that_wait_are_named_with_it_alone() -> None:
    log = laid()
    assert track(log, "wet-edge").neighbours == ("bay 2",)
    assert {one.neighbours for one in log.tracks() if one.name != "wet-edge"} == {()}


@pytest.mark.parametrize(("taped", "joined", "ended"), [(12, 15, 12), (15, 12, 12), (None, 15, 15), (12, None, 12)])
def test_a_wet_edge_ends_with_the_tape_or_the_joint_whichever_came_first(
    taped: int | None, joined: int | None, ended: int
) -> None:
    log = laid()
    told: list[tuple[float, object]] = []
    if joined is not None:
        told += [(joined - 6, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base")), (joined, Poured(2))]
    if taped is not None:
        told.append((taped, Did("tape", 1, ("bay 1",))))
    for at, facts in sorted(told, key=lambda one: one[0]):
        log.add(at, facts)  # type: ignore[arg-type]
    edge = track(log, "wet-edge")
    assert edge.stated is not None
    assert minutes_of(edge.stated.at) == ended


def test_a_sign_ends_the_window_that_it_tells_of_on_its_area_and_no_other() -> None:
    log = laid()
    log.add(300, Saw("tack free", 1, "bay 1"))
    stated = {one.name for one in log.tracks() if one.stated is not None}
    assert stated == {"pour-out", "tack-free"}
    elsewhere = laid()
    elsewhere.add(300, Saw("tack free", 1, "bay 2"))
    assert {one.name for one in elsewhere.tracks() if one.stated is not None} == {"pour-out"}


@pytest.mark.parametrize(("slab_c", "dated"), [(10.0, True), (9.9, False)])
def test_a_recoat_has_a_date_down_to_the_coldest_slab_of_the_sheet_and_below_it_none(
    slab_c: float, dated: bool
) -> None:
    recoat = track(laid(slab_c=slab_c), "recoat")
    assert (recoat.opening is not None) is dated
    assert (recoat.no_date == "") is dated


def test_a_recoat_shuts_by_the_coat_that_follows_in_the_job_where_the_sheet_tells_them_apart() -> None:
    shuts = 'closes = { "10 °C" = "72 h", "20 °C" = "48 h", "30 °C" = "24 h" }'
    told = BASE.replace(shuts, f'{shuts}\ncloses_for = {{ polyaspartic = {{ "20 °C" = "20 h" }} }}')
    assert told != BASE
    for sheet, hours in ((BASE, 48.0), (told, 20.0)):
        recoat = track(laid(sheet), "recoat")
        assert recoat.closes is not None
        assert minutes_of(recoat.closes.edge.likely) == pytest.approx(5.0 + 60.0 * hours, abs=0.01)


def test_a_bay_in_the_sun_closes_sooner_than_one_of_which_it_is_said_that_it_has_none() -> None:
    sunny = SITE.replace('name = "bay 1"\n', 'name = "bay 1"\nsun = true\n').replace(
        'name = "bay 2"\n', 'name = "bay 2"\nsun = false\n'
    )
    log = laid(site=sunny)
    log.add(1, Combined("Shed base", ("bay 2",), volume_l=4.0, material_c=20.0, vessel="pail", coat="base"))
    log.add(5, Poured(2))
    first, second = track(log, "recoat").closing, track(log, "recoat", 2).closing
    assert first is not None
    assert second is not None
    assert first.early < second.early


def test_the_first_pour_of_another_coat_ends_a_recoat() -> None:
    log = laid()
    for number, at in ((2, 800.0), (3, 900.0)):
        log.add(at - 5.0, Combined("Shed top", ("bay 1",), volume_l=2.0, coat="top"))
        log.add(at, Poured(number))
    recoat = track(log, "recoat")
    assert recoat.stated is not None
    assert minutes_of(recoat.stated.at) == 800.0
    assert replace(recoat, stated=None).stated is None


def test_the_end_of_a_stand_is_a_makers_limit_that_earns_nothing_by_cold() -> None:
    """At 10 °C the resin stands longer before it may be used, and is no longer good for it."""
    wait = track(laid(BASE + STAND, slab_c=10.0, poured=None), "induction")
    assert wait.opens is not None
    assert wait.closes is not None
    assert minutes_of(wait.opens.edge.likely) > 3.0 + 15.0
    assert minutes_of(wait.closes.edge.likely) == pytest.approx(3.0 + 30.0, abs=0.01)


def test_a_litre_of_a_resin_whose_sheet_names_no_density_weighs_1_1_kg() -> None:
    """Common practice, no source: filled or not, floor resins lie between 1.0 and 1.2."""
    sheet = BASE.replace('density = ["1.13 kg/L", "0.98 kg/L"]\n', "")
    assert sheet != BASE
    assert laid(sheet).standing().batches[0].mass_kg == pytest.approx(4.4)


def test_a_recoat_is_shut_by_the_coat_that_follows_in_the_job_file() -> None:
    sheet = BASE.replace(
        "[windows.foot-traffic]",
        'closes_for = { polyaspartic = { "10 °C" = "90 h", "20 °C" = "60 h", "30 °C" = "30 h" } }\n'
        "[windows.foot-traffic]",
    )
    shuts = track(laid(sheet), "recoat").closing
    assert shuts is not None
    assert minutes_of(shuts.likely) == pytest.approx(5.0 + 60 * 60, abs=0.1)


def test_a_part_that_is_poured_by_weight_takes_its_share_of_the_bucket() -> None:
    """Two parts of 1.13 and one of 0.98 kg/L weigh 1.08 a litre: 2.16 kg are 2 of the 4 L, and half is still inside."""
    log = laid(poured=None)
    log.add(6, Poured(1, ("bay 1",), part_kg=2.16))
    [batch] = log.standing().batches
    assert batch.portions[0].volume_l == pytest.approx(2.0, abs=1e-6)
    assert batch.emptied is None


def test_a_cup_of_nothing_takes_back_what_the_cups_of_a_lot_had_shown() -> None:
    for kept in (True, False):
        log = laid(poured=None)
        log.add(1, CupUsed("Shed base", "L-17", 1, 0.15, 20.0, 20.0, end_s=1500.0))
        if not kept:
            log.add(2, CupUsed("Shed base", "L-17", 1, 0.0, 20.0, 20.0))
        log.add(3, Combined("Shed base", ("bay 2",), volume_l=4.0, coat="base", lot="L-17"))
        assert [cup.mass_kg for cup in log.standing().batches[1].cups] == ([0.15] if kept else [])


def test_a_chip_that_is_mended_may_be_touched_and_coated_and_has_no_other_window() -> None:
    log = Log()
    log.add(0, Combined("Shed base", ("a chip, bay 1",), volume_l=0.2, material_c=20.0, coat="base", spot="a chip"))
    log.add(5, Poured(1))
    assert [one.name for one in log.tracks()] == ["pour-out", "tack-free", "recoat"]
    assert {"back-roll", "broadcast", "foot-traffic"} < {one.name for one in laid().tracks()}


def test_what_was_read_in_a_bucket_explains_its_hour_until_it_is_empty() -> None:
    log = laid(poured=None)
    log.add(6, Reading(bucket_c=33.0, batch=1))
    assert [said for said in track(log, "pour-out").because if said.startswith("read 33 °C in the bucket: closes")]
    log.add(8, Poured(1))
    assert not [said for said in track(log, "pour-out").because if "in the bucket:" in said]


def test_a_share_that_was_used_up_in_the_bucket_is_told_from_a_fiftieth_on() -> None:
    told = {poured: [said for said in track(laid(poured=poured), "back-roll").because if "used up" in said]
            for poured in (0.1, 5.0, 12.0)}  # fmt: skip
    assert told[0.1] == []
    assert [len(said) for said in told.values()] == [0, 1, 1]


def test_another_coat_that_went_down_in_the_same_moment_lies_not_over_it() -> None:
    log = laid()
    log.add(1, Combined("Shed top", ("bay 1",), volume_l=2.0, material_c=20.0, coat="top"))
    log.add(5, Poured(2))
    assert track(log, "recoat").stated is None
    later = laid()
    later.add(1, Combined("Shed top", ("bay 1",), volume_l=2.0, material_c=20.0, coat="top"))
    later.add(5.1, Poured(2))
    over = track(later, "recoat").stated
    assert over is not None
    assert over.at == instant(5.1)
