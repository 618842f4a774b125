"""Lateness and repeats in words."""

from collections.abc import Callable

import pytest

from mixclock.outside.channels.message import Message, marks


@pytest.mark.parametrize(
    ("late_s", "repeat", "words"),
    [
        (None, 0, ""),
        (1.9, 0, ""),  # within the promise of 2 s: not late
        (40.0, 0, "40 s late"),
        (5400.0, 1, "1 h 30 min late, said once before"),
        (None, 4, "said 4 times before"),
    ],
)
def test_an_alert_says_how_late_it_comes_and_how_often_it_came(
    message: Callable[..., Message], late_s: float | None, repeat: int, words: str
) -> None:
    assert marks(message(late_s=late_s, repeat=repeat)) == words
