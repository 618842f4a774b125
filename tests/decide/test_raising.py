"""When an alert is raised, raised again, and left alone: each rule at its very instant, on a history set by hand.

The rules: a critical call repeats every 20 s; what no channel took is tried after 5, 20 and 60 s (a critical one after
20 s at most); a raising that nobody answered for 6 s was cut off by a crash; heard pauses for a quarter of what is left
and 20 s at least; over 2 s late is said; a second heads-up within half an hour is the same one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from mixclock.decide.alerting.raising import Raise, Silence, doubted, is_cleared, to_raise
from mixclock.decide.shapes import Alert, Edge, Rank, Stage, State, Window
from mixclock.job.entry import Delivered, Entry, Heard, Noted, Raised
from mixclock.job.progress import Raising, may_have_reached
from tests.decide.worlds import Log, instant

NOON = instant(240)
STANDING = Log().standing()


def later(seconds: float) -> datetime:
    """So many seconds after noon."""
    return NOON + timedelta(seconds=seconds)


def call(stage: Stage = Stage.NOW, rank: Rank = Rank.CRITICAL, **more: object) -> Alert:
    """The pour-out of batch 1, due at noon."""
    usual: dict[str, object] = {"id": "b1.pour-out", "step": "pour-out", "due": NOON, "who": "mixer"}
    return Alert(**{**usual, "rank": rank, "stage": stage, **more})  # type: ignore[arg-type]


def raised(
    at_s: float, alert: Alert, *answers: str, heard_s: float | None = None, shown: bool | None = True
) -> Raising:
    """An alert as it was raised before, with a channel's answers and a person's."""
    number = 100 + round(at_s)
    facts = Raised(alert.id, alert.stage, alert.rank, "words", alert.due.isoformat(), who=alert.who)
    given = tuple(_entry(at_s, Delivered(number, "desktop", answer, shown=shown)) for answer in answers)
    heard = None if heard_s is None else _entry(heard_s, Heard((alert.id,)))
    return Raising(replace(_entry(at_s, facts), number=number), given, heard)


def _entry(at_s: float, facts: object) -> Entry:
    return Entry(1, "shed", later(at_s), later(at_s), facts)  # type: ignore[arg-type]


def told(now_s: float, alert: Alert, *before: Raising, in_flight: frozenset[int] | None = None) -> Raise | None:
    """What is raised of one alert."""
    found = to_raise(replace(STANDING, raisings=before), [alert], later(now_s), in_flight=in_flight)
    assert len(found) <= 1
    return found[0] if found else None


@pytest.mark.parametrize(("after_h", "is_raised"), [(0.0, True), (2.0, True), (24.0, False), (168.0, False)])
def test_an_opening_of_half_a_day_ago_is_left_to_the_screens(after_h: float, is_raised: bool) -> None:
    feet = call(Stage.OPENED, Rank.NOTICE, id="bay-2.foot-traffic", step="foot-traffic")
    assert (told(after_h * 3600.0, feet) is not None) is is_raised


@pytest.mark.parametrize(("late_s", "said"), [(0.0, None), (2.0, None), (2.1, 2.1), (90.0, 90.0)])
def test_over_two_seconds_after_it_fell_due_it_is_said_how_late(late_s: float, said: float | None) -> None:
    assert told(late_s, call()) == Raise(call(), 0, said)


def test_a_critical_call_repeats_from_twenty_seconds_on_and_is_not_late_for_it() -> None:
    once = raised(0, call(), "sent")
    assert told(19.9, call(), once) is None
    assert told(20, call(), once) == Raise(call(), 1, None)
    assert told(40, call(), once, raised(20, call(), "sent")) == Raise(call(), 2, None)
    assert told(39.9, call(), once, raised(20, call(), "sent")) is None


@pytest.mark.parametrize(
    "alert", [call(Stage.NOW, Rank.TIMELY), call(Stage.HEADS_UP), call(Stage.LOST), call(Stage.NOW, Rank.NOTICE)]
)
def test_nothing_else_repeats(alert: Alert) -> None:
    hours = later(0).replace(hour=10)  # within working hours, where a notice is said
    before = replace(raised(0, alert, "sent"), entry=replace(raised(0, alert).entry, happened=hours))
    assert to_raise(replace(STANDING, raisings=(before,)), [alert], hours + timedelta(minutes=5)) == ()


@pytest.mark.parametrize(("tries", "after_s"), [(1, 5.0), (2, 20.0), (3, 20.0), (4, 20.0)])
def test_a_critical_call_that_no_channel_took_is_tried_after_5_s_and_then_every_20(tries: int, after_s: float) -> None:
    failed = [raised(-100.0 * (tries - place - 1), call(), "retry") for place in range(tries)]
    assert told(after_s - 0.1, call(), *failed) is None
    again = told(after_s, call(), *failed)
    assert again is not None
    assert (again.repeat, again.again_after_crash) == (tries, False)


@pytest.mark.parametrize(("tries", "after_s"), [(1, 5.0), (2, 20.0), (3, 60.0), (4, 60.0)])
def test_any_other_that_no_channel_took_is_tried_after_5_20_and_then_every_60_s(tries: int, after_s: float) -> None:
    alert = call(rank=Rank.TIMELY)
    failed = [raised(-100.0 * (tries - place - 1), alert, "give_up") for place in range(tries)]
    assert told(after_s - 0.1, alert, *failed) is None
    assert told(after_s, alert, *failed) == Raise(alert, tries, after_s)


def test_what_a_crash_cut_off_is_no_try_that_a_channel_refused() -> None:
    before = [raised(-3, call()), raised(-2, call()), raised(0, call(), "retry")]
    assert told(4.9, call(), *before) is None
    assert told(5, call(), *before) == Raise(call(), 3, 5.0)


def test_what_no_channel_took_but_somebody_heard_is_not_tried_again() -> None:
    assert told(6, call(), raised(0, call(), "retry", heard_s=1)) is None


def test_a_receipt_that_says_it_was_surely_not_shown_counts_as_not_taken() -> None:
    assert told(6, call(), raised(0, call(), "sent", shown=False)) is not None
    assert told(6, call(), raised(0, call(), "sent", shown=None)) is None
    assert not may_have_reached(Delivered(1, "desktop", "sent", shown=False))
    assert may_have_reached(Delivered(1, "desktop", "sent", shown=None))
    assert not may_have_reached(Delivered(1, "desktop", "retry", shown=None))
    assert not may_have_reached(Noted("sent"))


def test_a_raising_without_an_answer_for_six_seconds_was_cut_off_and_is_marked() -> None:
    cut = raised(0, call())
    assert told(5.9, call(), cut) is None
    assert told(6, call(), cut) == Raise(call(), 1, 6.0, again_after_crash=True)


def test_what_is_on_its_way_is_not_cut_off_and_what_is_not_is_at_once() -> None:
    sent = raised(0, call())
    assert told(30, call(), sent, in_flight=frozenset({100})) == Raise(call(), 1, None)  # its turn to repeat has come
    assert told(10, call(), sent, in_flight=frozenset({100})) is None
    assert told(1, call(), sent, in_flight=frozenset()) == Raise(call(), 1, None, again_after_crash=True)


def test_one_channel_said_no_while_the_voice_still_speaks_so_it_is_not_tried_again_yet() -> None:
    speaking = raised(0, call(), "retry")
    assert told(10, call(), speaking, in_flight=frozenset({100})) is None
    assert told(10, call(), speaking, in_flight=frozenset()) == Raise(call(), 1, 10.0)


@pytest.mark.parametrize(
    ("heard_s", "again_s"),
    [
        (100, 200),  # early is at 500 s: a quarter of 400 s is left, so 100 s more
        (440, 460),  # a quarter of 60 s is 15 s: 20 s at least
        (500, 600),  # at the early edge itself what is left runs to the late one, 900 s: a quarter of 400 s
        (700, 750),
    ],
)
def test_heard_pauses_for_a_quarter_of_what_is_left_and_twenty_seconds_at_least(heard_s: int, again_s: int) -> None:
    window = _window(Edge(later(500), later(700), later(900)))
    alert = call(window=window)
    before = raised(heard_s - 1, alert, "sent", heard_s=heard_s)
    assert told(again_s - 0.1, alert, before) is None
    assert told(again_s, alert, before) == Raise(alert, 1, None)


def test_where_no_late_edge_is_claimed_heard_pauses_by_the_likely_one() -> None:
    alert = call(window=_window(Edge(later(500), later(700), None)))
    before = raised(599, alert, "sent", heard_s=600)
    assert told(624.9, alert, before) is None  # a quarter of 100 s
    assert told(625, alert, before) == Raise(alert, 1, None)


def test_the_last_heard_counts_and_not_the_first() -> None:
    alert = call(window=_window(Edge(later(500), later(700), later(900))))
    first, second = raised(50, alert, "sent", heard_s=60), raised(180, alert, "sent", heard_s=300)
    assert told(349.9, alert, first, second) is None  # a quarter of 200 s after 300 s
    assert told(350, alert, first, second) == Raise(alert, 2, None)


def test_a_hot_bucket_that_was_heard_is_left_to_the_board() -> None:
    alert = call(id="b1.hot", step="hot")
    assert told(600, alert, raised(0, alert, "sent", heard_s=5)) is None
    assert told(600, alert, raised(0, alert, "sent")) == Raise(alert, 1, None)


def test_a_later_stage_that_was_raised_already_silences_an_earlier_one() -> None:
    assert told(60, call(Stage.NOW), raised(0, call(Stage.LATE), "sent")) is None
    assert told(60, call(Stage.LATE), raised(0, call(Stage.NOW), "sent")) == Raise(call(Stage.LATE), 0, 60.0)


def test_a_heads_up_half_an_hour_after_another_is_the_same_and_a_later_one_is_new() -> None:
    first = raised(0, call(Stage.HEADS_UP), "sent")
    half = call(Stage.HEADS_UP, due=NOON + timedelta(minutes=30))
    assert told(1800, half, first) is None
    more = call(Stage.HEADS_UP, due=NOON + timedelta(minutes=30, seconds=1))
    assert told(1801, more, first) == Raise(more, 0, None)


def test_each_led_step_of_mixing_is_raised_once_and_counts_as_a_repeat() -> None:
    scrape = call(Stage.STEP, Rank.TIMELY, id="b1.mixing")
    pail = replace(scrape, due=later(60))
    before = raised(0, scrape, "sent")
    assert told(59, scrape, before) is None
    assert told(60, pail, before) == Raise(pail, 1, None)


def test_the_most_urgent_is_raised_first() -> None:
    timely, critical = call(Stage.LATE, Rank.TIMELY, id="b2.bay-1.back-roll"), call(Stage.NOW)
    hot = call(Stage.NOW, id="b3.hot", step="hot", due=later(1))
    found = to_raise(STANDING, [timely, critical, hot], later(1))
    assert [one.alert.id for one in found] == ["b3.hot", "b1.pour-out", "b2.bay-1.back-roll"]


def test_a_warning_for_the_same_person_is_said_along_and_one_for_another_is_not() -> None:
    mine = call(Stage.HEADS_UP, Rank.TIMELY, id="b2.bay-1.back-roll", who="mixer", due=later(50))
    theirs = replace(mine, id="b3.bay-2.back-roll", who="roller")
    due = replace(mine, id="b4.bay-3.back-roll", stage=Stage.NOW)
    found = to_raise(STANDING, [call()], NOON, soon=[mine, theirs, due])
    assert [one.alert.id for one in found] == ["b1.pour-out", "b2.bay-1.back-roll"]
    notice = call(rank=Rank.NOTICE, who="mixer")
    assert [one.alert.id for one in to_raise(STANDING, [notice], instant(60), soon=[mine])] == ["b1.pour-out"]


def test_what_falls_due_soon_is_worked_out_only_where_somebody_is_called() -> None:
    mine = call(Stage.HEADS_UP, Rank.TIMELY, id="b2.bay-1.back-roll", due=later(50))
    asked = []

    def soon() -> list[Alert]:
        asked.append(mine)
        return [mine]

    assert to_raise(STANDING, [], NOON, soon=soon) == ()
    once = replace(STANDING, raisings=(raised(-5, call(), "sent"),))
    assert to_raise(once, [call()], NOON, soon=soon) == (), "its turn to repeat has not come"
    assert asked == []
    assert [one.alert.id for one in to_raise(STANDING, [call()], NOON, soon=soon)] == ["b1.pour-out", mine.id]
    assert asked == [mine]


def test_a_call_that_was_quiet_is_raised_where_the_clock_is_set_back_to_an_hour_at_which_it_is_due() -> None:
    silence, feet = Silence(), call(Stage.OPENED, Rank.TIMELY, id="bay-2.foot-traffic", step="foot-traffic")
    assert to_raise(STANDING, [feet], later(24 * 3600.0), silence=silence) == (), "a day old: the screens show it"
    assert to_raise(STANDING, [feet], later(60.0), silence=silence) == (Raise(feet, 0, 60.0),)


def test_whoever_remembers_what_is_quiet_repeats_a_critical_call_at_its_very_instant() -> None:
    once, silence, alert = replace(STANDING, raisings=(raised(0, call(), "sent"),)), Silence(), call()
    found = {at_s: to_raise(once, [alert], later(at_s), silence=silence) for at_s in (1.0, 19.9, 20.0)}
    assert found == {1.0: (), 19.9: (), 20.0: (Raise(alert, 1, None),)}


def test_a_receipt_that_tells_late_that_nothing_was_shown_ends_the_quiet() -> None:
    alert, silence = call(rank=Rank.TIMELY), Silence()
    sent, unseen = raised(0, alert, "sent", shown=None), raised(0, alert, "sent", shown=False)
    assert to_raise(replace(STANDING, raisings=(sent,)), [alert], later(4), silence=silence) == (), "it may be seen"
    again = to_raise(replace(STANDING, raisings=(unseen,)), [alert], later(6), silence=silence)
    assert again == (Raise(alert, 1, 6.0),)


def test_who_was_called_twice_in_ten_minutes_is_spared_what_can_wait_and_nothing_else() -> None:
    calls = tuple(
        raised(at_s, call(id=f"b{place}.pour-out", who="mixer"), "sent") for place, at_s in enumerate((-500, -300))
    )
    standing = replace(STANDING, raisings=calls)
    warning = call(Stage.HEADS_UP, Rank.TIMELY, id="b9.bay-1.back-roll")
    assert to_raise(standing, [warning], NOON) == ()
    assert [one.alert for one in to_raise(standing, [replace(warning, who="roller")], NOON)] != []
    deadline = replace(warning, stage=Stage.NOW)
    assert [one.alert for one in to_raise(standing, [deadline], NOON)] == [deadline]
    both = to_raise(standing, [warning, call()], NOON)
    assert [one.alert.id for one in both] == ["b1.pour-out", "b9.bay-1.back-roll"], "said along it costs no more"
    assert [one.alert for one in to_raise(standing, [warning], later(101))] == [warning], "one is ten minutes ago"


def test_an_alert_is_cleared_by_who_heard_it_at_its_present_stage() -> None:
    lost = call(Stage.LOST)
    for before, cleared in (
        (raised(0, lost, "sent", heard_s=5), True),
        (raised(0, lost, "sent"), False),
        (raised(0, call(Stage.LATE), "sent", heard_s=5), False),
        (raised(0, replace(lost, id="b2.pour-out"), "sent", heard_s=5), False),
    ):
        assert is_cleared(replace(STANDING, raisings=(before,)), lost) is cleared


@pytest.mark.parametrize(
    ("due_s", "repeat", "late_s", "marked"),
    [
        (-300.0, 0, 300.0, True),  # fell due before the loss was found: it may have been said
        (0.0, 0, None, True),
        (60.0, 0, None, True),  # within the minute that is said along
        (60.1, 0, None, False),
        (300.0, 0, None, False),
        (0.0, 1, 30.0, True),  # tried again, and late for it
        (0.0, 1, None, False),  # a repeat in its turn is a repeat anyway
        (60.1, 1, 3.0, False),
    ],
)
def test_what_fell_due_before_a_part_of_the_log_was_lost_is_marked_as_perhaps_said_already(
    due_s: float, repeat: int, late_s: float | None, marked: bool
) -> None:
    one = Raise(call(due=later(due_s)), repeat, late_s)
    assert doubted([one], NOON) == (replace(one, again_after_crash=marked),)


def _window(closes: Edge) -> Window:
    return Window("pour-out", 1, None, 0, NOON, None, closes, State.CLOSING, None, None)
