"""Where a window stands, at the very instants at which that changes, and what an area's batches make of one window.

The rules: closed from the likely edge, missed from the late one, waiting until the hour that is sure, closing from its
heads-up. An area opens with its last batch and shuts with its first; it is done when all are.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.decide.shapes import Edge, State, Window
from mixclock.decide.windows import area_windows, counted_as_due, seen_at, state_of
from mixclock.job.entry import Combined, Did, Poured, Reading
from tests.decide.worlds import Log, instant

STARTS = instant(0)
OPENS = Edge(instant(10), instant(12), instant(15))
CLOSES = Edge(instant(40), instant(50), instant(60))
MOMENT = timedelta(microseconds=1)


def edge(early: float, likely: float, late: float | None) -> Edge:
    """An edge in minutes after eight."""
    return Edge(instant(early), instant(likely), None if late is None else instant(late))


@pytest.mark.parametrize(
    ("minutes", "before", "then"),
    [
        (15, State.WAITING, State.OPEN),
        (30, State.OPEN, State.CLOSING),
        (50, State.CLOSING, State.CLOSED),
        (60, State.CLOSED, State.MISSED),
    ],
)
def test_a_state_changes_at_its_instant(minutes: float, before: State, then: State) -> None:
    assert state_of(STARTS, OPENS, CLOSES, False, instant(30), instant(minutes) - MOMENT) is before
    assert state_of(STARTS, OPENS, CLOSES, False, instant(30), instant(minutes)) is then


def test_where_no_late_edge_is_claimed_a_window_is_missed_from_the_likely_one() -> None:
    closes = edge(40, 50, None)
    assert state_of(STARTS, OPENS, closes, False, None, instant(50) - MOMENT) is State.OPEN
    assert state_of(STARTS, OPENS, closes, False, None, instant(50)) is State.MISSED


def test_a_window_without_an_opening_is_open_from_its_start_and_waited_for_before() -> None:
    assert state_of(instant(5), None, CLOSES, False, None, instant(5) - MOMENT) is State.WAITING
    assert state_of(instant(5), None, CLOSES, False, None, instant(5)) is State.OPEN
    assert state_of(instant(20), OPENS, CLOSES, False, None, instant(19)) is State.WAITING, "its clock has not begun"


def test_a_window_without_a_closing_stays_open() -> None:
    assert state_of(STARTS, OPENS, None, False, None, instant(9000)) is State.OPEN
    assert state_of(STARTS, OPENS, None, False, instant(30), instant(9000)) is State.OPEN


def test_where_it_opens_for_sure_only_when_it_may_be_shut_it_is_open_from_the_likely_hour() -> None:
    unsure = edge(14, 50, 60)
    assert state_of(STARTS, OPENS, unsure, False, None, instant(12) - MOMENT) is State.WAITING
    assert state_of(STARTS, OPENS, unsure, False, None, instant(12)) is State.OPEN


def test_what_is_done_is_done_whatever_the_hour_and_without_a_date_it_is_waited_for() -> None:
    assert state_of(STARTS, OPENS, CLOSES, True, instant(30), instant(90)) is State.DONE
    assert state_of(STARTS, None, None, False, None, instant(90), "no date") is State.WAITING
    assert state_of(STARTS, OPENS, CLOSES, False, instant(30), instant(35), "no date") is State.WAITING


def recoat(batch: int, opens: Edge | None, closes: Edge | None, **more: object) -> Window:
    """The recoat of one batch on bay 1."""
    window = Window("recoat", batch, "bay 1", 0, instant(batch), opens, closes, State.WAITING, 0.1 * batch, 0.2 * batch)
    return replace(window, coat="base", **more)  # type: ignore[arg-type]


def together(*group: Window, now: float = 100.0) -> Window:
    """The area's one window."""
    (found,) = area_windows(group, instant(now))["bay 1", "base"]
    return found


def test_a_step_is_done_from_the_instant_at_which_it_was_done_and_keeps_the_ripeness_of_then() -> None:
    """The base's 22 min for rolling at 20 °C: 11 min after the pour half of them are gone."""
    log = Log()
    log.add(-1, Reading(slab_c=20.0, air_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.45, ended=True))
    log.add(0, Poured(1))
    log.add(11, Did("back-roll", 1))
    [rolled] = [track for track in log.tracks() if track.name == "back-roll"]
    assert seen_at(rolled, instant(11) - MOMENT).state is not State.DONE
    for minutes in (11, 500):
        window = seen_at(rolled, instant(minutes))
        assert (window.state, window.stated) == (State.DONE, instant(11))
        assert window.ripeness_closes == pytest.approx(0.5, abs=0.02)


def test_how_ripe_a_window_is_is_worked_out_for_who_looks_and_not_for_the_daemon_that_asks_twice_a_second() -> None:
    """The base's recoat from 12 h to 48 h at 20 °C: three hours after the pour a quarter and a sixteenth are gone."""
    log = Log()
    log.add(-1, Reading(slab_c=20.0, air_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=3.45, ended=True))
    log.add(0, Poured(1))
    [coated] = [track for track in log.tracks() if track.name == "recoat"]
    seen, quick = seen_at(coated, instant(180)), seen_at(coated, instant(180), ripe=False)
    assert (seen.ripeness_opens, seen.ripeness_closes) == pytest.approx((0.25, 0.0625), abs=0.01)
    assert (quick.ripeness_opens, quick.ripeness_closes) == (None, None)


