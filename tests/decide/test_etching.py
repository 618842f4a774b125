"""Acid on a slab works until it is neutralised, and is called out until then and no longer."""

from __future__ import annotations

from mixclock.decide.alerting import alerts
from mixclock.decide.shapes import State
from mixclock.job.entry import Combined, Did, Poured, ProfileUsed, Reading
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
