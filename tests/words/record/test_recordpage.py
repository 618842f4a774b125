"""The record on one page: what it tells, and that it stands alone."""

from __future__ import annotations

import json
import os
import re
import subprocess
from pathlib import Path
from typing import Any

import pytest

from mixclock.words.record import SmallCopy, claim_page, owner_page, reading_page, record_page
from mixclock.words.record.batchtables import step_table
from mixclock.words.record.html import table_markup
from tests.realparts.parts import missing
from tests.words.record.readers import PageReader, read_page
from tests.words.record.studio import PHOTO_SHA, Studio, full_studio, us_shed


@pytest.fixture(scope="module")
def text() -> str:
    copies = {PHOTO_SHA: SmallCopy("image/jpeg", b"\xff\xd8\xff\xd9")}
    return record_page(full_studio().record(pictures=copies))


@pytest.fixture(scope="module")
def page(text: str) -> PageReader:
    return read_page(text)


def rows(page: PageReader, table: str, **wanted: str) -> list[dict[str, str]]:
    return [row for row in page.tables[f"table-{table}"] if all(row[name] == value for name, value in wanted.items())]


def test_a_stranger_reads_who_poured_batch_4_and_when(page: PageReader) -> None:
    (row,) = rows(page, "pouring", batch="4")
    # 8:00 UTC + 120 + 12 min is 10:12 UTC, 11:12 on a wall in Lisbon in April
    assert (row["poured by"], row["poured at"]) == ("roller", "13 Apr 11:12")


def test_a_time_before_ten_reads_as_the_crew_heard_it(text: str, page: PageReader) -> None:
    (row,) = rows(page, "pouring", batch="1")
    assert row["B into A at"] == "13 Apr 9:00"
    (begun,) = rows(page, "job", what="started")
    assert begun["value"] == "13 Apr 8:00"
    assert not re.findall(r"\b0\d:\d\d", " ".join(page.words))


def test_a_crew_that_thinks_in_gallons_reads_no_litre_on_its_record() -> None:
    page = read_page(record_page(us_shed().record()))
    told = " ".join(page.words)
    # without the page's styles, which hold lengths for the printer
    metric = re.findall(r"\d ?(?:°C|m²|µm|mL|kg)(?![a-z])|\d L\b", re.sub(r"\{[^}]*\}", "", told))
    assert metric == []
    (product,) = page.tables["table-products"]
    # 10 and 30 °C are 50 and 86 °F, 3 K are 5.4 °F (exact by definition, NIST SP 811)
    assert product["limits"].startswith("slab 50 °F to 86 °F")
    assert "5.4 °F over the dew point" in product["limits"]
    assert "40 min at 68 °F" in product["pot life on the sheet"]
    assert page.tables["table-pouring"][0]["wet film, mil"] == "16.0", "the film by volume, in mil"
    assert "2 areas, 1 batch." in told
    facts = {row["what"]: row["value"] for row in page.tables["table-job"]}
    assert facts["areas"] == "2, 250 ft² together"
    (gauged,) = page.tables["table-measurements"]
    assert gauged["measured"] == "11 mil"
    said = [row["what"] for row in page.tables["table-statements"]]
    assert any("volume 1 gal; material 68 °F" in line for line in said)
    assert any("covered 100 ft²" in line for line in said)


def test_a_stranger_reads_the_dew_margin_when_bay_3_was_tack_free(page: PageReader) -> None:
    (row,) = rows(page, "tack_free", area="bay 3")
    assert row["tack free at"] == "13 Apr 17:20"
    assert row["known by"] == "seen by roller"
    # PsychroLib 2.5: GetTDewPointFromRelHum(20 °C, 0.55) = 10.71 °C; the slab of bay 3 reads 18.4 or 19.0 °C
    assert float(row["dew margin, °C apart"]) == pytest.approx(18.6 - 10.7, abs=0.5)


def test_a_stranger_reads_which_alert_came_late(page: PageReader) -> None:
    late = [row for row in page.tables["table-alerts"] if row["in time"] == "late"]
    assert [row["alert"] for row in late] == ["b3.broadcast"]
    assert late[0]["late by, s"] == "270"
    assert late[0]["heard by"] == "roller"
    assert "phone: give up (no network)" in late[0]["delivered"]


