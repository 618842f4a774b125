"""The numbers of a record arrive in a spreadsheet as they are, in whichever country it was bought."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import zipfile
from datetime import datetime
from pathlib import Path
from xml.etree import ElementTree

import pytest
from openpyxl import load_workbook

from mixclock.units import METRIC_CREW, US_CREW
from mixclock.words.record import csv_files, record_tables
from mixclock.words.record.csvfiles import headings
from mixclock.words.record.table import in_units
from mixclock.words.record.workbook import workbook
from tests.realparts.parts import missing
from tests.words.record.studio import full_studio, us_shed

OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
CELL = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}table-cell"
REPEATED = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}number-columns-repeated"
GERMANY, UNITED_STATES = "1031", "1033"
"""Numbers of languages as LibreOffice's CSV filter takes them (its help, "Filter Options for CSV")."""


def numbers_meant(name: str) -> list[float]:
    """The numbers of one table of the studio's record, as they should arrive."""
    record = full_studio().record()
    (table,) = [each for each in record_tables(record) if each.name == name]
    return [
        round(in_units(cell, column, METRIC_CREW), max(column.digits, 3)) if isinstance(cell, float) else cell
        for row in table.rows
        for cell, column in zip(row, table.columns, strict=True)
        if isinstance(cell, int | float) and not isinstance(cell, bool)
    ]


def numbers_found(sheet: Path) -> list[float]:
    """The numbers that LibreOffice found in its first table."""
    with zipfile.ZipFile(sheet) as opened:
        root = ElementTree.fromstring(opened.read("content.xml"))
    return [
        float(cell.get(f"{OFFICE}value", "nan"))
        for cell in root.iter(CELL)
        if cell.get(f"{OFFICE}value-type") == "float"
        for _ in range(int(cell.get(REPEATED, "1")))
    ]


def opened_by_an_office(file: Path, language: str, delimiter: str) -> list[float]:
    """What LibreOffice reads from a file, set to a country's language."""
    office = shutil.which("soffice")
    if office is None:
        pytest.skip(str(missing("soffice")))
    options = f"Text - txt - csv (StarCalc):{ord(delimiter)},34,76,1,,{language},false,true,false"
    infilter = [f"--infilter={options}"] if file.suffix == ".csv" else []
    out = file.parent / f"ods-{language}"
    subprocess.run(
        [office, f"-env:UserInstallation=file://{file.parent}/office", "--headless", *infilter, "--convert-to", "ods",
         "--outdir", str(out), str(file)],
        check=True, capture_output=True, timeout=180,
    )  # fmt: skip
    return numbers_found(out / f"{file.stem}.ods")


@pytest.mark.parametrize(
    ("language", "decimal", "delimiter"),
    [(GERMANY, ",", ";"), pytest.param(UNITED_STATES, ".", ",", marks=pytest.mark.long)],
    ids=["German", "US"],
)
def test_twelve_is_never_twelve_thousand(language: str, decimal: str, delimiter: str, tmp_path: Path) -> None:
    record = full_studio().record()
    text = csv_files(record_tables(record), record.zone, decimal=decimal)["readings.csv"]
    file = tmp_path / "readings.csv"
    file.write_text("\ufeff" + text, encoding="utf-8", newline="")
    meant = numbers_meant("readings")
    assert len(meant) > 5
    assert opened_by_an_office(file, language, delimiter) == pytest.approx(meant)


@pytest.mark.long
def test_an_office_finds_the_same_numbers_in_the_typed_file(tmp_path: Path) -> None:
    record = full_studio().record()
    tables = [table for table in record_tables(record) if table.name == "readings"]
    file = tmp_path / "record.xlsx"
    file.write_bytes(workbook(tables, record.zone, record.units, record.at))
    assert opened_by_an_office(file, GERMANY, ",") == pytest.approx(numbers_meant("readings"))


def test_cells_are_typed_and_no_text_is_a_formula_or_a_link(tmp_path: Path) -> None:
    record = full_studio().record()
    book = load_workbook(io.BytesIO(workbook(record_tables(record), record.zone, METRIC_CREW, record.at)))
    kinds = {cell.data_type for sheet in book for row in sheet.iter_rows(min_row=2) for cell in row if cell.value}
    assert kinds == {"n", "s", "d"}
    (readings,) = (
        sheet for sheet in book if [table.name for table in record_tables(record)][book.index(sheet)] == "readings"
    )
    found = [
        cell.value
        for row in readings.iter_rows(min_row=2)
        for cell in row
        if cell.data_type == "n" and cell.value is not None
    ]
    assert found == pytest.approx(numbers_meant("readings"))
    pouring = book["Pouring out"] if "Pouring out" in book.sheetnames else book[book.sheetnames[7]]
    assert any(cell.value == datetime(2026, 4, 13, 11, 12) for row in pouring.iter_rows() for cell in row)  # noqa: DTZ001


def test_a_workbook_of_a_us_crew_is_in_gallons() -> None:
    record = us_shed().record()
    book = load_workbook(io.BytesIO(workbook(record_tables(record), record.zone, US_CREW, record.at)))
    heads = [cell.value for sheet in book for cell in sheet[1]]
    assert "amount, gal" in heads
    assert not [head for head in heads if head and (head.endswith(", L") or "°C" in head)]


def test_no_heading_stands_twice_in_a_table() -> None:
    record = full_studio().record()
    tables = record_tables(record)
    assert len(tables) > 10
    for table in tables:
        titles = headings(table, record.zone, METRIC_CREW)
        assert len(titles) == len(set(titles)), (table.name, titles)


def test_numbers_carry_no_zeros_that_say_nothing() -> None:
    record = full_studio().record()
    files = csv_files(record_tables(record), record.zone)
    cells = [cell for text in files.values() for row in csv.reader(io.StringIO(text)) for cell in row]
    numbers = [cell for cell in cells if cell.replace(".", "", 1).isdecimal()]
    assert len(numbers) > 50
    assert not [cell for cell in numbers if "." in cell and cell.endswith("0")]
