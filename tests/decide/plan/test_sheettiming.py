"""What the plan asks of the sheets while a reading that jumped is not answered yet: the safe side of both."""

from __future__ import annotations

import pytest

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.formulas.air import dew_margin_k
from mixclock.job.entry import Reading
from tests.decide.worlds import Log, instant

MODEL = bucket_model()
KIT = Bucketful(4.2, 4.0)
DEW_AT_30_C_55_PCT = 20.0
"""Air of 30 °C and 55 % has its dew point at 20 °C: a resin maker's glossary, "Dew point" (read, year not given)."""


def timing(*airs: float) -> SheetTiming:
    """A shed whose air was read every ten minutes, over a slab of 20 °C."""
    log = Log()
    for count, air_c in enumerate(airs):
        log.add(-40 + 10 * count, Reading(air_c=air_c, rh_pct=50.0))
    log.add(-5, Reading(slab_c=20.0))
    return SheetTiming(log.standing(), MODEL, 0)


def pour_out_min(found: SheetTiming) -> float:
    span = found.closes("Shed base", "pour-out", instant(10), KIT)
    assert span is not None
    return span.early_s / 60.0


def test_a_bucket_is_planned_by_the_warmer_air_until_a_jump_is_answered() -> None:
    warm, cool = pour_out_min(timing(35.0)), pour_out_min(timing(19.0))
    assert warm < cool
    assert pour_out_min(timing(35.0, 19.0)) == pytest.approx(warm, rel=0.03)
    assert pour_out_min(timing(35.0, 19.0, 18.5)) == pytest.approx(cool, rel=0.05)


def test_an_hour_is_judged_by_the_warmer_air_over_the_colder_slab_until_a_jump_is_answered() -> None:
    log = Log()
    log.add(-40, Reading(air_c=30.0, rh_pct=55.0, slab_c=21.0))
    log.add(-20, Reading(air_c=14.0, slab_c=38.0))
    expected = SheetTiming(log.standing(), MODEL, 0).at(instant(10))
    assert (expected.air_c, expected.slab_c) == (30.0, 21.0)
    margin_k = dew_margin_k(expected.air_c, expected.rh_pct, expected.slab_c)
    assert margin_k == pytest.approx(21.0 - DEW_AT_30_C_55_PCT, abs=0.5)
