"""A logger's file goes into the job's log, once."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from mixclock.outside.clock import SystemClock
from tests.running import Ran

Run = Callable[..., Ran]


def export(path: Path, minutes_ago: range) -> Path:
    """An export of a made-up morning: a row for each of so many minutes ago."""
    now = SystemClock().now().replace(microsecond=0)
    rows = [f"{now - timedelta(minutes=back):%Y-%m-%d %H:%M:%S},{16 + back / 1000:.2f},62" for back in minutes_ago]
    path.write_text("\ufeffTime UTC,Temp (°C),RH (%)\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_an_export_is_taken_once_and_a_longer_one_adds_what_is_new(studio: Run, tmp_path: Path) -> None:
    shed = export(tmp_path / "shed.csv", range(60, 30, -10))
    first = studio("logger", "read", str(shed), "--json")
    assert (first.code, first.json["taken"]) == (0, 3), first.err
    again = studio("logger", "read", str(shed), "--json")
    assert (again.json["taken"], again.json["known"]) == (0, 3)
    export(tmp_path / "longer.csv", range(60, 0, -10))
    both = studio("logger", "read", str(tmp_path / "longer.csv"), "--name", "shed", "--json")
    assert both.json["taken"] + both.json["known"] == 6
    conditions = studio("now", "--json").json["conditions"]
    assert round(conditions["air_c"], 1) == 16.0


def test_a_probe_on_the_slab_reads_the_slab(studio: Run, tmp_path: Path) -> None:
    taken = studio("logger", "read", str(export(tmp_path / "probe.csv", range(30, 0, -10))), "--slab", "--on", "bay 1")
    assert taken.code == 0, taken.err
    assert "temperature from 'Temp (°C)' in °C" in taken.out
    assert studio("record", "--json").json["readings"][-1]["slab_c"] == 16.01


def test_rows_of_the_future_and_from_before_the_job_are_left_out_and_said(studio: Run, tmp_path: Path) -> None:
    days = export(tmp_path / "days.csv", range(4 * 24 * 60 + 30, -120, -60))
    told = studio("logger", "read", str(days), "--json").json
    assert told["before_this_job"] == 49
    assert {held["why"] for held in told["held_back"]} == {"lies in the future: the logger's clock or the zone is off"}


def test_what_is_wrong_with_an_export_is_one_line_and_changes_nothing(studio: Run, tmp_path: Path) -> None:
    before = studio("record", "--json").json["statements"]
    bare = tmp_path / "bare.csv"
    bare.write_text("Time,Temp\n2026-04-13 08:00,16\n")
    for words, said in (
        ((str(bare),), "bare.csv: at 'Temp': names neither °C nor °F; say --degrees C or --degrees F"),
        ((str(bare), "--degrees", "C"), "bare.csv: its times name no zone; say --zone"),
        ((str(bare), "--zone", "Moon/Base"), "--zone: 'Moon/Base' is no time zone"),
        ((str(tmp_path / "none.csv"),), "none.csv: is no file; name the file"),
    ):
        answer = studio("logger", "read", *words)
        assert answer.code == 2
        assert said in answer.err
        assert len(answer.err.splitlines()) == 1
    assert studio("record", "--json").json["statements"] == before


def test_a_file_can_be_looked_at_before_it_is_taken(studio: Run, tmp_path: Path) -> None:
    tried = studio("logger", "read", str(export(tmp_path / "shed.csv", range(60, 30, -10))), "--try")
    assert "3 readings found; this was a try, so none was taken in" in tried.out
    assert studio("now", "--json").json["conditions"].get("air_c") is None
