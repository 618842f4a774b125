"""A bucket that is lost: it is dumped, stated so, and its floor is free again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from mixclock.board.house import Floor
from mixclock.board.view import ViewParts, build_view
from mixclock.decide.alerting import alerts
from mixclock.decide.plan.floor.coverage import covered
from mixclock.decide.shapes import Stage
from mixclock.decide.stages import BatchStage, stage_of
from mixclock.decide.windows import seen_at
from mixclock.job.entry import Combined, Dumped, Poured, ProfileUsed, Reading, Withdrawn
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.statements import DumpedStatement
from mixclock.words.alerting import alert_words
from mixclock.words.nowjson import now_json
from mixclock.words.saidback import said_back
from tests.decide.worlds import BASE, Log, instant, minutes_of


def a_bucket() -> Log:
    """A bucket mixed for bay 1 at eight."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0, vessel="pail"), by="mixer")
    return log


@pytest.mark.parametrize(("share", "on_the_floor_l"), [("quarter", 3.0), ("half", 2.0), ("most", 0.6), ("all", 0.0)])
def test_of_a_bucket_that_was_said_to_be_out_what_is_dumped_is_taken_off_the_floor_again(
    share: str, on_the_floor_l: float
) -> None:
    log = a_bucket()
    log.add(5, Poured(1))
    log.add(8, Dumped(1, share=share))  # most of it: some six sevenths, a judgement
    (portion,) = log.standing(10).batches[0].portions
    assert portion.volume_l == pytest.approx(on_the_floor_l)


def lost_at(log: Log) -> float:
    """The late edge of the bucket, in minutes."""
    closes = log.window("pour-out", 1).closes
    assert closes is not None
    return minutes_of(closes.late or closes.likely)


def state(log: Log, at: float, **what: object) -> str:
    """State `dumped` as a person does, and get what is said back."""
    standing = log.standing(at)
    (draft,) = DumpedStatement(**what).drafts(standing, Attribution(instant(at), None, "mixer"))
    entry = log.add(at, draft.facts, by="mixer")
    return said_back(entry, log.standing(at), instant(at))


def test_a_dumped_bucket_is_over_and_nobody_is_called_for_it() -> None:
    log = a_bucket()
    at = lost_at(log) + 1
    assert [alert.stage for alert in alerts(log.standing(at), log.tracks(at), instant(at))] == [Stage.LOST]
    assert state(log, at) == f"Batch 1: dumped at {(instant(at) + timedelta(hours=1)):%-H:%M}, by mixer"
    standing = log.standing(at + 1)
    assert alerts(standing, log.tracks(at + 1), instant(at + 1)) == ()
    seen = [seen_at(track, instant(at + 1)) for track in log.tracks(at + 1)]
    assert stage_of(standing, standing.batches[0], seen, instant(at + 1)) is BatchStage.DONE
    assert not any(window.area for window in seen), "nothing lies on the floor"


def test_its_floor_is_free_again() -> None:
    log = a_bucket()
    coat = log.standing().site.coat("base")
    area = log.standing().site.area("bay 1")
    assert coat is not None
    assert area is not None
    assert covered(log.standing(5), coat).left_m2(area) == 0.0  # what is in the bucket is meant for it
    state(log, 20)
    assert covered(log.standing(21), coat).left_m2(area) == area.size_m2


def test_a_share_takes_away_from_what_was_said_to_lie_there() -> None:
    log = a_bucket()
    log.add(5, Poured(1))
    assert state(log, 30, batch=1, share="half") == "Batch 1: dumped at 9:30, about half of it, by mixer"
    (portion,) = log.standing(31).batches[0].portions
    assert portion.volume_l == pytest.approx(2.0)
    with pytest.raises(CannotTellError, match="no share 'lots'"):
        state(log, 32, batch=1, share="lots")


def test_a_bucket_poured_in_part_keeps_that_part_whatever_is_dumped() -> None:
    log = a_bucket()
    log.add(5, Poured(1, ("bay 1",), part_l=1.0))
    state(log, 30, batch=1, share="most")
    (portion,) = log.standing(31).batches[0].portions
    assert portion.volume_l == pytest.approx(1.0)


def test_of_a_bucket_poured_in_two_goes_the_second_is_less_by_what_was_dumped() -> None:
    """4 L, 1 L of it first; half of the 3 L that were said to lie there after that was dumped: 1.5 L lie there."""
    log = a_bucket()
    log.add(5, Poured(1, ("bay 1",), part_l=1.0))
    log.add(9, Poured(1))
    state(log, 30, batch=1, share="half")
    assert [portion.volume_l for portion in log.standing(31).batches[0].portions] == pytest.approx([1.0, 1.5])


def test_dumped_twice_is_refused_with_the_way_out_and_the_share_may_follow() -> None:
    log = a_bucket()
    state(log, 30)
    with pytest.raises(CannotTellError, match="was dumped at 9:30; `withdraw 6` first"):
        state(log, 31, batch=1)
    assert "most of it" in state(log, 31, batch=1, share="most")


def test_the_board_offers_to_dump_what_is_lost_before_anything_else() -> None:
    log = a_bucket()
    at = lost_at(log) + 1
    told = now_json(log.standing(at), log.tracks(at), instant(at))
    view = build_view(ViewParts(told, Floor("shed"), (), ()), instant(at))
    [alert] = view["alerts"]
    assert alert["do"] == "Keep it off the floor"
    assert alert["done"] == {"label": "Dumped", "statement": {"verb": "dumped", "batch": 1}}
    assert alert["on_it"] is None
    [card] = view["batches"]
    assert card["next"]["label"] == "Dumped"
    assert {"verb": "poured", "batch": 1} in [each["statement"] for each in card["others"]]


def test_a_bucket_whose_end_nobody_sees_is_dumped_from_its_early_time_on() -> None:
    log = Log()
    unseen = BASE.replace('family = "epoxy"', 'family = "waterborne epoxy"')
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", unseen))
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0, material_c=20.0))
    for minute in range(10, 120):
        found = [one for one in alerts(log.standing(minute), log.tracks(minute), instant(minute)) if one.batch == 1]
        if found and found[0].stage is Stage.LATE:
            said = alert_words(found[0], log.standing(minute), instant(minute))
            assert said.do == "Dump it"
            assert "You cannot see that it is gone" in said.body
            assert said.gone
            return
    raise AssertionError("it never came to late")


def test_a_bucket_poured_past_its_time_gets_one_call_and_not_four() -> None:
    log = a_bucket()
    at = lost_at(log) + 2
    log.add(at, Poured(1))
    for after in (0.1, 1.0, 5.0, 60.0):
        told = [
            one for one in alerts(log.standing(at + after), log.tracks(at + after), instant(at + after))
            if one.area is not None
        ]  # fmt: skip
        assert [one.step for one in told] == ["back-roll"]
        said = alert_words(told[0], log.standing(at + after), instant(at + after))
        assert said.do == "Roll only what still flows"


def test_withdrawing_the_dump_brings_the_bucket_back() -> None:
    log = a_bucket()
    at = lost_at(log) + 1
    entry = log.add(at, Dumped(1))
    log.add(at + 1, Withdrawn(entry.number))
    assert [one.stage for one in alerts(log.standing(at + 2), log.tracks(at + 2), instant(at + 2))] == [Stage.LOST]
