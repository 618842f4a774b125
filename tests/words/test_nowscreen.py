"""How the job stands, as a person reads it."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import psychrolib
import pytest

from mixclock.job.entry import Combined, JobStarted, Poured, Reading
from mixclock.units import METRIC_CREW
from mixclock.values import replace
from mixclock.watch.rows import rows
from mixclock.words.nowjson import now_json
from mixclock.words.nowscreen import now_lines
from tests.decide.worlds import SITE, Log, instant


def poured_in_parts() -> Log:
    """A batch for two bays: half of it on bay 1 after five minutes; the morning's readings."""
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1", "bay 2"), "base", volume_l=7.0))
    log.add(5, Poured(1, ("bay 1",), part_l=3.5))
    return log


def screen(log: Log, minutes: float) -> list[str]:
    """What `now` prints, minutes after eight (UTC; nine on the wall)."""
    standing = log.standing(minutes)
    return now_lines(now_json(standing, log.tracks(minutes), instant(minutes)), standing.site.wall, METRIC_CREW)


def test_of_a_batch_poured_in_parts_each_portion_says_where_and_when_it_was_poured() -> None:
    log = poured_in_parts()
    log.add(11, Poured(1, ("bay 1",)))
    lines = screen(log, 12)
    assert [line.strip() for line in lines if line.endswith(":")] == [
        "3.5 L poured 9:05 on bay 1:",
        "3.5 L poured 9:11 on bay 1:",
    ]
    first, second = (lines.index(f"  3.5 L poured 9:{minutes} on bay 1:") for minutes in ("05", "11"))
    assert "back-roll" in lines[first + 1]
    assert "back-roll" in lines[second + 1]
    assert "pour-out" in lines[first - 1]


def test_what_is_still_in_the_bucket_is_told_apart_from_what_lies_on_the_floor() -> None:
    told = [line.strip() for line in screen(poured_in_parts(), 7) if line.endswith(":")]
    assert told == ["3.5 L poured 9:05 on bay 1:", "3.5 L still in the bucket, for bay 1, bay 2:"]


def test_a_batch_that_went_out_in_one_has_no_portions_to_tell_apart() -> None:
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=3.5))
    log.add(5, Poured(1, ("bay 1",)))
    assert not [line for line in screen(log, 7) if line.endswith(":")]
    assert "portion" not in now_json(log.standing(7), log.tracks(7), instant(7))["batches"][0]["windows"][1]


def test_the_daemons_board_tells_portions_apart_by_when_they_were_poured() -> None:
    log = poured_in_parts()
    log.add(11, Poured(1, ("bay 1",)))
    rolling = [row.where for row in rows(log.standing(12), log.tracks(12), instant(12)) if row.what == "back-roll"]
    assert rolling == ["batch 1, bay 1, poured 9:05", "batch 1, bay 1, poured 9:11"]


def test_the_terminals_say_no_date_on_a_slab_under_its_sheet_and_no_sure_hour_where_doubt_is_wide() -> None:
    answer = now_json(poured_in_parts().standing(12), poured_in_parts().tracks(12), instant(12))
    edges = {"opens": {"early": "2026-04-13T10:00:00Z", "likely": "2026-04-13T11:30:00Z", "late": None},
             "closes": {"early": "2026-04-13T11:00:00Z", "likely": "2026-04-13T21:00:00Z", "late": None}}  # fmt: skip
    plain = {"area": None, "state": "waiting", "ripeness_opens": None, "ripeness_closes": None, "because": []}
    cold = {**plain, "opens": None, "closes": edges["closes"], "because": ["no date until the slab is over 10 °C"]}
    windows = [{**plain, **edges, "name": "recoat", "sure": False}, {**cold, "name": "foot-traffic"}]
    shown = {**answer, "batches": [], "areas": [{"name": "bay 1", "coat": "base", "windows": windows}]}
    lines = "\n".join(now_lines(shown, ZoneInfo("Europe/Lisbon"), METRIC_CREW))
    assert "can't call it to the hour; likely 12:30 to 22:00; read the slab now" in lines
    assert "no date until the slab is over 10 °C; by 12:00" in lines


def test_the_daemons_board_says_why_a_cold_slab_has_no_date() -> None:
    log = Log()
    log.add(-10, Reading(air_c=6.0, rh_pct=50.0, slab_c=4.0))
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=3.5))
    log.add(5, Poured(1, ("bay 1",)))
    told = {row.what: row.time for row in rows(log.standing(12), log.tracks(12), instant(12))}
    assert [time for time in told.values() if time.startswith("no date until the slab is over")]


def test_without_a_slab_reading_the_screen_asks_for_one_and_claims_no_margin() -> None:
    log = Log()
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0))
    [first, *_] = screen(log, 0)
    assert "air 20 °C, 50 %, read the slab" in first
    assert "over the dew point" not in first
    answer = now_json(log.standing(0), log.tracks(0), instant(0))["conditions"]
    psychrolib.SetUnitSystem(psychrolib.SI)
    assert answer["dew_point_c"] == pytest.approx(psychrolib.GetTDewPointFromRelHum(20.0, 0.5), abs=0.05)
    assert answer["margin_k"] is None


@pytest.mark.parametrize("flaked", [True, False])
def test_nobody_is_told_until_when_to_flake_a_coat_that_gets_no_flake(flaked: bool) -> None:
    """No call is made for it either; its floor is rolled and left alone."""
    site = SITE if flaked else "".join(line for line in SITE.splitlines(True) if not line.startswith("flake"))
    log = Log([])
    log.entries[0] = replace(log.entries[0], facts=JobStarted("Boat shed", site))
    log.add(0, Combined("Shed base", ("bay 1",), "base", volume_l=3.5))
    log.add(5, Poured(1, ("bay 1",)))
    lines = screen(log, 7)
    assert any("back-roll" in line for line in lines)
    assert any("broadcast" in line for line in lines) is flaked
