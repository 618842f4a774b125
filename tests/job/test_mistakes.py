"""A wrong file is answered with one line for each mistake, which says where it is and how to mend it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from mixclock.job.mistakes import Mistake, Mistakes, did_you_mean, near, quoted


def test_a_mistake_says_file_place_what_is_wrong_and_what_was_expected() -> None:
    mistake = Mistake("windows.recoat.closes", "4 h is before it opens", "expected a later time")
    assert mistake.line("base.toml") == (
        "base.toml: at 'windows.recoat.closes': 4 h is before it opens; expected a later time"
    )


def test_a_file_with_three_mistakes_gets_three_lines_in_the_order_of_the_file() -> None:
    mistakes = Mistakes([Mistake("a", "x", "y"), Mistake("b", "x", "y"), Mistake("", "x", "y")])
    assert mistakes.lines("f") == ["f: at 'a': x; y", "f: at 'b': x; y", "f: x; y"]


@given(st.text(), st.text(), st.text(), st.text())
def test_whatever_stood_in_the_file_a_mistake_stays_one_line(file: str, where: str, what: str, mend: str) -> None:
    assert len(Mistake(where, what, mend).line(file).splitlines()) <= 1


def test_a_slip_of_the_finger_finds_the_name_that_was_meant() -> None:
    assert near("slow_epoxy bas", ["Slow epoxy base", "Acrylic sealer"]) == "Slow epoxy base"
    assert near("concrete stain", ["Slow epoxy base"]) is None


def test_without_a_near_name_all_known_ones_are_listed() -> None:
    assert did_you_mean("zzz", ["mix", "pour"]) == "known are: mix, pour"
    assert did_you_mean("zzz", []) == "leave it out"


def test_a_page_pasted_into_a_name_is_cut_short_in_the_message() -> None:
    assert len(quoted("word " * 500)) < 50
