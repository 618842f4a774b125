"""A key of the terminal as a pedal: a press, a bounce and a hold are told apart by when the key comes."""

from __future__ import annotations

import pytest

from mixclock.outside.keypresses import KeyHand, _struck, codes_of


def told(*times_s: float) -> list[tuple[str, float]]:
    """What a key that comes at these times is taken for."""
    hand, found, wanted = KeyHand(), [], sorted(times_s)
    for step in range(int((max(wanted) + 2.0) / 0.05)):
        now_s = step * 0.05
        while wanted and wanted[0] <= now_s:
            found.append(hand.hears(wanted.pop(0)))
        found.append(hand.looks(now_s))
    return [each for each in found if each is not None]


def held(after_s: float, until_s: float, every_s: float = 0.04) -> list[float]:
    """A key that is held: it comes, comes again after a while, and then over and over."""
    return [0.0, *(after_s + number * every_s for number in range(int((until_s - after_s) / every_s)))]


def test_a_key_that_comes_once_is_a_press() -> None:
    assert told(0.0) == [("press", 0.0)]


def test_a_pedal_that_bounces_is_one_press() -> None:
    assert told(0.0, 0.05, 0.12, 0.3) == [("press", 0.0)]


@pytest.mark.parametrize("after_s", [0.25, 0.5, 0.66])
def test_a_key_that_is_held_is_a_hold_and_no_press_whatever_the_terminal_waits(after_s: float) -> None:
    assert told(*held(after_s, 1.5)) == [("hold", 0.0)]


def test_two_presses_apart_are_two() -> None:
    assert [kind for kind, _ in told(0.0, 2.5)] == ["press", "press"]


def test_letters_between_and_half_a_code_are_no_key() -> None:
    assert _struck("xbyb", {"pedal": ("b",)}) == (["pedal", "pedal"], "")
    assert _struck("\x1b[6", {"pedal": codes_of("PageDown")}) == ([], "\x1b[6")
    assert _struck("nxb", {"pedal": ("b",), "next": ("n",)}) == (["next", "pedal"], "")


def test_a_key_that_no_terminal_gets_is_refused_in_one_line() -> None:
    with pytest.raises(ValueError, match="types nothing into a terminal"):
        codes_of("AudioVolumeUp")
