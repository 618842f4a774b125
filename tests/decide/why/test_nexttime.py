"""What to set next time, the job replayed, areas side by side, and what comes back."""

from __future__ import annotations

import re
from datetime import UTC, timedelta

import pytest
import scipy

from mixclock.decide.tracks import tracks
from mixclock.decide.why import diagnose
from mixclock.decide.why.acrossjobs import chance, counts, looked_at, paces, patterns
from mixclock.decide.why.comparison import compare, odd_one
from mixclock.decide.why.diagnosis import next_time
from mixclock.decide.why.settings import scaled
from mixclock.decide.why.whatif import TimeChange, what_if
from mixclock.job.entry import Found, Reading
from mixclock.job.folding import fold
from mixclock.units import METRIC_CREW, US_CREW
from mixclock.words.whyother import across_lines, compared_lines, held_lines
from tests.decide.why.test_diagnosis import studio
from tests.words.record.studio import MODEL, MORNING, Studio


def settings(made: Studio, area: str = "bay 3") -> list[str]:
    case = made.record().case
    return list(next_time(case, area, diagnose(case, area).shown))


def late_rolled() -> Studio:
    made = studio({3: {"rolled": 130.0, "flaked": 140.0}})
    made.add(9000.0, Found("bay 3", "roller marks"))
    return made


def test_next_time_a_batch_so_much_smaller_would_have_been_rolled_in_time() -> None:
    said = settings(late_rolled())
    smaller = next(words for words in said if words.startswith("mix batches of"))
    litres = float(re.search(r"of ([\d.]+) L instead of 2.7 L", smaller)[1])  # type: ignore[index]
    case = late_rolled().record().case
    batch = case.standing.batch(3)
    assert batch is not None
    replayed = fold("studio", scaled(case, batch, litres / 2.7))
    track = next(t for t in tracks(replayed, MODEL) if t.batch.id == 3 and t.name == "back-roll")
    assert track.stated is not None
    assert track.closes is not None
    assert track.stated.at <= track.closes.edge.likely


def test_next_time_the_alert_comes_so_much_earlier_as_the_window_asks() -> None:
    said = settings(late_rolled())
    words = next(words for words in said if words.startswith("roll by"))
    case = late_rolled().record().case
    track = next(t for t in case.tracks if t.batch.id == 3 and t.name == "back-roll")
    assert track.closes is not None
    minutes = (MORNING + timedelta(minutes=80.0 + 130.0) - track.closes.edge.early).total_seconds() / 60.0
    assert f"{minutes:.0f} min sooner" in words


def test_next_time_an_hour_later_is_found_from_the_days_own_readings() -> None:
    made = Studio()
    for at in range(-30, 1500, 30):
        made.air(at, 11.2 if at < 240.0 else 20.0)
    made.batch(1, "bay 1", 0.0)
    made.add(9000.0, Found("bay 1", "greasy film"))
    (words,) = [words for words in settings(made, "bay 1") if "later" in words]
    assert re.match(r"start bay 1 4 hours later: lowest dew margin", words)


def test_a_cause_without_a_number_gives_no_setting() -> None:
    from mixclock.job.entry import Noted

    made = studio()
    made.add(150.0, Noted("bucket: upended", area="bay 3"))
    made.add(9000.0, Found("bay 3", "soft", "drips"))
    assert settings(made) == []


def test_had_the_batch_been_poured_sooner_its_windows_would_have_held() -> None:
    made = studio({3: {"poured": 60.0, "rolled": 80.0}})
    standing = made.record().standing
    rows = what_if(standing, MODEL, TimeChange(3, "poured", MORNING + timedelta(minutes=92.0)))
    pour = next(row for row in rows if row.window == "pour-out")
    assert (pour.batch, pour.held, pour.would_hold) == (3, False, True)
    assert pour.would_be_pct is not None
    assert pour.was_pct is not None
    assert pour.was_pct > 100.0 > pour.would_be_pct
    assert held_lines(rows, "batch 3 poured Mon 13 Apr 10:32")[0].endswith("would have held.")


