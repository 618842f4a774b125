"""Acid on a slab works until it is neutralised, and is called out until then and no longer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from mixclock.decide.alerting import alerts
from mixclock.decide.shapes import State
from mixclock.job.entry import Combined, Did, Poured, ProfileUsed, Reading
from mixclock.words.answers import answer_to
from tests.decide.worlds import Log, instant

ACID = """
name = "Shed base"
family = "acid etch"
source = "invented"
[mix]
time = "1 min"
[windows.dwell]
after = "poured"
opens = "5 min"
closes = "10 min"
[windows.neutralise]
after = "poured"
opens = "5 min"
closes = "12 min"
constant = true
[windows.rinse]
after = "neutralise"
opens = "5 min"
closes = "20 min"
constant = true
"""

SODA = """
name = "Shed top"
family = "neutraliser"
source = "invented"
[mix]
time = "1 min"
[windows.dwell]
after = "poured"
opens = "3 min"
"""


def etched() -> Log:
    log = Log()
    log.entries[1:] = []
    log.add(-60, ProfileUsed("Shed base", ACID))
    log.add(-60, ProfileUsed("Shed top", SODA))
    log.add(-10, Reading(air_c=20.0, rh_pct=50.0, slab_c=20.0))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=2.0, coat="base"))
    log.add(2, Poured(1))
    return log


def called(log: Log, minutes: float) -> set[str]:
    standing = log.standing(minutes)
    return {alert.step for alert in alerts(standing, log.tracks(minutes), instant(minutes)) if alert.batch == 1}


def test_acid_that_dries_on_the_floor_is_called_out() -> None:
    assert {"dwell", "neutralise"} <= called(etched(), 15)


def test_acid_that_was_neutralised_is_called_out_no_more() -> None:
    log = etched()
    log.add(9, Did("neutralise", 1))
    assert not {"dwell", "neutralise"} & called(log, 15)
    assert log.window("dwell", 15).state is State.DONE


def test_acid_under_a_neutraliser_that_was_poured_as_a_product_is_neutralised() -> None:
    log = etched()
    log.add(8, Combined("Shed top", ("bay 1",), volume_l=2.0, coat="top"))
    assert "dwell" in called(log, 15)  # in its pail it neutralises nothing
    log.add(9, Poured(2))
    assert not {"dwell", "neutralise"} & called(log, 15)


def test_a_neutraliser_on_another_bay_ends_nothing_here() -> None:
    log = etched()
    log.add(8, Combined("Shed top", ("bay 2",), volume_l=2.0, coat="top"))
    log.add(9, Poured(2))
    assert {"dwell", "neutralise"} <= called(log, 15)


def test_water_alone_ends_the_dwell_but_neutralises_nothing() -> None:
    log = etched()
    log.add(9, Did("rinse", 1))
    steps = called(log, 15)
    assert "dwell" not in steps
    assert "neutralise" in steps


@pytest.mark.parametrize(("family", "minutes"), [("acid etch", 1.0), ("waterborne epoxy", 4.0), ("epoxy", 3.0)])
def test_a_bucket_whose_sheet_names_no_mixing_time_is_mixed_as_long_as_the_plan_says(
    family: str, minutes: float
) -> None:
    """Waterborne at least 4 min: a water-dispersed epoxy's sheet, slideblast.com (read, year not given)."""
    log = Log()
    text = f'name = "Shed base"\nfamily = "{family}"\nsource = "invented"\n'
    two = "" if family == "acid etch" else "[mix]\nratio_by_volume = [2, 1]\n"
    window = '[windows.dwell]\nafter = "poured"\nopens = "5 min"\n' if not two else ""
    life = '[pot-life]\nat = { "20 °C" = "40 min" }\n' if two else ""
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", f"{text}{two}{life}{window}"))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0))
    [batch] = log.standing().batches
    assert (batch.mixing_ended - batch.combined.at).total_seconds() / 60.0 == minutes


def test_who_rinses_an_etch_is_told_twice_and_how_it_is_judged() -> None:
    """ASTM D4262 judges by the pH of the rinse water (read); rinsed twice: common practice."""
    log = Log()
    log.entries[1] = replace(log.entries[1], facts=ProfileUsed("Shed base", ACID))
    log.add(0, Combined("Shed base", ("bay 1",), volume_l=4.0))
    log.add(2, Poured(1))
    for minutes, step in ((8, "neutralise"), (15, "rinse")):
        entry = log.add(minutes, Did(step, 1))
        said = answer_to(entry, log.standing(), log.tracks(), instant(minutes)).cautions
        assert any("Rinse twice" in line and "pH" in line for line in said), step
