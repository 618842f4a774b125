"""How alert words are put for a voice."""

import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.outside.channels.speech_text import speakable
from tests.realparts.parts import missing


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("pour by 10:42", "pour by 10 42"),
        ("pour by 9:05.", "pour by 9 oh 5."),
        ("closes 14:00", "closes 14 o'clock"),
        ("opens 00:00, 00:07", "opens midnight, 0 oh 7"),
        ("10:42:30", "10 42"),
        ("slab 21 °C", "slab 21 degrees"),
        ("slab 21°C, 1 °C over", "slab 21 degrees, 1 degree over"),
        ("72 °F", "72 degrees Fahrenheit"),
        ("-3 °C", "minus 3 degrees"),
        ("−3.5 °C", "minus 3.5 degrees"),
        ("12 m² left", "12 square metres left"),
        ("12.5 m2 left", "12.5 square metres left"),
        ("1 m²", "1 square metre"),
        ("75 m²/h", "75 square metres an hour"),
        ("150 ft²", "150 square feet"),
        ("6 L, 1,5 L, 250 ml", "6 litres, 1,5 litres, 250 millilitres"),
        ("300 µm", "300 microns"),
        ("300 um", "300 microns"),
        ("8 mil", "8 mils"),
        ("1 h 30 min", "1 hour 30 minutes"),
        ("40 s late", "40 seconds late"),
        ("62 % used", "62 percent used"),
        ("batch 3 · bay 2", "batch 3, bay 2"),
        ("8–12 min", "8 to 12 minutes"),
        ("bay 2 – pour", "bay 2, pour"),
        ("A & B", "A and B"),
        ("bay-2", "bay-2"),
        ("5 minutes left", "5 minutes left"),
        ("2 layers", "2 layers"),
        ("pH 7", "pH 7"),
        ("[[hello]] <b>bay</b>", "hello b bay /b"),
        ("line one\nline two", "line one line two"),
    ],
)
def test_a_deadline_is_put_as_a_person_would_say_it(written: str, said: str) -> None:
    assert speakable(written) == said


@given(st.text())
def test_whatever_is_written_nothing_is_left_that_a_voice_would_obey(text: str) -> None:
    assert not set(speakable(text)) & set("[]<>{}\\\0\n")


def test_the_voice_says_the_time_and_the_units_in_words() -> None:
    """espeak-ng's own phonemes: "ten oh five", "degrees", "square metres"."""
    if absent := missing("espeak-ng"):
        pytest.skip(absent)
    spoken = _phonemes(speakable("10:05, 21 °C, 12 m²"))
    for words in ("ten oh five", "degrees", "square metres"):
        assert _phonemes(words).replace(" ", "").strip("'") in spoken.replace(" ", "")


def _phonemes(text: str) -> str:
    asked = ["espeak-ng", "-q", "-x", "-v", "en-gb", text]
    return subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip()
