"""Typing a data sheet in: one question at a time, said back as understood, left and gone on with at will."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from mixclock.job.profilereading import read_profile
from mixclock.job.sheetquestions import asked, profile_text
from mixclock.words.sheettalk import FIRST, KEEP, Talk, TalkState, hear, prompt
from tests.examples import examples

SHEET = (
    "Shed base",
    "epoxy",
    "sheet 3, page 2",
    "2:1",
    "",
    "1.13 kg/L",
    "0.98 kg/L",
    "3 min",
    "68F = 40 min; 86F = 20 min",
    "1 lb",
    "gel",
)


def after(*lines: str, talk: Talk | None = None) -> tuple[Talk, list[str]]:
    talk, said = talk or Talk(), []
    for line in lines:
        talk, heard = hear(talk, line)
        said += heard
    return talk, said


def test_each_figure_is_said_back_in_the_units_in_which_it_was_understood() -> None:
    _, said = after(*SHEET)
    assert [line.strip() for line in said] == [
        "understood: 1.13 kg/L (9.43 lb/gal)",
        "understood: 0.98 kg/L (8.18 lb/gal)",
        "understood: 3 min",
        "understood: 40 min at 20 °C, 20 min at 30 °C",
        "understood: 450 g (1 lb)",
    ]


def test_a_wrong_figure_is_told_and_asked_for_again() -> None:
    talk, said = after(*SHEET[:3], "2:1:3")
    assert talk.at == "mix.ratio_by_volume"
    assert "two numbers, here are 3" in said[0]
    assert "mix.ratio_by_volume" not in talk.answers


def test_back_goes_one_question_back_and_enter_keeps_what_stood_there() -> None:
    talk, _ = after(*SHEET[:4], "back")
    assert talk.at == "mix.ratio_by_volume"
    assert any("now: 2:1" in line for line in prompt(talk))
    talk, _ = hear(talk, "")
    assert talk.answers["mix.ratio_by_volume"] == "2:1"


def test_back_at_the_first_question_stays_there() -> None:
    talk, said = after("back")
    assert talk.at == FIRST
    assert said == ["This is the first question."]


def test_a_dash_takes_an_answer_out_but_not_one_that_is_needed() -> None:
    talk, _ = after(*SHEET[:3], "back", "-")
    assert "source" not in talk.answers
    talk, said = after("Shed base", "epoxy", "back", "-")
    assert talk.answers["family"] == "epoxy"
    assert said[0].startswith("This is needed")


def test_an_epoxy_needs_one_of_its_two_ratios() -> None:
    talk, said = after(*SHEET[:3], "", "")
    assert talk.at == "mix.ratio_by_mass"
    assert said[0].startswith("This is needed")


def test_later_leaves_and_the_talk_goes_on_where_it_was() -> None:
    talk, _ = after(*SHEET[:6], "later")
    assert talk.state is TalkState.LEFT
    again, _ = after(*SHEET[6:], talk=Talk(talk.answers, talk.at))
    assert again.answers == after(*SHEET)[0].answers


def test_a_sheet_typed_to_its_end_is_kept_once_somebody_says_yes() -> None:
    talk, _ = after(*SHEET)
    while talk.at != KEEP:
        talk, _ = hear(talk, "")
    asked_again, said = hear(talk, "perhaps")
    assert asked_again.state is TalkState.ASKING
    assert said
    done, _ = hear(talk, "Yes")
    assert done.state is TalkState.DONE
    assert read_profile(profile_text(done.answers)).name == "Shed base"


def test_a_mistake_of_the_whole_leads_back_to_its_question() -> None:
    talk, said = hear(Talk({"name": "Shed base", "family": "epoxy", "mix.ratio_by_volume": "2:1"}, KEEP), "yes")
    assert talk.state is TalkState.ASKING
    assert talk.at == "pot-life.at"
    assert "there is no window either" in said[1]


def test_help_changes_nothing() -> None:
    talk, said = after("?")
    assert talk == Talk()
    assert "back" in said[0]


LINES = st.sampled_from(
    [
        "back",
        "later",
        "?",
        "-",
        "",
        "yes",
        "epoxy",
        "acid etch",
        "acrylic",
        "1",
        "2:1",
        "3 min",
        "20C = 40 min; 30C = 20 min",
    ]
) | st.text(max_size=12)


@examples(60, deadline=None)
@given(st.lists(LINES, min_size=1, max_size=25))
def test_whatever_is_typed_the_talk_stands_at_a_question_that_this_product_needs(lines: list[str]) -> None:
    talk = Talk()
    assert prompt(talk)
    for line in lines:
        talk, _ = hear(talk, line)
        assert talk.at == KEEP or talk.at in {question.key for question in asked(talk.answers)}
        assert prompt(talk)
        if talk.state is TalkState.DONE:
            assert read_profile(profile_text(talk.answers))
            break
