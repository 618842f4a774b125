"""Ready, evening, morning: short questions with the sheet's figures, answered or not recorded, and never in the way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.job.dayentries import Answered
from mixclock.job.entry import JobStarted, Measured, Noted, ProfileUsed, Reading
from mixclock.job.rounds import ROUNDS, RoundName
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.slabmoisture import BY_WEIGHT, moisture_limit, moisture_objection, slab_moisture
from mixclock.job.statements import VERBS
from mixclock.units import UnitError
from mixclock.words.rounds import NOT_RECORDED, question_lines, questions, round_json, typed_kind
from tests.decide.worlds import BASE, SITE, Log, instant

US_SITE = f'units = "US"\n{SITE}'


def answered(log: Log, round_: str, item: str, answer: str, minutes: float = 0.0, **more: str) -> list[object]:
    """What one answer adds to the log."""
    statement = VERBS[round_].told({"item": item, "answer": answer, **more})
    drafts = statement.drafts(log.standing(minutes), Attribution(instant(minutes), None, "mixer", None))
    for draft in drafts:
        log.add(minutes, draft.facts, by="mixer")
    return [draft.facts for draft in drafts]


def test_calcium_chloride_in_pounds_and_a_humidity_in_the_slab_are_both_held_against_what_is_usual() -> None:
    log = Log()
    by_weight, answer = answered(log, "ready", "moisture", "3.5 lb")
    assert isinstance(by_weight, Measured)
    # 3.5 lb on 1000 ft² are 3.5 * 453.59237 g / 92.90304 m² (both units by definition): 17.09 g/m² a day
    assert round(by_weight.value, 2) == 17.09
    assert isinstance(answer, Answered)
    assert answer.fine is False, "three pounds are customary (ASTM F1869)"
    _, damp = answered(log, "ready", "moisture", "72 % RH")
    assert isinstance(damp, Answered)
    assert damp.fine is True, "75 % in the slab is usual (ASTM F2170 practice)"


def test_a_sheet_that_states_pounds_rules_itself() -> None:
    log = Log()
    limited = BASE.replace("[limits]", '[limits]\nvapour_max = "5 lb"')
    assert limited != BASE
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", limited))
    _, answer = answered(log, "ready", "moisture", "4.5 lb")
    assert isinstance(answer, Answered)
    assert answer.fine is True


def test_a_measured_moisture_is_a_no_go_for_what_lies_on_the_slab() -> None:
    log = Log()
    log.add(0, Measured("moisture", 85.0, "pct", "bay 1"))
    limits = log.standing().profile("Shed base").limits  # type: ignore[union-attr]
    wet, other = (slab_moisture(log.standing(), area, limits, instant(1)) for area in ("bay 1", "bay 2"))
    assert moisture_objection(wet) is not None
    assert other is None, "a measurement of one bay says nothing of another"
    assert moisture_limit(85.0, "pct", limits).value == 75.0
    log.add(2, Measured("moisture by weight", 12.0, BY_WEIGHT, "bay 1"))
    still = slab_moisture(log.standing(), "bay 1", limits, instant(3))
    assert still is not None
    assert still.over, "a second way to measure takes no no-go away from the first"


@pytest.mark.parametrize(
    ("round_", "item", "said", "stands", "fine"),
    [
        ("ready", "cloth", "Yes", "clean", True),
        ("ready", "cloth", "dusty", "dusty", False),
        ("ready", "delivery", "frozen", "frozen", False),
        ("ready", "lots", "only A", "only A", None),
        ("ready", "pull-off", "230 psi", "230 psi", True),
        ("ready", "pull-off", "1.5 MPa", "1.5 MPa", True),
        ("ready", "pull-off", "1.4 MPa", "1.4 MPa", False),
        ("ready", "dump spot", "sand heap by the gate", "sand heap by the gate", True),
        ("evening", "heater", "fuel", "fuel", False),
        ("evening", "barrier", "no", "not up", False),
        ("morning", "thumb", "marks", "marks", False),
    ],
)
def test_an_answer_stands_as_it_is_meant(round_: str, item: str, said: str, stands: str, fine: bool | None) -> None:
    found = answered(Log(), round_, item, said)[-1]
    assert isinstance(found, Answered)
    assert (found.answer, found.fine) == (stands, fine)


@pytest.mark.parametrize(("site", "told", "under"), [(SITE, "1.5 MPa", "1.45 MPa"), (US_SITE, "200 psi", "195 psi")])
def test_a_pull_off_is_held_against_the_figure_that_the_crew_was_told(site: str, told: str, under: str) -> None:
    log = Log([])
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    asked = next(
        each for each in questions(log.standing(), (), RoundName.READY, instant(0)) if each.item.name == "pull-off"
    )
    assert told in asked.ask
    found = [answered(log, "ready", "pull-off", said)[-1] for said in (told, under)]
    assert [each.fine for each in found if isinstance(each, Answered)] == [True, False]
    pails = next(each for each in ROUNDS[RoundName.READY] if each.name == "pails")
    assert ("68 °F" if site is US_SITE else "20 °C") in typed_kind(pails, log.standing().site.units)


def test_doors_and_heaters_of_the_evening_count_in_why_as_facts() -> None:
    log = Log()
    facts = [*answered(log, "evening", "doors", "open"), *answered(log, "evening", "heater", "fuel")]
    assert [each.text for each in facts if isinstance(each, Noted)] == ["doors: open", "heater: fuel"]


def test_what_cannot_be_read_is_refused_and_a_question_that_is_none_is_named() -> None:
    log = Log()
    for item, answer in (("moisture", "damp"), ("pull-off", "strong"), ("pails", "warm"), ("colour", "grey")):
        with pytest.raises((CannotTellError, UnitError)):
            answered(log, "ready", item, answer)
    assert all(not isinstance(entry.facts, Answered) for entry in log.entries)


@pytest.mark.parametrize("name", list(RoundName))
def test_every_question_is_short_and_what_nobody_answered_is_not_recorded(name: RoundName) -> None:
    log = Log()
    log.add(-30, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    asked = questions(log.standing(), log.tracks(), name, instant(0))
    assert len(asked) >= 4
    for line, each in zip(question_lines(asked, log.standing(), instant(0)), asked, strict=True):
        stated = each.item.name == "conditions"  # it was read this morning, which is its answer
        assert f"{each.item.name}: {'stated' if stated else NOT_RECORDED}" in line
        assert "{" not in each.ask
        assert len(each.ask) <= 140, "one breath, also by voice"
    told = round_json(asked, name)
    assert all(answer["statement"]["verb"] == name.value for each in told for answer in each["answers"])
    for each in told:
        for answer in each["answers"]:
            statement = VERBS[name.value].told({k: v for k, v in answer["statement"].items() if k != "verb"})
            drafts = statement.drafts(log.standing(), Attribution(instant(1), None, None, None))
            assert isinstance(drafts[-1].facts, Answered)
            assert drafts[-1].facts.fine is answer["fine"], "each tap says what its button says"


def test_a_morning_begins_anew_and_what_was_tested_once_stays() -> None:
    log = Log()
    answered(log, "ready", "cloth", "clean", 1)
    answered(log, "ready", "tools", "all here", 1)
    tomorrow = 24 * 60 + 1
    asked = {each.item.name: each for each in questions(log.standing(), (), RoundName.READY, instant(tomorrow))}
    assert asked["cloth"].answered is not None
    assert asked["tools"].answered is None


def test_every_bad_answer_is_met_with_what_to_do() -> None:
    every = [item for items in ROUNDS.values() for item in items]
    assert len(every) > 20
    assert [item.name for item in every if (item.bad or item.takes) and not item.warn] == []
    assert len({item.name for item in every}) == len(every), "one name, one question"
