"""A crew states only what it could know, when it could know it."""

from __future__ import annotations

import random
import re

import pytest

from tests.witness.crew import Crew, Telling
from tests.witness.floors import Floor
from tests.witness.ills import ILLS, NOTHING
from tests.witness.planting import WAYS, Case, floor_for

STEPS = ("mixing", "mixed", "poured", "rolled", "flaked")


def told(case: Case, seed: str, *, written: bool | None = None) -> tuple[Floor, Telling]:
    """A floor and what its crew says of it."""
    for number in range(200):
        floor = floor_for(case, f"{seed} {number}")
        if written is None or floor.written is written:
            return floor, Crew(floor, case, random.Random(seed)).tell()
    raise AssertionError("no such floor")


def minutes_said(words: tuple[str, ...]) -> float | None:
    """The time of day that was typed, in minutes."""
    if "--at" not in words:
        return None
    hour, minute = words[words.index("--at") + 1].split()[1].split(":")
    return int(hour) * 60.0 + int(minute)


def test_a_tapped_step_lies_up_to_three_minutes_before_its_tap_and_carries_no_time() -> None:
    floor, telling = told(Case("thin film", "clear"), "tapped", written=False)
    taps = [saying for saying in telling.sayings if saying.words[0] == "poured"]
    true = sorted(bucket.poured for bucket in floor.buckets)
    assert len(taps) == len(true)
    assert all(-0.01 <= tap.at - at <= 3.2 for tap, at in zip(taps, true, strict=True))
    assert not any("--at" in saying.words for saying in telling.sayings if saying.words[0] in STEPS)


def test_written_times_are_rounded_to_five_minutes_and_about_five_minutes_off() -> None:
    offs = []
    for number in range(12):
        floor, telling = told(Case(NOTHING), f"paper {number}", written=True)
        said = [saying for saying in telling.sayings if saying.words[0] == "mixed"]
        order = sorted(floor.buckets, key=lambda bucket: bucket.mixed)
        for saying, bucket in zip(sorted(said, key=lambda one: one.at), order, strict=True):
            minutes = minutes_said(saying.words)
            assert minutes is not None
            assert minutes % 5 == 0
            offs.append(minutes - bucket.mixed % 1440.0)
    spread = (sum(off * off for off in offs) / len(offs)) ** 0.5
    assert 3.5 < spread < 7.5


def test_nobody_states_what_is_still_to_come() -> None:
    for seed in range(8):
        _, telling = told(Case("late back-roll", "clear"), f"future {seed}", written=True)
        for saying in telling.sayings:
            if "--at" in saying.words:
                said = saying.words[saying.words.index("--at") + 1]
                typed_at = telling.instant(saying.at).astimezone(telling.zone)
                assert said <= typed_at.strftime("%Y-%m-%d %H:%M")


@pytest.mark.parametrize("cause", WAYS)
def test_no_statement_names_a_cause(cause: str) -> None:
    _, telling = told(Case(cause, "clear" if ILLS[cause].dosed else ""), f"unnamed {cause}")
    said = [" ".join(saying.words) for saying in telling.sayings if saying.words[0] != "found"]
    assert said
    innocent = ("amine blush", "condensation", "scraped bucket", "different lot", "no induction")
    for ill in ILLS.values():
        if ill.name not in innocent:
            assert not any(re.search(re.escape(ill.name), line) for line in said)


@pytest.mark.parametrize(
    ("cause", "verb"), [("late back-roll", "rolled"), ("late broadcast", "flaked"), ("early traffic", "traffic")]
)
def test_a_missing_fact_is_not_stated_for_the_bad_area(cause: str, verb: str) -> None:
    floor, telling = told(Case(cause, "clear", missing=True), f"missing {cause}")
    order = sorted(floor.buckets, key=lambda bucket: bucket.mixed)
    bad = {str(number) for number, bucket in enumerate(order, start=1) if bucket.area == floor.bad}
    said = [saying for saying in telling.sayings if saying.words[0] == verb and not saying.mends]
    kept = [saying for saying in said if saying.words[1] in bad | {floor.bad}]
    withdrawn = [saying for saying in telling.sayings if saying.words[0] == "withdraw"]
    assert len(kept) <= len(withdrawn)


def test_a_missing_ratio_or_lot_is_not_typed() -> None:
    floor, telling = told(Case("off ratio", "clear", missing=True), "no parts")
    mixed = [saying.words for saying in telling.sayings if saying.words[0] == "mixed" and floor.bad in saying.words]
    assert mixed
    assert not any("--a" in words for words in mixed)


def test_a_whole_floors_fault_is_found_on_one_area_and_nobody_calls_the_rest_sound() -> None:
    for number in range(60):
        floor, telling = told(Case("off ratio", "gross"), f"whole {number}")
        if floor.whole:
            found = [saying.words for saying in telling.sayings if saying.words[0] == "found"]
            assert [words[1] for words in found] == [floor.bad]
            return
    raise AssertionError("no whole floor in sixty")
