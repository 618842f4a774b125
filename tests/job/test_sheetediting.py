"""One figure of a finished profile is changed; every other line stays as its owner wrote it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from mixclock.job.profilereading import read_profile
from mixclock.job.sheetediting import figures_in, mistakes_in_text, with_figure
from mixclock.job.sheetquestions import QUESTIONS

BY_KEY = {question.key: question for question in QUESTIONS}
SHIPPED = sorted((Path(__file__).parents[2] / "profiles").glob("*.toml"))


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_figure_that_is_typed_again_as_it_stands_changes_nothing_that_is_read(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    before = read_profile(text)
    again = {
        key: read_profile(with_figure(text, BY_KEY[key], typed))
        for key, typed in figures_in(text).items()
        if key != "mix.parts"
    }
    assert len(again) > 5
    assert [key for key, read in again.items() if read != before] == []


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_window_that_the_sheet_did_not_state_is_added_and_taken_out_again(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    without = with_figure(text, BY_KEY["windows.full-cure.opens"], "")
    assert "full-cure" not in tomllib.loads(without).get("windows", {})
    added = with_figure(without, BY_KEY["windows.full-cure.opens"], "20 °C = 9 d")
    assert tomllib.loads(added)["windows"]["full-cure"] == {"after": "poured", "opens": {"20 °C": "9 d"}}
    assert tomllib.loads(with_figure(added, BY_KEY["windows.full-cure.opens"], "")) == tomllib.loads(without)


def test_the_density_of_one_part_changes_and_the_other_stays() -> None:
    text = '[mix]\ndensity = ["1.13 kg/L", "0.98 kg/L"]  # weighed\n'
    assert with_figure(text, BY_KEY["mix.density.b"], "1.01 kg/L") == text.replace("0.98", "1.01")


def test_a_figure_that_is_wrong_is_told_of_itself_before_it_is_told_of_others() -> None:
    text = (SHIPPED[0].parent / "slow-epoxy-base.toml").read_text(encoding="utf-8")
    swapped = with_figure(text, BY_KEY["windows.recoat.closes"], "20 °C = 6 h")
    [told] = mistakes_in_text(BY_KEY["windows.recoat.closes"], swapped)
    assert "but opens only after" in told
    assert mistakes_in_text(BY_KEY["windows.recoat.closes"], text) == []
