"""Text that any screen can show."""

from hypothesis import given
from hypothesis import strategies as st

from mixclock.outside.channels.text import clipped, escaped, one_line, showable

ANY_TEXT = st.text(st.characters(min_codepoint=0, max_codepoint=0x10FFFF))


@given(ANY_TEXT)
def test_whatever_an_area_is_called_its_text_can_be_sent(name: str) -> None:
    shown = showable(name)
    assert "\0" not in shown
    assert "\x1b" not in shown
    assert shown.encode("utf-8").decode("utf-8") == shown
    assert "\n" not in one_line(name)


@given(ANY_TEXT, st.integers(min_value=1, max_value=80))
def test_a_clipped_text_never_grows_beyond_what_windows_counts(text: str, units: int) -> None:
    short = clipped(showable(text), units)
    assert len(short.encode("utf-16-le")) // 2 <= units
    assert showable(text).startswith(short.removesuffix("…"))


def test_a_text_that_fits_stays_whole() -> None:
    assert clipped("pour it out", 11) == "pour it out"


def test_markup_in_an_areas_name_stays_text() -> None:
    assert escaped('<img src="x"> & more') == '&lt;img src="x"&gt; &amp; more'