FIRST = recoat(1, edge(10, 12, 15), edge(40, 50, 60))
SECOND = recoat(2, edge(20, 22, 25), edge(45, 48, 70))


def test_an_area_opens_with_its_last_batch_and_shuts_with_its_first() -> None:
    for group in ((FIRST, SECOND), (SECOND, FIRST)):
        found = together(*group, now=30)
        assert (found.opens, found.closes) == (edge(20, 22, 25), edge(40, 48, 60))
        assert (found.batch, found.portion, found.starts, found.state) == (None, 0, instant(2), State.OPEN)
        assert (found.ripeness_opens, found.ripeness_closes) == (0.1, 0.4), "the least ripe opens, the ripest shuts"


def test_an_area_is_warned_and_explained_by_the_batch_that_shuts_first() -> None:
    one = replace(FIRST, heads_up=instant(30), latest_start=instant(35), because=("the older batch",), who="mixer")
    other = replace(SECOND, heads_up=instant(42), latest_start=instant(44), because=("the younger",), who="roller")
    for group in ((one, other), (other, one)):
        found = together(*group, now=30)
        assert (found.state, found.heads_up, found.latest_start) == (State.CLOSING, instant(30), instant(35))
        assert (found.because, found.who) == (("the older batch",), "mixer")
    ends = replace(one, closes=None, starts=instant(9)), replace(other, closes=None, starts=instant(4))
    assert together(*ends).because == ("the younger",), "where none shuts, the one that began first"


def test_an_area_shuts_late_with_the_first_whose_doubt_runs_out_but_never_before_it_likely_does() -> None:
    short = recoat(2, None, edge(30, 31, 32))
    assert together(FIRST, short).closes == edge(30, 31, 32)
    unknown = recoat(2, None, edge(45, 70, None))
    assert together(FIRST, unknown).closes == edge(40, 50, 60)
    alone = recoat(2, None, edge(45, 70, None))
    assert together(alone).closes == edge(45, 70, None)


def test_an_area_opens_late_only_where_every_batch_claims_when() -> None:
    assert together(FIRST, recoat(2, edge(20, 22, None), None)).opens == edge(20, 22, None)
    assert together(FIRST, recoat(2, None, None)).opens == FIRST.opens
    assert together(FIRST, recoat(2, edge(5, 6, 90), None)).opens == edge(10, 12, 90)


def test_an_area_is_done_when_all_are_and_then_since_the_last_of_them() -> None:
    one = replace(FIRST, state=State.DONE, stated=instant(30))
    other = replace(SECOND, state=State.DONE, stated=instant(33))
    both = together(one, other)
    assert (both.state, both.stated) == (State.DONE, instant(33))
    half = together(one, SECOND, now=30)
    assert (half.state, half.stated) == (State.OPEN, None)


def test_a_guess_or_a_missing_date_of_one_batch_is_the_areas() -> None:
    assert together(FIRST, replace(SECOND, provisional=True)).provisional
    assert not together(FIRST, SECOND).provisional
    cold = together(FIRST, replace(SECOND, no_date="no date until the slab is over 10 °C"), now=30)
    assert (cold.opens, cold.state, cold.no_date) == (None, State.WAITING, "no date until the slab is over 10 °C")


def test_areas_coats_and_windows_are_kept_apart() -> None:
    elsewhere, upper = replace(SECOND, area="bay 2"), replace(SECOND, coat="top")
    feet = replace(SECOND, name="foot-traffic")
    rolled = replace(SECOND, name="back-roll")
    nowhere = replace(SECOND, area=None)
    found = area_windows([FIRST, elsewhere, upper, feet, rolled, nowhere], instant(30))
    assert {place: [window.name for window in windows] for place, windows in found.items()} == {
        ("bay 1", "base"): ["recoat", "foot-traffic"],
        ("bay 2", "base"): ["recoat"],
        ("bay 1", "top"): ["recoat"],
    }


def test_where_the_time_is_unknown_a_step_is_due_now_and_likely_and_late_stay_where_they_are() -> None:
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, coat="base", material_c=20.0))
    log.add(7, Poured(1))
    for name in ("pour-out", "back-roll"):
        track = next(one for one in log.tracks(1 if name == "pour-out" else 8) if one.name == name)
        shuts = track.closing
        assert shuts is not None
        due = counted_as_due(track, shuts.early - timedelta(minutes=1))
        assert due.closing == Edge(shuts.early - timedelta(minutes=1), shuts.likely, shuts.late)
        assert due.starts == track.starts
        before = counted_as_due(track, track.starts - timedelta(minutes=1))
        assert before.starts == track.starts - timedelta(minutes=1), "and it runs already"
        due_anyway = counted_as_due(track, shuts.early)
        assert due_anyway == track, "what is due by the clock already stays as it is, with its warnings"
