"""The stages of an edge that closes, each at its very instant, on tracks whose edges are set by hand.

The rules: now is the latest start, late the early edge, gone the late one and a minute after the early one at least. A
step without a rate is late after a quarter of its doubt, 20 s at least and 5 min at most. A joint is kept by opening
the next kit in time: the early edge less mixing, stand and two minutes; it is late half a minute later. Late is one
person's for a minute, then everybody's.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.alerting.closing import Stages, calls_to_come, closing_alert, stages_of
from mixclock.decide.crewsteps import DueTimes
from mixclock.decide.shapes import Edge, JointBatch, Rank, Stage
from mixclock.decide.tracks import Track
from mixclock.decide.windows import counted_as_due
from mixclock.job.entry import Combined, JobStarted, Poured, ProfileUsed, Reading
from mixclock.job.progress import Standing, StatedFact
from mixclock.job.steps import FILM_ORDER
from tests.decide.worlds import BASE, SITE, Log, instant

MINUTE = timedelta(minutes=1)


def poured_log(site: str = SITE, base: str = BASE, second: str | None = None) -> Log:
    """A batch poured on bay 1 five minutes after eight, and perhaps a second one in its bucket."""
    log = Log()
    log.entries.clear()
    log.add(-60, JobStarted("Boat shed", site))
    log.add(-60, ProfileUsed("Shed base", base))
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, mixed("bay 1"), by="mixer")
    log.add(5, Poured(1))
    if second is not None:
        log.add(8, mixed(second))
    return log


def mixed(area: str) -> Combined:
    """A batch of base for an area, to be mixed for three minutes."""
    return Combined("Shed base", (area,), coat="base", volume_l=4.0, material_c=20.0, mixing_s=180.0)


def track_of(log: Log, name: str, edge: Edge | None = None, due: DueTimes | None = None) -> tuple[Standing, Track]:
    """The first window of a name, with an edge of our own."""
    found = next(track for track in log.tracks() if track.name == name)
    if edge is not None:
        if found.bucket is not None:
            found = replace(found, bucket=replace(found.bucket, edge=edge))
        else:
            assert found.closes is not None
            found = replace(found, closes=replace(found.closes, edge=edge), opens=None)
    return log.standing(), replace(found, due=due) if due is not None else found


def edge_at(early: float, likely: float, late: float | None) -> Edge:
    """An edge in minutes after eight."""
    return Edge(instant(early), instant(likely), None if late is None else instant(late))


def stated(minutes: float) -> StatedFact:
    """That the roller said something happened, so many minutes after eight."""
    return StatedFact(instant(minutes), "roller", 9, instant(minutes))


def staged(log: Log, name: str, edge: Edge, due: DueTimes) -> Stages:
    """When the stages fall due."""
    standing, track = track_of(log, name, edge, due)
    assert track.called is not None
    return stages_of(standing, track, track.called)


def test_each_stage_is_reached_at_its_instant_and_not_before() -> None:
    stages = Stages((instant(10), instant(20)), instant(30), instant(40), instant(50))
    second = timedelta(seconds=1)
    reached = {minutes: stages.at(instant(minutes)) for minutes in (10, 20, 30, 40, 50)}
    assert reached == {
        10: (Stage.HEADS_UP, instant(10)),
        20: (Stage.HEADS_UP, instant(20)),
        30: (Stage.NOW, instant(30)),
        40: (Stage.LATE, instant(40)),
        50: (Stage.LOST, instant(50)),
    }
    assert stages.at(instant(10) - second) is None
    assert stages.at(instant(20) - second) == (Stage.HEADS_UP, instant(10))
    before = [stages.at(instant(minutes) - second) for minutes in (30, 40, 50)]
    assert [found and found[0] for found in before] == [Stage.HEADS_UP, Stage.NOW, Stage.LATE]


@pytest.mark.parametrize(
    ("late", "late_after_s", "lost"),
    [
        (34.0, 60.0, 34.0),  # four minutes of doubt: a quarter is a minute
        (31.0, 20.0, 31.0),  # a quarter of a minute is 15 s: 20 s at least
        (60.0, 300.0, 60.0),  # a quarter of half an hour is 7.5 min: 5 min at most
        (30.5, 20.0, 31.0),  # gone no sooner than a minute after the edge
    ],
)
def test_without_a_rate_late_follows_after_a_quarter_of_the_doubt(
    late: float, late_after_s: float, lost: float
) -> None:
    stages = staged(poured_log(), "back-roll", edge_at(30, 30, late), DueTimes(instant(30), (instant(25),)))
    assert stages == Stages((instant(25),), instant(30), instant(30) + timedelta(seconds=late_after_s), instant(lost))


@pytest.mark.parametrize(("late", "lost"), [(40.0, 40.0), (30.5, 31.0), (None, 35.0)])
def test_with_a_rate_late_is_the_early_edge_itself(late: float | None, lost: float) -> None:
    edge = edge_at(30, 30.2 if late == 30.5 else 35, late)
    stages = staged(poured_log(), "broadcast", edge, DueTimes(instant(22), (instant(18),)))
    assert stages == Stages((instant(18),), instant(22), instant(30), instant(lost))


def test_a_window_whose_doubt_is_wider_than_itself_is_called_at_its_likely_time() -> None:
    standing, track = track_of(poured_log(), "back-roll", edge_at(30, 34, 40))
    assert track.opens is None
    assert track.closes is not None
    unsure = replace(track, opens=replace(track.closes, edge=edge_at(10, 20, 30)))  # opens for sure when it may be shut
    assert unsure.called == edge_at(34, 34, 40)
    sure = replace(track, opens=replace(track.closes, edge=edge_at(10, 20, 29.9)))
    assert sure.called == edge_at(30, 34, 40)
    assert standing.site.name == "Boat shed"


def test_where_the_time_is_unknown_what_is_counted_as_due_is_called_at_once() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    due = counted_as_due(track, instant(10))
    assert due.called is not None
    # late after 5 min at most, of the half hour that is left of the doubt
    assert stages_of(standing, due, due.called) == Stages((), instant(10), instant(15), instant(40))
    alert = closing_alert(standing, due, instant(10))
    assert alert is not None
    assert (alert.stage, alert.due) == (Stage.NOW, instant(10))


def test_how_ripe_a_film_is_is_not_worked_out_for_a_call() -> None:
    standing, track = track_of(poured_log(), "back-roll", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    for alert in (closing_alert(standing, track, instant(31), lost) for lost in (False, True)):
        assert alert is not None
        assert alert.window is not None
        assert (alert.window.ripeness_opens, alert.window.ripeness_closes) == (None, None)


def test_the_next_kit_is_opened_in_time_to_mix_pour_and_draw_it_to_the_joint() -> None:
    # 3 min of mixing and 2 to the joint; the edge is 25 min after the pour, so 2.5 min of warning; late after 30 s
    stages = staged(poured_log(), "wet-edge", edge_at(30, 34, 40), DueTimes(instant(30), (instant(26),)))
    assert stages == Stages((instant(22.5),), instant(25), instant(25.5), instant(40))


def test_a_product_that_stands_before_use_is_opened_that_much_sooner() -> None:
    base = BASE + '[windows.induction]\nafter = "mixed"\nopens = "10 min"\n'
    stages = staged(poured_log(base=base), "wet-edge", edge_at(30, 34, 40), DueTimes(instant(30), (instant(26),)))
    assert stages.now == instant(15)


@pytest.mark.parametrize(("early", "warned_s"), [(9.0, 30.0), (65.0, 300.0), (35.0, 180.0)])
def test_a_joint_is_announced_a_tenth_of_its_span_ahead_within_half_a_minute_and_five(
    early: float, warned_s: float
) -> None:
    log = poured_log(second="bay 2")  # mixed already: two minutes are enough
    stages = staged(log, "wet-edge", edge_at(early, early, early + 9), DueTimes(instant(early), (instant(early - 4),)))
    assert stages.now == instant(early - 2)
    assert stages.heads_up == (instant(early - 2) - timedelta(seconds=warned_s),)
    assert stages.lost == instant(early + 9)


def test_a_joint_that_cannot_be_kept_any_more_is_called_from_the_pour_on_and_gone_no_sooner() -> None:
    stages = staged(poured_log(), "wet-edge", edge_at(5.5, 5.5, 5.5), DueTimes(instant(5.5), (instant(1.5),)))
    assert stages == Stages((instant(5),), instant(5), instant(5.5), instant(5.5))


@pytest.mark.parametrize(("second", "detail"), [("bay 2", JointBatch(2)), ("bay 3", None), (None, None)])
def test_only_a_bucket_for_the_neighbour_is_the_one_that_comes(second: str | None, detail: JointBatch | None) -> None:
    standing, track = track_of(
        poured_log(second=second), "wet-edge", edge_at(30, 34, 40), DueTimes(instant(30), (instant(26),))
    )
    alert = closing_alert(standing, track, instant(31))
    assert alert is not None
    assert alert.detail == detail


def test_a_bucket_for_the_neighbour_that_is_poured_out_comes_no_more() -> None:
    log = poured_log(second="bay 2")
    log.add(10, Poured(2, areas=("bay 3",)))
    standing, track = track_of(log, "wet-edge", edge_at(30, 34, 40), DueTimes(instant(30), (instant(26),)))
    alert = closing_alert(standing, track, instant(31))
    assert alert is not None
    assert alert.detail is None


def test_late_is_one_persons_for_a_minute_and_then_everybodys() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    told = {minutes: closing_alert(standing, track, instant(minutes)) for minutes in (22, 30, 30.99, 31, 40)}
    assert {minutes: (alert.stage, alert.who) for minutes, alert in told.items() if alert is not None} == {
        22: (Stage.NOW, "roller"),
        30: (Stage.LATE, "roller"),
        30.99: (Stage.LATE, "roller"),
        31: (Stage.LATE, None),
        40: (Stage.LOST, "roller"),
    }


def test_what_is_gone_stands_on_the_board_and_what_closes_does_not() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    now, lost = closing_alert(standing, track, instant(24)), closing_alert(standing, track, instant(41))
    assert now is not None
    assert (now.standing, now.rank, now.due) == (False, Rank.CRITICAL, instant(22))
    assert lost is not None
    assert lost.standing
    rolling = track_of(poured_log(), "back-roll", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    timely = closing_alert(*rolling, instant(41))
    assert timely is not None
    assert (timely.stage, timely.rank, timely.standing) == (Stage.LOST, Rank.TIMELY, False)


def test_a_step_that_was_stated_calls_nobody_from_then_on_and_did_before() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    done = replace(track, stated=stated(25))
    assert closing_alert(standing, done, instant(24.9)) is not None
    assert closing_alert(standing, done, instant(25)) is None
    found = (closing_alert(standing, each, instant(26)) for each in (track, done))
    assert [each is not None for each in found] == [True, False]


def test_who_is_on_it_hears_nothing_until_the_edge() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    on_it = replace(track, began=stated(23))
    assert closing_alert(standing, on_it, instant(22.9)) is not None, "nobody was on it yet"
    assert closing_alert(standing, on_it, instant(23)) is None
    assert closing_alert(standing, replace(on_it, began=stated(19)), instant(19)) is None
    late = closing_alert(standing, on_it, instant(30))
    assert late is not None
    assert late.stage is Stage.LATE


def test_what_rests_on_a_guessed_pour_is_told_once_and_never_critical() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    guessed = replace(track, provisional=True)
    told = {minutes: closing_alert(standing, guessed, instant(minutes)) for minutes in (19, 23, 31, 41)}
    assert {minutes for minutes, alert in told.items() if alert is not None} == {23}
    assert told[23] is not None
    assert told[23].rank is Rank.TIMELY


@pytest.mark.parametrize(
    ("window", "was", "becomes", "called"),
    [
        ("broadcast", 'flake = "0.4 kg/m2"\n', "", False),
        ("broadcast", "", "", True),
        ("wet-edge", 'wet_film = "300 um"\n', 'wet_film = "300 um"\nwet_edge = false\n', False),
        ("wet-edge", 'wet_film = "300 um"\n', 'wet_film = "300 um"\nwet_edge = true\n', True),
        ("wet-edge", 'next_to = ["bay 2"]\n', "next_to = []\n", False),
        ("back-roll", 'flake = "0.4 kg/m2"\n', "", True),
    ],
)
def test_nobody_is_called_for_flake_that_is_not_thrown_or_a_joint_that_is_not_kept(
    window: str, was: str, becomes: str, called: bool
) -> None:
    log = poured_log(SITE.replace(was, becomes, 1) if was else SITE)
    standing, track = track_of(log, window, edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    assert (closing_alert(standing, track, instant(32)) is not None) is called
    assert (calls_to_come(standing, track, [Stage.NOW]) != []) is called


def test_the_stand_in_the_bucket_is_over_with_the_pour() -> None:
    base = BASE + '[windows.induction]\nafter = "mixed"\nopens = "10 min"\n'
    log = poured_log(base=base, second="bay 2")
    of_batch = {track.batch.id: track for track in log.tracks() if track.name == "induction"}
    assert of_batch[2].stated is None
    assert of_batch[1].stated is not None
    assert of_batch[1].stated.at == instant(5)


def test_a_recoat_is_the_areas_question_and_not_the_batches() -> None:
    standing, track = track_of(poured_log(), "recoat")
    assert track.called is not None
    assert closing_alert(standing, track, track.called.early + timedelta(days=2)) is None


def test_the_calls_to_come_are_those_of_the_stages_asked_for_each_as_it_will_be() -> None:
    standing, track = track_of(poured_log(), "broadcast", edge_at(30, 35, 40), DueTimes(instant(22), (instant(18),)))
    found = calls_to_come(standing, track, [Stage.NOW, Stage.LATE, Stage.LOST])
    assert [(alert.stage, alert.due) for alert in found] == [
        (Stage.NOW, instant(22)),
        (Stage.LATE, instant(30)),
        (Stage.LOST, instant(40)),
    ]
    assert [alert.stage for alert in calls_to_come(standing, track, [Stage.LOST])] == [Stage.LOST]
    done = replace(track, stated=stated(45))
    assert calls_to_come(standing, done, [Stage.NOW]) == []


@pytest.mark.parametrize(
    ("sheet", "told"),
    [
        (BASE, {"back-roll"}),
        (re.sub(r"\[windows.back-roll\][^\[]*", "", BASE), {"broadcast"}),
    ],
)
def test_of_a_bucket_that_went_out_too_late_the_first_window_of_its_sheet_is_told_and_no_other(
    sheet: str, told: set[str]
) -> None:
    log = poured_log(base=sheet)
    standing = log.standing()
    called = {
        track.name: closing_alert(standing, track, instant(6), poured_lost=True)
        for track in log.tracks()
        if track.name in FILM_ORDER
    }
    assert {name for name, alert in called.items() if alert is not None} == told