def test_a_withdrawn_batch_stays_to_be_seen_and_is_counted_nowhere(page: PageReader) -> None:
    gone = [row for row in page.tables["table-statements"] if row["withdrawn"] != "–"]
    assert len(gone) == 1
    assert "withdrawn" in gone[0]["withdrawn"]
    assert "by mixer" in gone[0]["withdrawn"]
    assert {row["batch"] for row in page.tables["table-batches"]} == {"1", "2", "3", "4"}


def test_what_nobody_recorded_is_said_so(page: PageReader) -> None:
    held = {row["what is asked for"]: row["in this record"] for row in page.tables["table-claim"]}
    assert held["hardness"] == "not recorded"
    assert held["slab temperature"] == "recorded"
    assert held["lots of A and of B"] == "recorded"
    assert held["surface pH"] == "in part"  # one bay of four
    assert held["mixer speed"] == "not recorded"
    assert held["signature"] == "not recorded"


@pytest.mark.parametrize(
    "item",
    [
        "air temperature",
        "relative humidity",
        "slab temperature",
        "material temperature",
        "slab moisture",
        "surface pH",
        "surface texture (CSP)",
        "lots of A and of B",
        "expiry dates",
        "quantities of A and B",
        "start of mixing",
        "end of mixing",
        "mixer speed",
        "pouring",
        "back-roll",
        "broadcast",
        "wet film by a gauge",
        "size covered by each pour",
        "traffic, as stated",
        "heater",
        "surface preparation",
        "owner's word on slab tests",
        "signed sample",
        "extras ordered",
        "keep-out until hand-over",
        "released by",
        "care sheet handed over",
        "dull on bay 3: who was told",
        "dated pictures",
        "kept samples",
        "figures of the data sheets",
        "signature",
    ],
)
def test_each_thing_that_a_claim_asks_for_has_its_line(page: PageReader, item: str) -> None:
    # UFGS 09 67 daily logs and 'Documenting Floor Failures'
    assert item in {row["what is asked for"] for row in page.tables["table-claim"]}


def test_words_that_people_typed_cannot_become_markup(text: str) -> None:
    assert "<kiln" not in text
    assert "&lt;kiln &amp; wheel&gt;" in text
    assert "<corner>" not in text
    assert "<script" not in text


def test_the_cautions_and_the_line_about_others_rules_stand_on_it(page: PageReader) -> None:
    words = " ".join(page.words)
    assert "local rules and licensed practice prevail" in words
    assert "lid on mixed resin" in words


def test_the_record_holds_facts_and_what_a_program_makes_of_them_is_a_page_of_its_own(page: PageReader) -> None:
    assert not any(word.startswith("bay 3, dull:") for word in page.words)
    reading = read_page(reading_page(full_studio().record()))
    assert any(word.startswith("bay 3, dull:") for word in reading.words)
    assert any("no inspection" in word for word in reading.words)


def test_each_drawing_has_its_words(text: str) -> None:
    assert text.count("<svg ") == text.count("<desc") == text.count('role="img"') > 8
    assert "Least dew margin" in text
    assert "not stated" in text


def test_a_picture_stands_with_its_place_and_without_one_the_reason() -> None:
    studio = full_studio()
    assert "no small copy is kept" in record_page(studio.record())
    copies = {PHOTO_SHA: SmallCopy("image/png", None, "too large for the page")}
    assert "too large for the page" in record_page(studio.record(pictures=copies))


def test_the_page_asks_for_nothing_from_anywhere(page: PageReader) -> None:
    assert all(url.startswith(("#", "data:image/")) for url in page.urls)
    assert not {"script", "link", "iframe", "object", "embed"} & set(page.tags)


def test_an_empty_job_has_a_record_too() -> None:
    text = record_page(Studio().record())
    assert "No batch was stated." in text
    assert "Nobody took a reading." in text


def test_a_crew_in_us_units_reads_fahrenheit_and_mils() -> None:
    studio = Studio(_in_us_units())
    studio.air(0.0, 19.0)
    studio.air(60.0, 19.0)
    studio.batch(1, "bay 1", 10.0)
    page = read_page(record_page(studio.record()))
    assert page.tables["table-readings"][0]["air, °F"] == "68"
    assert page.tables["table-pouring"][0]["wet film, mil"] == "11.8"


