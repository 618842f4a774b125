"""The record as CSV and JSON."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import subprocess
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.words.record import csv_files, record_json, record_tables
from mixclock.words.record.csvfiles import harmless
from tests.realparts.parts import missing
from tests.words.record.studio import full_studio, us_shed

OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"


@pytest.fixture(scope="module")
def files() -> dict[str, str]:
    record = full_studio().record()
    return csv_files(record_tables(record), record.zone)


def test_a_line_that_begins_like_a_formula_is_made_harmless(files: dict[str, str]) -> None:
    found = list(csv.DictReader(io.StringIO(files["findings.csv"])))
    assert found[0]["note"] == "'=cmd|' /C calc'!A0"


@given(st.text())
def test_no_text_whatever_can_act_as_a_formula(text: str) -> None:
    assert not harmless(text).lstrip().startswith(("=", "+", "-", "@"))
    assert "\n" not in harmless(text)


def test_times_are_on_the_crews_wall_and_say_so(files: dict[str, str]) -> None:
    rows = list(csv.DictReader(io.StringIO(files["pouring.csv"])))
    assert rows[3]["poured at (Europe/Lisbon)"] == "2026-04-13 11:12:00"


def test_a_spreadsheet_of_a_crew_that_thinks_in_gallons_is_in_gallons_and_a_program_still_gets_litres() -> None:
    record = us_shed().record()
    tables = record_tables(record)
    (batch,) = csv.DictReader(io.StringIO(csv_files(tables, record.zone, record.units)["batches.csv"]))
    assert (batch["amount, gal"], batch["material, °F"]) == ("1", "68")
    told = record_json("shed", record.at, tables)
    assert told["batches"][0]["amount_l"] == pytest.approx(3.7854, abs=1e-4)
    assert told["measurements"][0]["value"] == 279.4
    assert told["measurements"][0]["unit"] == "µm"
    assert (told["products"][0]["slab_max_c"], told["products"][0]["dew_margin_min_k"]) == (30.0, 3.0)


def test_another_program_is_told_when_the_job_began_as_an_instant() -> None:
    record = full_studio().record()
    facts = {row["what"]: row["value"] for row in record_json("studio", record.at, record_tables(record))["job_facts"]}
    assert facts["started"] == "2026-04-13T07:00:00Z"
    assert facts["written down"] == "2026-04-23T08:00:00Z"
    assert facts["finished"] == "not stated as finished"


def test_a_spreadsheet_reads_every_number_as_a_number_and_no_formula(files: dict[str, str], tmp_path: Path) -> None:
    """As a US office does, and with the mark of the encoding that `record` writes before a file."""
    files = {**files, "marked.csv": "\ufeff" + files["readings.csv"]}
    office = shutil.which("soffice")
    if office is None:
        pytest.skip(str(missing("soffice")))
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8", newline="")
    wanted = sorted(str(tmp_path / name) for name in files)
    # UTF-8 (76), comma (44), quote (34), from line 1, US English so that 1.5 is a number, dates recognised
    options = "Text - txt - csv (StarCalc):44,34,76,1,,1033,false,true,false"
    subprocess.run(
        [
            office,
            f"-env:UserInstallation=file://{tmp_path}/office",
            "--headless",
            f"--infilter={options}",
            "--convert-to",
            "ods",
            "--outdir",
            str(tmp_path / "ods"),
            *wanted,
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    assert len(files) > 5
    for name, text in files.items():
        _same_types(name, text, tmp_path / "ods" / name.replace(".csv", ".ods"))


def _same_types(name: str, text: str, sheet: Path) -> None:
    with zipfile.ZipFile(sheet) as opened:
        root = ElementTree.fromstring(opened.read("content.xml"))
    cells = list(root.iter(f"{TABLE}table-cell"))
    assert not [cell for cell in cells if cell.get(f"{TABLE}formula")], name
    rows = list(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
    numbers = sum(bool(re.fullmatch(r"\d+(\.\d+)?", cell)) for row in rows[1:] for cell in row)
    times = sum(bool(re.fullmatch(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d", cell)) for row in rows[1:] for cell in row)
    assert _counted(root, "float") == numbers, name
    assert _counted(root, "date") == times, name


def _counted(root: ElementTree.Element, kind: str) -> int:
    found = 0
    for row in root.iter(f"{TABLE}table-row"):
        times = int(row.get(f"{TABLE}number-rows-repeated", "1"))
        for cell in row.iter(f"{TABLE}table-cell"):
            if cell.get(f"{OFFICE}value-type") == kind:
                found += times * int(cell.get(f"{TABLE}number-columns-repeated", "1"))
    return found


def test_the_json_holds_the_same_with_units_in_its_keys_and_times_in_utc() -> None:
    record = full_studio().record()
    told = json.loads(json.dumps(record_json("studio", record.at, record_tables(record))))
    assert told["pouring"][3]["poured_at"] == "2026-04-13T10:12:00Z"
    assert told["readings"][0]["air_c"] == 20.0
    assert told["batches"][0]["amount_l"] == pytest.approx(2.7)
    assert told["statements"]
    assert any(row["withdrawn"] for row in told["statements"])
