"""Reading goes on after a mistake, and a key that nobody asked for is a mistake by itself."""

from __future__ import annotations

import pytest

from mixclock.job import kinds
from mixclock.job.tablereading import Findings, Table, parse_toml


def table(**values: object) -> tuple[Table, Findings]:
    found = Findings()
    return Table(values, "mix", found), found


def said(found: Findings) -> list[str]:
    return [str(mistake) for mistake in found.mistakes]


def test_an_unknown_key_is_reported_with_the_near_one() -> None:
    mix, found = table(tiem="3 min")
    mix.quantity("time", kinds.SPAN)
    mix.finish()
    assert said(found) == ["at 'mix.tiem': is no key that mixclock knows here; did you mean 'time'?"]


@pytest.mark.parametrize(
    ("raw", "what"),
    [
        (3, "3 stands without a unit"),
        (float("nan"), "nan is not a finite number"),
        (float("inf"), "inf is not a finite number"),
        (True, "'True' is not a text in quotes"),
        ("-3 min", "below zero"),
        ("0 min", "is zero"),
        ("3", "3 what?"),
        ("nan min", "not a span of time"),
        ("2 wk 900 wk", "does not add up"),
        ("5000 d", "is outside"),
        ("1,500 min", "can be read as"),
    ],
)
def test_a_time_that_can_not_be_is_refused_with_a_mend(raw: object, what: str) -> None:
    mix, found = table(time=raw)
    assert mix.quantity("time", kinds.SPAN) is None
    assert len(found.mistakes) == 1
    assert what in found.mistakes[0].what
    assert found.mistakes[0].mend


def test_a_pair_the_wrong_way_round_is_refused() -> None:
    mix, found = table(slab=["30 °C", "10 °C"])
    assert mix.pair("slab", kinds.TEMP) is None
    assert "is above the highest" in said(found)[0]


def test_words_for_a_list_may_stand_alone() -> None:
    assert table(does="mix")[0].words("does", "") == ("mix",)


def test_a_key_is_known_once_it_was_asked_for() -> None:
    mix, found = table()
    mix.quantity("time", kinds.SPAN)
    assert found.known == {"mix.time"}


@pytest.mark.parametrize(
    "text",
    ["name = ", "name = 'a'\nname = 'b'", "a = " + "[" * 5000, "x = " + "9" * 5000, "\x00", "[mix\n", "a = \ud800"],
)
def test_what_is_not_toml_gets_one_line_and_no_traceback(text: str) -> None:
    found = Findings()
    assert parse_toml(text, found) is None
    assert len(found.mistakes) == 1


def test_a_byte_order_mark_of_another_editor_does_no_harm() -> None:
    assert parse_toml("\ufeffname = 'a'", Findings()) == {"name": "a"}