def _in_us_units() -> str:
    from tests.words.record.studio import SITE

    return SITE.replace("9 m2", "97 ft2").replace("300 um", "12 mil").replace("75 m2/h", "800 ft2/h").replace(
        "0.4 kg/m2", "0.08 lb/ft2")  # fmt: skip


def _validator() -> Path:
    if absent := missing("node"):
        pytest.skip(absent)
    folders = [os.environ.get("MIXCLOCK_NODE_MODULES")]
    for folder in folders:
        tool = Path(folder) / ".bin" / "html-validate" if folder else None
        if tool is not None and tool.exists():
            return tool
    pytest.skip("not installed: html-validate; MIXCLOCK_NODE_MODULES names the node_modules that has it")


def test_an_html_validator_finds_nothing(tmp_path: Path) -> None:
    tool = _validator()
    files = [tmp_path / f"{name}.html" for name in ("record", "owner", "claim", "reading")]
    for write, file in zip((record_page, owner_page, claim_page, reading_page), files, strict=True):
        file.write_text(write(full_studio().record()), encoding="utf-8")
    (tmp_path / ".htmlvalidate.json").write_text(json.dumps({"root": True, "extends": ["html-validate:recommended"]}))
    done = subprocess.run([str(tool), *map(str, files)], capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    "write", [record_page, owner_page, claim_page, reading_page], ids=["record", "owner", "claim", "reading"]
)
@pytest.mark.parametrize(("size", "width_px"), [("A4", 703), ("Letter", 725)])
def test_it_opens_without_a_request_and_prints_with_no_cut_table(
    paper: Any, tmp_path: Path, write: Any, size: str, width_px: int
) -> None:
    file = tmp_path / "page.html"
    file.write_text(write(full_studio().record()), encoding="utf-8")
    page = paper(width_px, 1000)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(file.as_uri())
    page.emulate_media(media="print")
    # the paper's width less the page's 12 mm margins, at 96 px an inch: nothing may stand out over it
    wide = page.evaluate("""() => [...document.querySelectorAll('table, svg, figure, p, ul')]
        .filter(e => e.getBoundingClientRect().right > document.documentElement.clientWidth + 1 ||
                     e.scrollWidth > e.clientWidth + 1 && e.tagName === 'TABLE')
        .map(e => e.tagName + ' ' + e.id)""")
    assert wide == []
    page.pdf(path=str(tmp_path / "page.pdf"), format=size)
    assert asked == [file.as_uri()]
    assert said == []
    assert (tmp_path / "page.pdf").stat().st_size > 5000


def test_every_heading_of_a_printed_table_comes_again_on_its_next_page(paper: Any, tmp_path: Path) -> None:
    if absent := missing("pdftotext"):
        pytest.skip(absent)
    file = tmp_path / "page.html"
    file.write_text(record_page(full_studio().record()), encoding="utf-8")
    page = paper()
    page.goto(file.as_uri())
    page.pdf(path=str(tmp_path / "page.pdf"), format="A4")
    done = subprocess.run(
        ["pdftotext", "-layout", str(tmp_path / "page.pdf"), "-"], capture_output=True, text=True, check=True
    )
    with_steps = [
        sheet for sheet in done.stdout.split("\f") if "pour-out" in sheet and "done" in sheet and "broadcast" in sheet
    ]
    assert with_steps
    assert all("counts from" in sheet for sheet in with_steps if "13 Apr" in sheet and "vehicle-traffic" in sheet)


def test_a_wet_edge_that_was_joined_days_later_tells_no_share_in_four_figures() -> None:
    """Ten times its length after it began nobody asks how far its clock had run."""
    studio = Studio()
    studio.air(-30, 19.0)
    studio.batch(1, "bay 1", 0.0)
    studio.batch(2, "bay 2", 2 * 1440.0)
    record = studio.record()
    joined = [row for row in step_table(record).as_dicts() if (row["batch"], row["window"]) == (1, "wet-edge")]
    assert [row["judged"] for row in joined] == ["after it closed"]
    assert [row["used_pct"] for row in joined] == [None]
    assert not re.search(r">\d{4,}</td>", table_markup(step_table(record), record.zone, record.units))
