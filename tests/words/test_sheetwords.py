"""A typed figure is said back in both systems, so that a slip of unit is seen beside the sheet."""

from __future__ import annotations

import pytest

from mixclock.job.sheetquestions import QUESTIONS
from mixclock.words.sheetwords import understood


@pytest.mark.parametrize(
    ("key", "typed", "said"),
    [
        ("film.wet", "8 mil to 16 mil", "203 µm (8 mil) to 406 µm (16 mil)"),
        ("limits.slab", "50F to 86 °F", "10 °C (50 °F) to 30 °C (86 °F)"),
        ("limits.dew_margin_min", "5 °F", "3 °C (5 °F)"),
        ("limits.humidity_max", "85", "85 %"),
        ("pot-life.mass", "150 g", "150 g (5.3 oz)"),
        ("windows.induction.opens", "0 min", "none at any temperature"),
        ("windows.recoat.opens", "20C, 50% 9 h", "9 h at 20 °C and 50 %"),
        ("name", "Shed base", ""),
    ],
)
def test_what_was_typed_is_said_back(key: str, typed: str, said: str) -> None:
    question = next(question for question in QUESTIONS if question.key == key)
    assert understood(question, typed) == said
