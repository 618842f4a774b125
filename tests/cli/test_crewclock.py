"""A US crew reads its own clock and units everywhere: 2:05 pm, Apr 14, °F, one unit of volume a line."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mixclock.job.sitereading import read_site
from mixclock.outside.channels.speech_text import speakable
from mixclock.units import METRIC_CREW, US_CREW
from mixclock.words.times import closes_said, day_and_clock
from tests.running import ROOT, Ran

Run = Callable[..., Ran]

SHED = """
name = "Boat shed"
zone = "America/Denver"
units = "US"
clock = "12 h"
[[areas]]
name = "bay 1"
size = "60 ft2"
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "60 ft2"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "12 mil"
flake = "0.08 lb/ft2"
kit = "3 gal"
split = true
price = "150"
[[coats]]
name = "top"
product = "Polyaspartic top coat"
wet_film = "5 mil"
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
"""
TOO_MUCH = SHED.replace("60 ft2", "130 ft2").replace("split = true", "").partition("[[crew]]")[0]
"""Whole kits on twice the floor for one person: no plan fits, and what would free it is told at length."""
OF_24_HOURS = re.compile(r"(?<![\dT:.])(?:[01]?\d|2[0-3]):[0-5]\d(?::[0-5]\d)?(?![\d:Z]| [ap]m)")
DAY_FIRST = re.compile(r"\b\d{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b(?! \d{1,2}\b(?!:))")
METRIC = re.compile(r"°C|\d (?:L|mL|kg|m²|µm|mm|cm|m²/L)\b|litre|metre")


def strange(told: str) -> list[str]:
    """What this crew would not say; what stands as an instant for programs is left out."""
    shown = " ".join(re.sub(r"<style.*?</style>|<[^>]*>", " ", told, flags=re.S).split())
    return [*OF_24_HOURS.findall(shown), *DAY_FIRST.findall(shown), *METRIC.findall(shown)]


@pytest.fixture
def at_work(run: Run, home: Path, request: pytest.FixtureRequest) -> Run:
    """A batch on the floor of a US crew, another in its bucket."""
    (home / "shed.toml").write_text(getattr(request, "param", SHED), encoding="utf-8")
    for words in (
        ("job", "start", str(home / "shed.toml")),
        ("reading", "--air", "64", "--rh", "60", "--slab", "62"),
        ("mixing", "Slow epoxy base", "0.6 gal", "--on", "bay 1", "--ago", "20 min"),
        ("poured", "--ago", "12 min"),
        ("mixing", "Slow epoxy base", "0.6 gal", "--on", "bay 2"),
    ):
        assert run(*words).code == 0, words
    return run


QUESTIONS = (
    ("now",), ("reading", "--bucket", "112", "--batch", "2"), ("saw", "2", "hot"), ("next",),
    ("found", "bay 1", "dull"), ("why", "bay 1", "--more"),
)  # fmt: skip


@pytest.mark.parametrize("words", QUESTIONS, ids=lambda words: words[0])
def test_no_question_is_answered_in_another_crews_clock_or_units(words: tuple[str, ...], at_work: Run) -> None:
    if words[0] == "why":
        at_work("found", "bay 1", "dull")
    told = at_work(*words).out
    assert told.strip()
    assert strange(told) == []


@pytest.mark.parametrize("options", [(), ("--owner",), ("--claim",)])
def test_no_page_is_written_in_another_crews_clock_or_units(options: tuple[str, ...], at_work: Run, home: Path) -> None:
    assert at_work("record", *options, "--to", str(home / "page.html")).code == 0
    told = (home / "page.html").read_text(encoding="utf-8")
    assert "am" in told or "pm" in told
    assert strange(told) == []


def test_a_calendar_says_the_hours_as_the_crew_does(at_work: Run, home: Path) -> None:
    assert at_work("calendar", "--to", str(home / "floor.ics")).code == 0
    lines = (home / "floor.ics").read_text(encoding="utf-8").replace("\n ", "").splitlines()
    said = [line for line in lines if line.startswith(("SUMMARY", "DESCRIPTION"))]
    assert said
    assert strange(" ".join(said).replace("\\", "")) == []


@pytest.mark.parametrize(
    "at_work", [SHED, pytest.param(TOO_MUCH, marks=pytest.mark.long)], indirect=True, ids=["it fits", "it does not fit"]
)
def test_a_plan_is_told_in_the_crew_s_clock_and_units_and_a_line_holds_one_unit_of_volume(
    at_work: Run, hasty: None
) -> None:
    told = at_work("plan").out
    assert strange(told) == []
    lines = [line for line in told.splitlines() if re.search(r"\d (?:gal|qt|fl oz)\b", line)]
    assert len(lines) > 5
    mixed = [line for line in lines if len(set(re.findall(r"\d (gal|qt|fl oz)\b", line))) > 1]
    assert mixed == []


def test_the_job_file_says_the_units_and_never_the_majority_of_its_figures() -> None:
    metric_figures = SHED.replace("60 ft2", "6 m2").replace("12 mil", "300 um").replace("5 mil", "125 um")
    assert read_site(metric_figures).units == US_CREW
    assert read_site(SHED.replace('units = "US"', 'units = "metric"')).units == METRIC_CREW


def test_others_read_24_hours_and_the_day_first() -> None:
    at = datetime(2026, 4, 27, 20, 5, tzinfo=UTC)
    now = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
    us, europe = read_site(SHED), read_site(SHED.replace('clock = "12 h"\n', "").replace('units = "US"\n', ""))
    assert day_and_clock(at, now, us.wall) == "Mon Apr 27 2:05 pm"
    assert day_and_clock(at, now, europe.wall) == "Mon 27 Apr 14:05"
    assert closes_said(at, at, us.wall) == "2:05 pm"


def test_the_voice_says_the_half_of_the_day() -> None:
    assert speakable("Batch 3: pour it out by 2:05 pm.") == "Batch 3: pour it out by 2 oh 5 pm."


def test_whatever_writes_a_time_goes_by_the_clock_on_the_wall_and_not_by_the_bare_zone() -> None:
    bare = re.compile(r"ZoneInfo\((?:\w+\.)*site(?:\(\))?\.zone\)")
    sources = {path: path.read_text(encoding="utf-8") for path in (ROOT / "mixclock").rglob("*.py")}
    assert len(sources) > 300
    assert [str(path) for path, text in sources.items() if bare.search(text)] == []
