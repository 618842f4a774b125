"""Calibrations that a command finds again in the book."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from mixclock.formulas import ensemble_members
from mixclock.formulas.ensemble import BucketLoad, Calibration, SheetPot, edge_times
from mixclock.outside import calibrations
from mixclock.outside.book import Book
from mixclock.outside.calibrations import kept_calibrations, key_of
from mixclock.outside.clock import SystemClock

SHEET = SheetPot(points=((20.0, 2400.0), (30.0, 1200.0)), mass_kg=1.0)
MENDED = SheetPot(points=((20.0, 2100.0), (30.0, 1200.0)), mass_kg=1.0)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    with Book(tmp_path / "book.sqlite3", SystemClock()) as opened:
        yield opened


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[SheetPot]:
    """Each sheet for which a calibration was made rather than found."""
    sheets: list[SheetPot] = []
    real = ensemble_members.calibrate_ensemble

    def counted(sheet: SheetPot) -> Calibration:
        sheets.append(sheet)
        return real(sheet)

    monkeypatch.setattr(ensemble_members, "calibrate_ensemble", counted)
    monkeypatch.setattr(calibrations, "ensemble_members", ensemble_members)  # not the sheets that all tests know
    return sheets


def test_the_next_command_finds_the_calibration_and_answers_to_the_millisecond_alike(
    book: Book, made: list[SheetPot]
) -> None:
    first = kept_calibrations(book.drawers)(SHEET)
    again = kept_calibrations(book.drawers)(SHEET)
    assert made == [SHEET]
    assert edge_times(first, BucketLoad(6.0, 22.0, 22.0)) == edge_times(again, BucketLoad(6.0, 22.0, 22.0))
    assert first.fitted.rates.log_k == again.fitted.rates.log_k


def test_a_sheet_that_was_mended_is_calibrated_anew_and_one_that_was_mended_back_is_found(
    book: Book, made: list[SheetPot]
) -> None:
    for sheet in (SHEET, MENDED, SHEET):
        assert kept_calibrations(book.drawers)(sheet).sheet == sheet
    assert made == [SHEET, MENDED]


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE calibrations SET value = 'half a sen'",
        "UPDATE calibrations SET value = replace(value, '1', '2')",
        "UPDATE calibrations SET value = '[]'",
        "UPDATE calibrations SET value = '{}'",
        "UPDATE calibrations SET value = CAST(x'ff80' AS TEXT)",
    ],
)
def test_a_damaged_calibration_is_made_anew_and_put_right_in_the_book(
    book: Book, made: list[SheetPot], damage: str
) -> None:
    sound = kept_calibrations(book.drawers)(SHEET)
    book.connection.own().execute(damage)
    anew = kept_calibrations(book.drawers)(SHEET)
    assert edge_times(anew, BucketLoad(6.0, 22.0, 22.0)) == edge_times(sound, BucketLoad(6.0, 22.0, 22.0))
    kept_calibrations(book.drawers)(SHEET)
    assert made == [SHEET, SHEET]


def test_a_book_that_cannot_be_written_to_costs_time_and_no_answer(book: Book, made: list[SheetPot]) -> None:
    book.connection.own().execute("PRAGMA query_only = ON")
    for _ in range(2):
        assert kept_calibrations(book.drawers)(SHEET).sheet == SHEET
    assert made == [SHEET, SHEET]


def test_another_version_of_the_house_does_not_take_over_a_calibration(monkeypatch: pytest.MonkeyPatch) -> None:
    before = key_of(SHEET)
    monkeypatch.setattr(calibrations, "__version__", "99.0")
    assert key_of(SHEET) != before
