"""A finished product is opened for one figure: found by a word, shown as it stands, said back as understood."""

from __future__ import annotations

from pathlib import Path

from mixclock.words.mendtalk import MendTalk, hear_mending, mend_prompt
from mixclock.words.sheettalk import TalkState

TEXT = (Path(__file__).parents[2] / "profiles" / "slow-epoxy-base.toml").read_text(encoding="utf-8")


def after(*lines: str) -> tuple[MendTalk, list[str]]:
    talk, said = MendTalk(TEXT), []
    for line in lines:
        talk, heard = hear_mending(talk, line)
        said += heard
    return talk, said


def test_a_word_that_means_one_figure_asks_for_it_and_shows_what_stands_there() -> None:
    talk, _ = after("wheels")
    assert mend_prompt(talk)[0] == "Wheels after?"
    assert "now: 10 °C = 21 d; 20 °C = 9 d; 30 °C = 4 d" in mend_prompt(talk)[-1]


def test_a_word_that_means_several_offers_them_by_number() -> None:
    talk, _ = after("recoat")
    first, second, *_ = (line.split("?")[0].strip() for line in mend_prompt(talk))
    assert (first, second) == ("1  Recoat, earliest", "2  Recoat, latest")
    talk, said = hear_mending(talk, "3")
    assert said == ["Type a number from 1 to 2, or a word of the figure."]
    talk, _ = hear_mending(talk, "2")
    assert mend_prompt(talk)[0] == "Recoat, latest?"


def test_a_figure_is_said_back_in_the_units_in_which_it_was_understood_and_another_may_follow() -> None:
    talk, said = after("humidity", "80 %", "wheels", "68F = 10 d", "")
    assert said == ["    understood: 80 %", "    understood: 10 days at 20 °C"]
    assert talk.state is TalkState.DONE
    assert talk.mended == ("limits.humidity_max", "windows.vehicle-traffic.opens")


def test_a_figure_of_an_etch_is_not_asked_of_an_epoxy_and_its_name_is_not_mended() -> None:
    for word in ("acid", "neutralise", "what is the product called"):
        talk, said = after(word)
        assert said == [f"No figure of this product goes by '{word}'; enter shows all."]
        assert talk.text == TEXT
