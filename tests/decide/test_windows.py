"""Windows of a small floor, asked through the day."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.shapes import State
from mixclock.decide.windows import area_windows, seen_at
from mixclock.job.entry import Began, Combined, Did, MixingEnded, Poured, ProfileUsed, Reading, Saw, Withdrawn
from tests.decide.worlds import BASE, Log, instant, minutes_of
from tests.examples import examples


def shed(slab_c: float = 20.0, air_c: float = 20.0) -> Log:
    """A floor of 20 °C, one batch mixed for bay 1 at eight."""
    log = Log()
    log.add(-10, Reading(air_c=air_c, rh_pct=50.0, slab_c=slab_c))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    return log


def test_a_batch_waits_for_its_pour_with_provisional_floor_windows() -> None:
    log = shed()
    pour = log.window("pour-out", 5)
    roll = log.window("back-roll", 5)
    assert pour.state is State.OPEN
    assert pour.closes is not None
    assert roll.provisional
    assert roll.starts == max(pour.closes.early, instant(3))
    assert roll.state is State.WAITING
    assert any("not poured yet" in said for said in roll.assumed)


def test_floor_windows_count_from_the_pour_that_was_stated() -> None:
    log = shed()
    log.add(5, Poured(1))
    roll = log.window("back-roll", 6)
    assert not roll.provisional
    assert minutes_of(roll.starts) == 5.0
    assert roll.closes is not None
    assert 22.0 - 4.0 < minutes_of(roll.closes.likely) - 5.0 <= 22.0
    assert log.window("pour-out", 6).state is State.DONE


def test_a_late_pour_buys_less_time_on_the_floor_and_says_why() -> None:
    spans = []
    for poured in (4.0, 12.0, 20.0):
        log = shed()
        log.add(poured, Poured(1))
        window = log.window("broadcast", poured)
        assert window.closes is not None
        spans.append(minutes_of(window.closes.likely) - poured)
        if poured > 10.0:
            assert any("used up in the bucket" in said for said in window.because)
    assert spans[0] > spans[1] > spans[2]


@examples(25, deadline=None)
@given(first=st.floats(1.0, 25.0), later=st.floats(0.0, 20.0), cold=st.floats(12.0, 30.0))
def test_pouring_later_never_gains_time_on_the_floor(first: float, later: float, cold: float) -> None:
    ends = []
    for poured in (first, first + later):
        log = shed(slab_c=cold)
        log.add(poured, Poured(1))
        window = log.window("back-roll", poured)
        assert window.closes is not None
        ends.append(minutes_of(window.closes.likely) - poured)
    assert ends[1] <= ends[0] + 1e-3


@examples(40, deadline=None)
@given(
    slab=st.floats(6.0, 33.0), warmer=st.floats(0.0, 8.0), name=st.sampled_from(["back-roll", "broadcast", "recoat"])
)
def test_a_warmer_slab_never_closes_later(slab: float, warmer: float, name: str) -> None:
    edges = []
    for temp_c in (slab, slab + warmer):
        log = shed(slab_c=temp_c)
        log.add(5, Poured(1))
        window = log.window(name, 6)
        assert window.closes is not None
        assert window.closes.late is not None
        edges.append((window.closes.early, window.closes.likely, window.closes.late))
    for cool, warm in zip(edges[0], edges[1], strict=True):
        assert warm <= cool + timedelta(milliseconds=2)


@examples(40, deadline=None)
@given(
    slab=st.floats(4.0, 36.0),
    material=st.floats(8.0, 34.0),
    litres=st.floats(0.2, 18.0),
    poured=st.floats(1.0, 30.0),
)
def test_early_likely_and_late_keep_their_order_whatever_the_day(
    slab: float, material: float, litres: float, poured: float
) -> None:
    log = Log()
    log.add(-10, Reading(air_c=slab, rh_pct=50.0, slab_c=slab))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=litres, material_c=material))
    log.add(poured, Poured(1))
    windows = [seen_at(track, instant(poured + 1)) for track in log.tracks()]  # an Edge refuses any other order
    ripe = [window.ripeness_closes for window in windows if window.ripeness_closes is not None]
    assert len(ripe) >= 4, "pour-out, back-roll, wet edge and broadcast close"
    assert min(ripe) >= 0.0


def test_a_colder_reading_after_the_fact_moves_only_what_lies_ahead() -> None:
    log = shed()
    log.add(5, Poured(1))
    before = log.window("broadcast", 25).ripeness_closes
    log.add(25, Reading(slab_c=20.0))
    log.add(35, Reading(slab_c=14.0))
    after = log.window("broadcast", 25).ripeness_closes
    assert before == pytest.approx(after, abs=1e-9)


def test_a_bigger_kit_must_leave_the_bucket_sooner() -> None:
    spans = []
    for litres in (0.5, 2.0, 6.0):
        log = Log()
        log.add(-10, Reading(air_c=22.0, rh_pct=50.0, slab_c=20.0))
        log.add(0, Combined("Shed base", ("bay 1",), volume_l=litres, material_c=22.0))
        closes = log.window("pour-out", 1).closes
        assert closes is not None
        spans.append(minutes_of(closes.early))
    assert spans[0] >= spans[1] >= spans[2]


def test_a_full_kit_gets_ten_minutes_in_the_bucket_at_most() -> None:
    log = Log()
    log.add(-10, Reading(air_c=15.0, rh_pct=50.0, slab_c=14.0))
    log.add(0, Combined("Shed base", ("bay 1",), mass_kg=12.0, material_c=14.0))
    window = log.window("pour-out", 1)
    assert window.closes is not None
    assert minutes_of(window.closes.early) <= 10.0
    assert any("practice" in said for said in window.because)


def test_a_step_that_was_stated_is_done_and_keeps_its_ripeness() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(15, Did("back-roll", 1))
    soon, later = log.window("back-roll", 16), log.window("back-roll", 300)
    assert soon.state is later.state is State.DONE
    assert soon.ripeness_closes == later.ripeness_closes
    assert soon.ripeness_closes is not None
    assert 0.3 < soon.ripeness_closes < 0.8


def test_a_step_that_nobody_stated_goes_from_open_to_missed() -> None:
    log = shed()
    log.add(5, Poured(1))
    assert log.window("broadcast", 6).state is State.OPEN
    edge = log.window("broadcast", 6).closes
    assert edge is not None
    assert edge.late is not None
    seen = [log.window("broadcast", minutes_of(at) + 0.1).state for at in (edge.early, edge.likely, edge.late)]
    assert seen == [State.CLOSING, State.CLOSED, State.MISSED]


def test_rolling_without_a_stated_pour_implies_one_when_mixing_ended() -> None:
    log = shed()
    log.add(14, Did("back-roll", 1))
    standing = log.standing()
    portion = standing.batches[0].portions[0]
    assert portion.poured.at == instant(3)
    assert portion.assumed is not None
    assert log.window("pour-out", 15).state is State.DONE


def test_a_pour_stated_after_all_replaces_the_implied_one() -> None:
    log = shed()
    log.add(14, Did("back-roll", 1))
    log.add(6, Poured(1), written=20)
    portions = log.standing().batches[0].portions
    assert [portion.assumed for portion in portions] == [None]
    assert portions[0].poured.at == instant(6)


def test_a_bucket_poured_in_parts_keeps_its_pour_out_for_the_rest() -> None:
    log = shed()
    log.add(4, Poured(1, ("bay 1",), part_l=2.0))
    assert log.window("pour-out", 5).state is State.OPEN
    log.add(9, Poured(1, ("bay 2",)))
    assert log.window("pour-out", 10).state is State.DONE
    one, two = log.window("back-roll", 10, "bay 1"), log.window("back-roll", 10, "bay 2")
    assert minutes_of(one.starts) == 4.0
    assert minutes_of(two.starts) == 9.0
    assert [portion.volume_l for portion in log.standing().batches[0].portions] == [2.0, 2.0]


def test_recoat_is_done_when_the_next_coat_is_poured_there() -> None:
    log = shed()
    log.add(5, Poured(1))
    assert log.window("recoat", 60 * 20).state is not State.DONE
    log.add(60 * 20, Combined("Shed top", ("bay 1",), volume_l=1.5))
    log.add(60 * 20 + 3, Poured(2))
    assert log.window("recoat", 60 * 20 + 4).state is State.DONE


def test_an_area_opens_with_its_latest_batch_and_closes_with_its_earliest() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(40, Combined("Shed base", ("bay 1",), volume_l=2.0))
    log.add(46, Poured(2))
    now = instant(50)
    seen = [seen_at(track, now) for track in log.tracks()]
    area = area_windows(seen, now)[("bay 1", "base")]
    recoat = next(window for window in area if window.name == "recoat")
    own = [window for window in seen if window.name == "recoat"]
    assert recoat.opens is not None
    assert recoat.closes is not None
    assert recoat.opens.likely == max(window.opens.likely for window in own if window.opens)
    assert recoat.closes.early == min(window.closes.early for window in own if window.closes)


def test_a_slab_that_nobody_measured_lets_the_air_stand_in_with_three_kelvin_of_doubt() -> None:
    measured, guessed = shed(), Log()
    guessed.add(-10, Reading(air_c=20.0, rh_pct=50.0))
    guessed.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    for log in (measured, guessed):
        log.add(5, Poured(1))
    sure, unsure = measured.window("back-roll", 6), guessed.window("back-roll", 6)
    assert sure.closes is not None
    assert unsure.closes is not None
    assert unsure.closes.early < sure.closes.early
    assert unsure.closes.likely == sure.closes.likely
    assert any("air's temperature stands in" in said for said in unsure.assumed)


def test_a_reading_held_for_over_two_hours_widens_both_ways() -> None:
    fresh, stale = shed(), Log()
    stale.add(-150, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    stale.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    for log in (fresh, stale):
        log.add(5, Poured(1))
    sure, unsure = fresh.window("back-roll", 6).closes, stale.window("back-roll", 6).closes
    assert sure is not None
    assert unsure is not None
    assert sure.late is not None
    assert unsure.late is not None
    assert unsure.early < sure.early
    assert unsure.late > sure.late


def test_moist_air_shortens_a_polyaspartic_floor_and_not_an_epoxy_one() -> None:
    spans: dict[str, list[float]] = {"Shed base": [], "Shed top": []}
    for humidity in (35.0, 85.0):
        for product, found in spans.items():
            log = Log()
            log.add(-10, Reading(air_c=20.0, rh_pct=humidity, slab_c=20.0))
            log.add(0, Combined(product, ("bay 1",), volume_l=2.0, material_c=20.0))
            log.add(3, Poured(1))
            closes = log.window("back-roll", 4).closes
            assert closes is not None
            found.append(minutes_of(closes.likely) - 3.0)
    assert spans["Shed base"][0] == pytest.approx(spans["Shed base"][1])
    assert spans["Shed top"][1] < 0.8 * spans["Shed top"][0]


def test_a_sheet_of_two_humidities_is_met_at_both() -> None:
    for humidity, minutes in ((50.0, 20.0), (80.0, 14.0)):
        log = Log()
        log.add(-10, Reading(air_c=20.0, rh_pct=humidity, slab_c=20.0))
        log.add(0, Combined("Shed top", ("bay 1",), volume_l=2.0, material_c=20.0))
        log.add(0.0, Poured(1))
        closes = log.window("back-roll", 0).closes
        assert closes is not None
        assert minutes_of(closes.likely) == pytest.approx(minutes, abs=0.05)


def test_traffic_on_one_stated_point_says_how_far_its_law_may_be_off_in_the_cold() -> None:
    """24 h at 20 °C, on a slab of 12 °C: four in the hundred a kelvin, 32 %."""
    log = shed(slab_c=12.0)
    log.add(5, Poured(1))
    feet = log.window("foot-traffic", 6)
    assert feet.opens is not None
    assert any("32 % off" in said for said in feet.assumed)
    assert any("one point" in said for said in feet.assumed)


def test_a_slab_under_ten_degrees_is_said_to_be_outside_the_sheet() -> None:
    log = shed(slab_c=7.0)
    log.add(5, Poured(1))
    window = log.window("back-roll", 6)
    assert any("outside the data sheet" in said for said in window.assumed)
    assert window.closes is not None
    inside = shed(slab_c=20.0)
    inside.add(5, Poured(1))
    known = inside.window("back-roll", 6).closes
    assert known is not None
    share = (minutes_of(window.closes.early) - 5) / (minutes_of(window.closes.likely) - 5)
    assert share < (minutes_of(known.early) - 5) / (minutes_of(known.likely) - 5) - 0.05


def test_tack_free_that_was_seen_ends_its_window() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(300, Saw("tack free", 1))
    assert log.window("tack-free", 301).state is State.DONE


def test_on_it_is_remembered_with_its_window() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(12, Began("back-roll", 1))
    assert log.window("back-roll", 13).began == instant(12)


def test_a_withdrawn_batch_takes_its_statements_with_it_and_leaves_the_others_their_numbers() -> None:
    log = shed()
    mistake = log.add(1, Combined("Shed base", ("bay 2",), volume_l=4.0))
    log.add(2, Combined("Shed base", ("bay 3",), volume_l=4.0))
    log.add(6, Poured(2))
    log.add(8, Withdrawn(mistake.number))
    standing = log.standing()
    assert [batch.id for batch in standing.batches] == [1, 3]
    assert not standing.batches[1].portions


def test_a_withdrawal_can_be_withdrawn() -> None:
    log = shed()
    poured = log.add(5, Poured(1))
    undone = log.add(6, Withdrawn(poured.number))
    assert not log.standing().batches[0].portions
    log.add(7, Withdrawn(undone.number))
    assert log.standing().batches[0].portions


def test_the_past_answers_from_what_had_happened_and_from_what_was_known() -> None:
    log = shed()
    log.add(5, Poured(1), written=30)
    assert log.standing(at=20).batches[0].portions
    assert not log.standing(at=20, known=20).batches[0].portions
    assert not log.standing(at=4).batches[0].portions


def test_a_batch_keeps_its_number_when_the_past_is_asked() -> None:
    log = Log()
    log.add(20, Combined("Shed base", ("bay 1",), volume_l=4.0))
    log.add(5, Combined("Shed base", ("bay 2",), volume_l=4.0), written=21)
    assert [batch.id for batch in log.standing(at=10).batches] == [2]


def test_mixing_that_was_stated_ends_when_it_was_stated() -> None:
    log = shed()
    log.add(4.5, MixingEnded(1))
    assert log.standing().batches[0].mixing_ended == instant(4.5)


def test_a_slab_that_warms_up_closes_sooner_and_says_so_in_words() -> None:
    log = shed()
    log.add(5, Poured(1))
    log.add(10, Reading(slab_c=26.0))
    said = [words for words in log.window("broadcast", 11).because if "sooner" in words]
    assert len(said) == 1
    assert said[0].startswith("slab 6 °C warmer than at 8:50: closes")  # 7:50 UTC in Lisbon's summer time


def test_a_warm_bucket_that_was_measured_moves_its_deadline_and_says_why() -> None:
    log = shed()
    log.add(8, Reading(bucket_c=33.0, batch=1))
    window = log.window("pour-out", 8)
    assert any(said.startswith("read 33 °C in the bucket: closes") and "sooner" in said for said in window.because)


def test_a_moisture_driven_floor_as_the_sheet_says_has_the_sheet_s_time_and_no_more_doubt_than_an_epoxy() -> None:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed top", ("bay 1",), volume_l=2.0, material_c=20.0))
    log.add(2, Poured(1))
    for hour in range(1, 12):
        log.add(60 * hour, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    feet = log.window("foot-traffic", 3).opens  # one stated point, no humidity on the sheet
    assert feet is not None
    assert feet.late is not None
    assert minutes_of(feet.likely) - 2 == pytest.approx(360.0, rel=1e-4)
    assert (minutes_of(feet.late) - 2) / 360.0 < 1.61


def recoated(slab_c: float, recoat: str, read_at: float = -10.0) -> Log:
    """A batch poured at 8:05 whose sheet gives a recoat window of its own."""
    log = Log()
    log.entries[1:] = []
    head, tail = BASE.split("[windows.recoat]")
    sheet = head + f"[windows.recoat]\nafter = 'poured'\n{recoat}\n" + "[windows.foot" + tail.split("[windows.foot")[1]
    log.add(-60, ProfileUsed("Shed base", sheet))
    log.add(read_at, Reading(air_c=slab_c, rh_pct=50.0, slab_c=slab_c))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"))
    log.add(5, Poured(1))
    return log


NARROW = 'opens = { "20 °C" = "12 h" }\ncloses = { "20 °C" = "14 h" }'


def test_a_window_narrower_than_its_doubt_is_not_sure_and_is_called_at_its_likely_times() -> None:
    log = recoated(20.0, NARROW)
    window = log.window("recoat", 60)
    assert not window.sure
    assert window.opens is not None
    assert window.closes is not None
    assert window.opens.safe_open > window.closes.early
    assert window.open_from == window.opens.likely
    assert window.called is not None
    assert window.called.early == window.closes.likely
    assert log.window("recoat", 11.9 * 60).state is State.WAITING
    assert log.window("recoat", 12.2 * 60).state in (State.OPEN, State.CLOSING)


def test_a_window_wider_than_its_doubt_is_sure_and_is_called_by_its_edges() -> None:
    window = recoated(20.0, 'opens = { "20 °C" = "12 h" }\ncloses = { "20 °C" = "48 h" }').window("recoat", 60)
    assert window.sure
    assert window.opens is not None
    assert window.closes is not None
    assert (window.open_from, window.called) == (window.opens.safe_open, window.closes)


def test_an_area_whose_batches_conflict_is_not_sure() -> None:
    log = recoated(20.0, 'opens = { "20 °C" = "12 h" }\ncloses = { "20 °C" = "24 h" }')
    log.add(11 * 60, Combined("Shed base", ("bay 1",), volume_l=2.0, material_c=20.0, vessel="pail"))
    log.add(11 * 60 + 5, Poured(2))
    now = instant(12 * 60)
    seen = [seen_at(track, now) for track in log.tracks()]
    area = next(each for each in area_windows(seen, now)[("bay 1", "base")] if each.name == "recoat")
    assert all(each.sure for each in seen if each.name == "recoat" and each.batch == 1)
    assert not area.sure


def test_no_opening_date_is_given_while_the_slab_is_colder_than_the_sheets_lowest() -> None:
    log = recoated(6.0, 'opens = { "20 °C" = "12 h" }\ncloses = { "20 °C" = "48 h" }')
    feet = log.window("foot-traffic", 60 * 24 * 30)
    assert feet.opens is None
    assert feet.state is State.WAITING
    assert feet.no_date == "no date until the slab is over 10 °C"
    log.add(60, Reading(slab_c=14.0))
    warmed = log.window("foot-traffic", 120)
    assert warmed.opens is not None
    assert not warmed.no_date


def cooled(before_c: float, then_c: float) -> tuple[Log, float]:
    """A floor whose slab turns from one temperature to another 20 minutes before it can likely be walked on."""
    log = recoated(20.0, NARROW)
    opens = log.window("foot-traffic", 60).opens
    assert opens is not None
    likely, early = minutes_of(opens.likely), minutes_of(opens.early)
    assert likely - 5 == pytest.approx(24 * 60)  # by the sheet: 24 h at 20 °C
    assert early < likely - 60
    log.add(likely - 21, Reading(slab_c=before_c))
    log.add(likely - 20, Reading(slab_c=then_c))
    return log, likely


def test_a_slab_that_fell_under_its_sheet_before_the_likely_hour_gives_no_date_though_it_was_warm_before() -> None:
    log, likely = cooled(20.0, 6.0)
    feet = log.window("foot-traffic", likely - 10)
    assert feet.no_date == "no date until the slab is over 10 °C"
    assert feet.opens is None
    log, likely = cooled(20.0, 14.0)
    assert not log.window("foot-traffic", likely - 10).no_date


def test_a_slab_that_was_read_again_and_stands_as_it_did_has_moved_nothing_after_a_late_pour() -> None:
    log = shed()
    log.add(15, Poured(1))
    log.add(20, Reading(slab_c=20.0))
    window = log.window("broadcast", 21)
    assert any("used up in the bucket" in said for said in window.because)
    assert [said for said in window.because if said.startswith("slab 0")] == []
    assert [said for said in window.because if "sooner" in said or "later" in said] == []


def test_the_first_coat_over_another_ended_its_recoat_whoever_pours_more_of_it_later() -> None:
    log = recoated(20.0, 'opens = { "20 °C" = "12 h" }\ncloses = { "20 °C" = "48 h" }')
    for number, minutes in ((2, 20 * 60), (3, 30 * 60)):
        log.add(minutes, Combined("Shed top", ("bay 1",), volume_l=1.0, material_c=20.0, coat="top"))
        log.add(minutes + 2, Poured(number))
    ended = next(one for one in log.tracks() if one.name == "recoat" and one.batch.id == 1).stated
    assert ended is not None
    assert ended.at == instant(20 * 60 + 2)
