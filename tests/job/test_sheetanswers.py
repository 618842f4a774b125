"""What a person types beside a data sheet becomes what a profile file has in its place."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.job.sheetanswers import Form, answer_as_toml


def value(form: Form, typed: str) -> object:
    return tomllib.loads(f"x = {answer_as_toml(form, typed)}")["x"]


@pytest.mark.parametrize(
    ("form", "typed", "meant"),
    [
        (Form.SPAN, "40 min", "40 min"),
        (Form.SPAN, "1 h 30 min", "1 h 30 min"),
        (Form.SPAN, "20C 40 min", {"20C": "40 min"}),
        (Form.SPAN, "20 °C = 40 min; 30 °C: 20 min;", {"20 °C": "40 min", "30 °C": "20 min"}),
        (Form.SPAN, "68F → 40 min; 86 F -> 20 min", {"68F": "40 min", "86 F": "20 min"}),
        (Form.SPAN, "20,5 °C, 50 % = 20 min", {"20,5 °C, 50 %": "20 min"}),
        (Form.SPAN, "-5 °C 3 h", {"-5 °C": "3 h"}),
        (Form.PAIR, "10 °C to 30 °C", ["10 °C", "30 °C"]),
        (Form.PAIR, "8 mil - 16 mil", ["8 mil", "16 mil"]),
        (Form.PAIR, "-5 °C … 30 °C", ["-5 °C", "30 °C"]),
        (Form.NUMBER, "3", 3),
        (Form.NUMBER, "2.5", 2.5),
        (Form.FLAG, "Yes", True),
        (Form.FLAG, "no", False),
        (Form.FLAG, "perhaps", "perhaps"),
        (Form.LIST, "gloves; goggles ;", ["gloves", "goggles"]),
        (Form.TEXT, 'the "slow" one \\ µ', 'the "slow" one \\ µ'),
    ],
)
def test_an_answer_is_passed_on_as_it_was_meant(form: Form, typed: str, meant: object) -> None:
    assert value(form, typed) == meant


@given(st.sampled_from(Form), st.text(st.characters(exclude_categories=["Cs"])))
def test_whatever_is_typed_it_stays_within_its_own_key(form: Form, typed: str) -> None:
    read = tomllib.loads(f"x = {answer_as_toml(form, typed)}\ny = 1")
    assert set(read) == {"x", "y"}
