"""A reading that jumped counts at once, with its question beside it; until it is answered the safe rule holds."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from mixclock.decide.shapes import Window
from mixclock.job.entry import Combined, Poured, Reading, Withdrawn
from mixclock.units import METRIC_CREW
from mixclock.words.answers import answer_to
from mixclock.words.nowjson import now_json
from mixclock.words.nowscreen import now_lines
from tests.decide.worlds import Log, instant


def day(*slab: tuple[float, float]) -> Log:
    log = Log()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    for minutes, value in slab:
        log.add(minutes, Reading(slab_c=value))
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=4.0))
    log.add(6, Poured(1, ("bay 1",)))
    return log


def edges(log: Log, name: str) -> Window:
    return log.window(name, 10, "bay 1")


def test_until_it_is_answered_what_closes_goes_by_the_warmer_and_what_opens_by_the_colder() -> None:
    cold, warm, asked = day(), day((-25, 36.0), (-24, 36.0)), day((-25, 36.0))
    rolls = [edges(log, "back-roll").closes for log in (cold, warm, asked)]
    assert rolls[0] is not None
    assert rolls[1] is not None
    assert rolls[2] is not None
    assert rolls[2].early <= rolls[1].early < rolls[0].early
    coats = [edges(log, "recoat") for log in (cold, warm, asked)]
    opens = [window.opens.late for window in coats if window.opens is not None]
    shuts = [window.closes.early for window in coats if window.closes is not None]
    assert None not in opens
    assert len(opens) == len(shuts) == 3
    assert opens[2] >= opens[0] > opens[1]  # type: ignore[operator]
    assert shuts[2] <= shuts[1]


def test_a_jump_downwards_leaves_what_closes_with_the_warmer_reading() -> None:
    plain, asked = day(), day((-25, 2.0))
    before, after = edges(plain, "back-roll").closes, edges(asked, "back-roll").closes
    assert before is not None
    assert after is not None
    assert after.early <= before.early


@pytest.mark.parametrize("answer", [Reading(slab_c=35.0), Withdrawn(5)])
def test_the_question_stands_on_the_screen_and_in_the_answer_until_it_is_answered(answer: Reading | Withdrawn) -> None:
    log = Log()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    entry = log.add(-10, Reading(slab_c=36.0))
    assert entry.number == 5
    said = answer_to(entry, log.standing(), (), instant(-10)).asks
    assert len(said) == 1
    assert said[0].startswith("slab from 20 °C to 36 °C in 20 min: is that right?")
    assert said[0].endswith("what closes goes by 36 °C, what opens by 20 °C, the dew margin by 20 °C")
    shown = now_json(log.standing(), (), instant(-9))
    assert [(each["entry"], each["from_c"], each["to_c"]) for each in shown["questions"]] == [(5, 20.0, 36.0)]
    assert any(line.startswith("?  slab from 20 °C") for line in now_lines(shown, ZoneInfo("UTC"), METRIC_CREW))
    log.add(-5, answer)
    assert now_json(log.standing(), (), instant(-4))["questions"] == []


def test_air_that_jumped_is_asked_about_where_it_stands_in_for_the_slab() -> None:
    log, plain = Log(), Log()
    for each in (log, plain):
        each.add(-30, Reading(air_c=15.0, rh_pct=50.0))
    log.add(-20, Reading(air_c=35.0))
    for each in (log, plain):
        each.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=4.0))
        each.add(6, Poured(1, ("bay 1",)))
    assert len(now_json(log.standing(), (), instant(0))["questions"]) == 1
    opens = [edges(each, "recoat").opens for each in (log, plain)]
    assert opens[0] is not None
    assert opens[1] is not None
    assert opens[0].late
    assert opens[1].late
    assert opens[0].late >= opens[1].late


def test_a_bucket_stands_in_the_warmer_air_until_a_jump_is_answered() -> None:
    shut = []
    for jumped in (False, True):
        log = Log()
        log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
        if jumped:
            log.add(-20, Reading(air_c=2.0))
        log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=4.0, material_c=20.0))
        closes = log.window("pour-out", 1).closes
        assert closes is not None
        shut.append(closes.early)
    assert shut[1] <= shut[0]


DEW_AT_30_C_55_PCT = 20.0
"""Air of 30 °C and 55 % has its dew point at 20 °C: a resin maker's glossary, "Dew point" (read, year not given)."""


def test_until_it_is_answered_the_dew_margin_goes_by_the_colder_slab() -> None:
    log = Log()
    log.add(-30, Reading(air_c=30.0, rh_pct=55.0, slab_c=21.0))
    jumped = log.add(-10, Reading(slab_c=40.0))
    shown = now_json(log.standing(), (), instant(-9))["conditions"]
    assert shown["slab_c"] == 40.0
    assert shown["margin_k"] == pytest.approx(21.0 - DEW_AT_30_C_55_PCT, abs=0.5)
    assert "by the colder slab and the warmer air" in answer_to(jumped, log.standing(), (), instant(-10)).said
    log.add(-5, Reading(slab_c=39.0))
    shown = now_json(log.standing(), (), instant(-4))["conditions"]
    assert shown["margin_k"] == pytest.approx(39.0 - DEW_AT_30_C_55_PCT, abs=0.5)


def test_until_it_is_answered_the_dew_margin_goes_by_the_warmer_air() -> None:
    log = Log()
    log.add(-30, Reading(air_c=30.0, rh_pct=55.0, slab_c=22.0))
    log.add(-10, Reading(air_c=12.0))
    shown = now_json(log.standing(), (), instant(-9))["conditions"]
    assert shown["margin_k"] == pytest.approx(22.0 - DEW_AT_30_C_55_PCT, abs=0.5)
    assert shown["air_c"] == 12.0
