"""Statements as people say them: an area for its only batch, times in words, a note with a dash, figures kept whole."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.running import Ran

Run = Callable[..., Ran]

ROOM = """
name = "Kiln room"
zone = "Europe/Lisbon"
[[areas]]
name = "left bay"
size = "12 m2"
next_to = ["2"]
[[areas]]
name = "2"
size = "12 m2"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
"""


@pytest.fixture
def room(run: Run, home: Path) -> Run:
    """A batch is in its bucket for the left bay."""
    (home / "room.toml").write_text(ROOM, encoding="utf-8")
    for words in (
        ("job", "start", str(home / "room.toml")),
        ("mixing", "Slow epoxy base", "4.25 L", "--on", "left bay", "--ago", "6 min"),
    ):
        assert run(*words).code == 0
    return run


def test_an_area_stands_for_its_only_batch_in_every_statement_about_a_bucket_or_a_film(room: Run) -> None:
    for words in (
        ("mixed", "left bay", "--ago", "2 min"),
        ("saw", "left bay", "hot"),
        ("poured", "left bay", "--at", "1 min ago"),
        ("began", "back-roll", "left bay"),
        ("rolled", "left bay"),
        ("flaked", "left bay"),
        ("did", "scrape", "left bay"),
    ):
        told = room(*words)
        assert told.code == 0, told.err
        assert "atch 1" in told.out


def test_a_lost_bucket_is_dumped_by_its_area(room: Run) -> None:
    assert room("mixing", "Slow epoxy base", "4 L", "--on", "2").code == 0
    assert "Batch 1: dumped" in room("dumped", "left bay", "--share", "half").out


def test_a_bare_number_is_always_a_batch(room: Run) -> None:
    assert room("mixing", "Slow epoxy base", "4 L", "--on", "2").code == 0
    assert "Batch 2: poured on 2" in room("poured", "2").out
    assert "Batch 2: seen skinned" in room("saw", "2", "skinned").out


def test_two_batches_on_an_area_are_asked_about(room: Run) -> None:
    assert room("mixing", "Slow epoxy base", "4 L", "--on", "left bay").code == 0
    told = room("saw", "left bay", "hot")
    assert told.code == 2
    assert "2 batches can be meant" in told.err


@pytest.mark.parametrize("note", ["-5 outside", "-x", "--- wind", "-heater off", "-h2 smell"])
def test_a_note_may_begin_with_a_dash(room: Run, note: str) -> None:
    for words in (("noted", note, "--on", "left bay"), ("noted", "--on", "left bay", note)):
        told = room(*words)
        assert told.code == 0, told.err
        assert note in told.out
        assert "on left bay" in told.out
    assert f"({note})" in room("noted", "fine", "--note", note).out
    assert "Usage" in room("noted", "--help").out


@pytest.mark.parametrize(
    ("words", "figures"),
    [
        (("reading", "--air", "18.25 °C", "--rh", "61.5", "--slab", "62.37F"), ("18.25 °C", "61.5 %", "16.87 °C")),
        (("measured", "wet film", "205.5 um", "--on", "left bay"), ("205.5 µm",)),
        (("measured", "moisture", "4.255 %", "--on", "left bay"), ("4.255 %",)),
        (("mixing", "Slow epoxy base", "5.678 L", "--on", "2"), ("5.678 L",)),
        (("mixing", "Slow epoxy base", "4.375 kg", "--on", "2"), ("4.375 kg",)),
        (("poured", "1", "--part", "1.125 L", "--covered", "3.75 m2"), ("1.125 L", "3.75 m²")),
    ],
)
def test_a_typed_figure_is_read_back_as_it_was_typed(
    room: Run, words: tuple[str, ...], figures: tuple[str, ...]
) -> None:
    told = room(*words)
    assert told.code == 0, told.err
    for figure in figures:
        assert figure in told.out.splitlines()[0]
