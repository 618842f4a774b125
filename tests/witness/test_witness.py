"""The machine as a whole: floors are stated through the real commands, answers heard, both tables printed."""

from __future__ import annotations

import random

import pytest

from tests.witness.crew import Crew
from tests.witness.hearing import NOT_SHOWN, SHOWN, SUGGESTED, agree, heard
from tests.witness.ills import ILLS, NOTHING, OUTSIDE
from tests.witness.judging import cases, judged
from tests.witness.planting import Case, floor_for
from tests.witness.room import asked
from tests.witness.score import first_table, second_table, wilson

SAMPLE = (Case("short mixing", "gross"), Case("early traffic", "clear", missing=True), Case(OUTSIDE))


@pytest.mark.parametrize("sample", [SAMPLE[:1], pytest.param(SAMPLE, marks=pytest.mark.long)], ids=["one", "three"])
def test_a_small_sample_runs_through_the_real_commands_and_prints_both_tables(sample: tuple[Case, ...]) -> None:
    results = [judged((case, f"gate/{number}")) for number, case in enumerate(sample)]
    for result in results:
        assert result.stated > 5
        refused = [each for each in result.refused if not each.startswith("found ")]
        assert len(refused) <= max(2, result.stated // 10), refused
    first, second = first_table(results), second_table(results)
    assert any(line.startswith("of all that is shown, true") for line in first)
    assert second[0].startswith("stated weight")


@pytest.mark.long
def test_the_clock_of_the_story_is_the_one_that_the_book_keeps() -> None:
    """A tapped step happened when it was tapped, in the story, not while the sample ran."""
    case = Case("late broadcast", "gross")
    floor = next(floor for floor in (floor_for(case, f"clock {n}") for n in range(50)) if not floor.written)
    answer = asked(Crew(floor, case, random.Random(5)).tell())
    assert answer.json["at"].startswith("2026-")
    assert "late broadcast" in answer.text


@pytest.mark.parametrize(
    ("text", "verdict", "named"),
    [
        ("bay 1, dull: the record does not show why.\nNearest, and not enough: old batch.", NOT_SHOWN, []),
        ("bay 1: the record shows off ratio.\nOff ratio (weight 72 of 100): x", SHOWN, ["off ratio"]),
        ("bay 1: the record shows off ratio, and suggests short mixing.", SHOWN, ["off ratio", "short mixing"]),
        ("bay 1, lap line: the record suggests lap joint.\nFor: late back-roll 3 %.", SUGGESTED, ["lap joint"]),
        ("bay 1: the record shows thin film.\nNot late back-roll: 12 % (limit 100 %).", SHOWN, ["thin film"]),
    ],
)
def test_an_answer_is_heard_as_it_is_read(text: str, verdict: str, named: list[str]) -> None:
    said = heard(text)
    assert said.verdict == verdict
    assert said.causes(SHOWN, SUGGESTED) == named


def test_a_missing_fact_counts_only_where_its_line_says_that_it_is_missing() -> None:
    fact = ILLS["late back-roll"].fact
    assert not heard("bay 1, roller marks: the record shows thin film.\nNot late back-roll: 12 %.").names_fact(fact)
    assert heard("bay 1, roller marks: not shown.\nNot recorded: when batch 2 was rolled.").names_fact(fact)
    late = "bay 1, dull: not shown.\na\nb\nNot recorded: when batch 2 was rolled."
    assert not heard(late).names_fact(fact)


def test_text_and_json_agree_only_on_one_verdict_and_one_first_cause() -> None:
    said = heard("bay 1: the record shows thin film.")
    assert agree(said, {"verdict": "shown", "causes": [{"name": "thin film"}]})
    assert not agree(said, {"verdict": "suggested", "causes": [{"name": "thin film"}]})
    assert not agree(said, {"verdict": "shown", "causes": [{"name": "old batch"}]})


def test_600_floors_hold_every_cause_at_every_strength_and_a_hundred_without_a_fault_to_show() -> None:
    wanted = cases(600, random.Random("any"))
    assert len(wanted) == 600
    for ill in ILLS.values():
        for strength in ("mild", "clear", "gross") if ill.dosed else ("",):
            assert sum(case.cause == ill.name and case.strength == strength for case in wanted) >= 4
    assert sum(case.cause in (NOTHING, OUTSIDE) for case in wanted) >= 100
    assert cases(50, random.Random("any")) == wanted[:50]


def test_wilsons_bounds_are_those_of_his_paper() -> None:
    """Newcombe 1998, Statistics in Medicine 17, 857, table I, method 3 (from memory)."""
    published = ((81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718))
    for hits, of, low, high in published:
        assert wilson(hits, of) == pytest.approx((low, high), abs=1e-4)