def test_the_replay_is_the_job_as_it_would_have_been_stated() -> None:
    moved = studio({3: {"poured": 60.0, "rolled": 78.0, "flaked": 93.0}}).record().standing
    usual = studio().record().standing
    rows = what_if(moved, MODEL, TimeChange(3, "poured", MORNING + timedelta(minutes=92.0)))
    asked = {(row.window, row.area): row.would_be_pct for row in rows if row.batch == 3}
    compared = []
    for track in tracks(usual, MODEL):
        if track.batch.id == 3 and (track.name, track.area) in asked and track.stated is not None and track.closes:
            ripe = track.ripeness_closes(track.stated.at)
            assert ripe is not None
            assert asked[(track.name, track.area)] == pytest.approx(ripe * 100.0, abs=0.1), track.name
            compared.append(track.name)
    assert sorted(compared) == ["back-roll", "broadcast", "wet-edge"]


def test_a_pour_that_nobody_stated_can_be_tried() -> None:
    made = studio({3: {"poured": None, "rolled": None, "flaked": None}})
    rows = what_if(made.record().standing, MODEL, TimeChange(3, "poured", MORNING + timedelta(minutes=92.0)))
    pour = next(row for row in rows if row.window == "pour-out" and row.batch == 3)
    assert (pour.was_pct, pour.would_hold) == (None, True)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (TimeChange(9, "poured", MORNING), "no batch 9"),
        (TimeChange(3, "rinse", MORNING + timedelta(hours=3)), "nobody stated when batch 3 was rinse"),
        (TimeChange(3, "poured", MORNING), "not mixed by then"),
    ],
)
def test_a_change_that_makes_no_sense_is_refused(change: TimeChange, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        what_if(studio().record().standing, MODEL, change)


def test_side_by_side_the_odd_area_comes_first() -> None:
    case = studio({3: {"film_um": 150.0}}).record().case
    rows = compare(case)
    odd = odd_one(rows)
    assert odd is not None
    assert odd.area == "bay 3"
    assert compared_lines(rows)[0] == "bay 3 is the odd one."


def test_two_areas_with_as_much_of_the_same_are_not_one_odd_one() -> None:
    rows = compare(studio({2: {"film_um": 150.0}, 4: {"film_um": 150.0}}).record().case)
    assert odd_one(rows) is None
    assert compared_lines(rows)[0] == "No area stands out in the record."


def test_of_two_that_have_the_same_the_one_with_a_finding_is_the_odd_one() -> None:
    made = studio({2: {"film_um": 150.0}, 4: {"film_um": 150.0}})
    made.add(6 * 1440.0, Found("bay 4", "dull"))
    rows = compare(made.record().case)
    assert rows[0].area == "bay 4"


def test_where_no_area_stands_out_none_is_pointed_at() -> None:
    assert odd_one(compare(studio().record().case)) is None
    assert compared_lines(compare(Studio().record().case)) == [
        "No batch was stated on this job yet: there is nothing to compare."
    ]


@pytest.mark.parametrize(
    ("hits", "drawn", "marked", "total"), [(3, 3, 4, 10), (2, 5, 3, 20), (0, 4, 2, 9), (1, 1, 1, 50)]
)
def test_luck_is_fishers_exact_test(hits: int, drawn: int, marked: int, total: int) -> None:
    table = [[hits, drawn - hits], [marked - hits, total - drawn - marked + hits]]
    assert chance(hits, drawn, marked, total) == pytest.approx(
        scipy.stats.fisher_exact(table, alternative="greater").pvalue
    )


def test_across_jobs_a_lot_that_fails_again_is_named_and_called_thin() -> None:
    cases = []
    for job in range(3):
        made = studio()
        made.entries = [
            _lot(entry, "L-57") if getattr(entry.facts, "areas", ()) == ("bay 3",) else entry for entry in made.entries
        ]
        if job < 2:
            made.add(9000.0, Found("bay 3", "soft"))
        cases.append(made.record().case)
    jobs = [looked_at(case) for case in cases]
    found = patterns(jobs)
    assert counts(jobs) == (3, 12, 2)
    assert found[0].what == "Slow epoxy base, lot L-57"
    assert found[0].thin
    told = [" ".join(across_lines(counts(jobs), found, paces(jobs), units)) for units in (METRIC_CREW, US_CREW)]
    assert "Thin" in told[0]
    assert ("m²/h" in told[0], "ft²/h" in told[1], "m²" in told[1]) == (True, True, False)


def _lot(entry: object, lot: str) -> object:
    from dataclasses import replace

    from mixclock.job.entry import Combined, Entry

    assert isinstance(entry, Entry)
    return replace(entry, facts=entry.facts.but(lot=lot)) if isinstance(entry.facts, Combined) else entry


def test_a_persons_true_pace_is_measured_beside_the_job_files() -> None:
    (pace,) = paces([looked_at(studio().record().case)])
    assert (pace.who, pace.areas, pace.stated_m2_h) == ("roller", 4, 75.0)
    assert pace.m2_h == pytest.approx(9.0 / (18.0 / 60.0))


def test_with_nothing_found_nothing_comes_back() -> None:
    jobs = [looked_at(studio().record().case)]
    lines = list(across_lines(counts(jobs), patterns(jobs), (), METRIC_CREW))
    assert lines[1].startswith("Nothing comes back")


def test_readings_alone_are_no_job_to_compare() -> None:
    made = Studio()
    made.add(0.0, Reading(air_c=20.0))
    assert compare(made.record().case) == ()


def test_hours_that_nobody_read_give_no_figure() -> None:
    rows = what_if(studio({3: {"rolled": 40.0}}).record().standing, MODEL,
                   TimeChange(3, "back-roll", MORNING + timedelta(days=2)))  # fmt: skip
    row = next(row for row in rows if row.window == "back-roll")
    assert (row.no_reading, row.would_be_pct, row.would_hold) == (True, None, None)
    assert any("nobody read air or slab then" in line for line in held_lines(rows, "batch 3 rolled"))


def test_a_floor_that_nobody_read_gets_no_figure_even_where_nothing_moves() -> None:
    rows = what_if(studio({3: {"rolled": 40.0}}, readings=False).record().standing, MODEL,
                   TimeChange(3, "back-roll", MORNING + timedelta(minutes=130)))  # fmt: skip
    assert {row.batch for row in rows} == {3}
    assert all(row.no_reading for row in rows if row.area is not None)


def test_a_step_tried_after_noon_is_on_the_batchs_own_day() -> None:
    from zoneinfo import ZoneInfo

    from mixclock.job.saidtimes import instant_on_day_of
    from mixclock.units import clock_time

    zone, mixed = ZoneInfo("America/Chicago"), MORNING + timedelta(hours=11, minutes=50)  # 13:50 in Chicago
    meant = [instant_on_day_of(clock_time(said), zone, mixed, day).astimezone(zone)
             for said, day in (("3:30", ""), ("14:10", ""), ("9:00", "Tue"), ("9:00", "Sun"))]  # fmt: skip
    assert [f"{at:%a %d %H:%M}" for at in meant] == ["Mon 13 15:30", "Mon 13 14:10", "Tue 14 09:00", "Sun 12 09:00"]


def test_a_change_can_be_put_on_yesterday() -> None:
    from mixclock.job.saidtimes import instant_on_day_of
    from mixclock.units import clock_time

    now = MORNING + timedelta(days=2)
    meant = instant_on_day_of(clock_time("9:00"), UTC, MORNING, "yesterday", now)
    assert f"{meant:%d %H:%M}" == "14 09:00"
