"""The questions follow the data sheet, each asks for what the reader knows, and each answer is judged at once."""

from __future__ import annotations

import pytest

from mixclock.job.profilereading import known_keys, read_profile
from mixclock.job.sheetquestions import QUESTIONS, Answers, Question, asked, mistakes_in, profile_text, question_for

EPOXY = {"name": "Shed base", "family": "epoxy", "mix.ratio_by_volume": "2:1"}


def question(key: str) -> Question:
    return next(question for question in QUESTIONS if question.key == key)


def mistakes(key: str, typed: str, before: Answers) -> list[str]:
    return mistakes_in(question(key), {**before, key: typed})


def keys(answers: Answers) -> set[str]:
    return {question.key for question in asked(answers)}


def test_every_question_asks_for_a_key_that_the_reader_knows() -> None:
    known = known_keys()
    assert {question.key.removesuffix(".a").removesuffix(".b") for question in QUESTIONS} <= known


def test_every_key_of_the_sheet_is_asked_for_but_those_that_follow_from_others() -> None:
    """`after` follows from the window; a rule, notes and `constant` are for those who edit the file."""
    wanted = {question.key.removesuffix(".a").removesuffix(".b") for question in QUESTIONS}
    left = {
        key
        for key in known_keys() - wanted
        if key.count(".") == 1
        and not key.startswith("windows.")
        and key not in ("notes", "dilution", "pot-life.constant")
    }
    assert left == set()


def test_an_etching_solution_is_asked_for_its_dwell_and_an_epoxy_for_its_pot_life() -> None:
    etch = keys({"name": "Etch", "family": "acid etch"})
    assert {"windows.dwell.opens", "windows.neutralise.closes", "dilution.acid"} <= etch
    assert not {"pot-life.at", "windows.recoat.opens", "mix.ratio_by_volume"} & etch
    assert {"pot-life.at", "windows.recoat.opens"} <= keys(EPOXY)
    assert not {"windows.dwell.opens", "mix.parts"} & keys(EPOXY)


def test_a_product_in_one_pail_is_not_asked_for_its_ratio() -> None:
    assert "mix.ratio_by_volume" not in keys({"family": "acrylic", "mix.parts": "1"})


@pytest.mark.parametrize(
    ("key", "typed", "says"),
    [
        ("family", "epoxi", "did you mean 'epoxy'?"),
        ("mix.ratio_by_volume", "2:1:1", "two numbers"),
        ("mix.time", "3", "3 what?"),
        ("pot-life.at", "20C 40 min; 30C 50 min", "longer than 40 min at 20 °C"),
        ("pot-life.at", "20C 40 min; 20C 50 min", "20 °C is stated twice"),
        ("film.wet", "16 mil to 8 mil", "is above the highest"),
        ("limits.slab", "10 °C", "not a pair"),
        ("film.filled", "perhaps", "neither true nor false"),
    ],
)
def test_a_wrong_answer_is_told_at_once_with_its_mend(key: str, typed: str, says: str) -> None:
    lines = mistakes(key, typed, EPOXY)
    assert any(says in line for line in lines), lines


def test_what_was_not_reached_yet_is_no_mistake_of_the_present_answer() -> None:
    assert mistakes("family", "epoxy", {"name": "Shed base"}) == []
    assert mistakes("mix.density.a", "1.13 kg/L", EPOXY) == []


def test_a_recoat_that_closes_before_it_opens_is_told_when_the_second_of_them_is_answered() -> None:
    (line,) = mistakes("windows.recoat.closes", "8 h", {**EPOXY, "windows.recoat.opens": "20C = 9 h"})
    assert "shuts after 8 h" in line


def test_a_density_that_contradicts_the_ratios_is_told_when_it_is_answered() -> None:
    before = {**EPOXY, "mix.ratio_by_mass": "100:43", "mix.density.a": "1.13 kg/L"}
    assert mistakes("mix.density.b", "0.98 kg/L", before) == []
    (line,) = mistakes("mix.density.b", "1.4 kg/L", before)
    assert "% off" in line


def test_the_answers_make_a_profile_whose_windows_count_from_the_right_statement() -> None:
    etch = {
        "name": "Etch",
        "family": "acid etch",
        "windows.dwell.opens": "5 min",
        "windows.neutralise.closes": "12 min",
        "windows.rinse.opens": "5 min",
        "windows.dry.opens": "48 h",
    }
    starts = {rule.name: rule.after for rule in read_profile(profile_text(etch)).windows}
    assert starts == {"dwell": "poured", "neutralise": "poured", "rinse": "neutralise", "dry": "rinse"}
    del etch["windows.rinse.opens"], etch["windows.neutralise.closes"]
    starts = {rule.name: rule.after for rule in read_profile(profile_text(etch)).windows}
    assert starts == {"dwell": "poured", "dry": "poured"}


def test_a_mistake_of_the_whole_leads_back_to_its_question() -> None:
    answers = {**EPOXY, "mix.density.a": "1.13 kg/L"}
    assert question_for("windows.recoat.closes", answers) == question("windows.recoat.closes")
    assert question_for("mix.density", answers) == question("mix.density.b")
    assert question_for("nowhere", answers) is None
