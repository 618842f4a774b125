"""Go, caution or no-go, at and around each limit."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock.decide.conditions import Conditions, Judgement, Margin, Verdict, judge, margins_of
from mixclock.job.entry import Reading
from mixclock.job.profile import Limits
from mixclock.units import US_CREW
from tests.decide.worlds import Log

NOON = datetime(2026, 4, 13, 12, 0, tzinfo=UTC)
MILD = Limits(slab_c=(10.0, 30.0), humidity_max_pct=85.0, dew_margin_min_k=3.0)


def with_margin(margin_k: float, rh_pct: float = 50.0, air_c: float = 20.0) -> Conditions:
    """Air of 20 °C over a slab that is so far over its dew point."""
    return Conditions(air_c, rh_pct, Conditions(air_c, rh_pct, 20.0).dew_point_c + margin_k)


def verdict(margin_k: float, limits: Limits | None = None, **how: float) -> Verdict:
    return judge(with_margin(margin_k, **how), limits).verdict


@pytest.mark.parametrize(
    ("margin_k", "expected"),
    [
        (-1.0, Verdict.NO_GO),
        (0.0, Verdict.NO_GO),
        (2.99, Verdict.NO_GO),
        (3.001, Verdict.CAUTION),
        (4.99, Verdict.CAUTION),
        (5.01, Verdict.GO),
        (9.0, Verdict.GO),
    ],
)
def test_a_slab_must_be_three_kelvin_over_the_dew_point_and_five_to_be_easy(margin_k: float, expected: Verdict) -> None:
    assert verdict(margin_k) is expected


def test_a_product_may_ask_for_more_margin_and_never_for_less() -> None:
    assert verdict(3.5, Limits(dew_margin_min_k=4.0)) is Verdict.NO_GO
    assert verdict(2.5, Limits(dew_margin_min_k=2.0)) is Verdict.NO_GO


@pytest.mark.parametrize(
    ("rh_pct", "limit_pct", "expected"),
    [
        (85.5, None, Verdict.NO_GO),
        (85.0, None, Verdict.CAUTION),
        (80.0, None, Verdict.CAUTION),
        (79.0, None, Verdict.GO),
        (76.0, 75.0, Verdict.NO_GO),
        (71.0, 75.0, Verdict.CAUTION),
        (69.0, 75.0, Verdict.GO),
    ],
)
def test_humidity_is_held_to_the_sheet_else_to_85_percent(
    rh_pct: float, limit_pct: float | None, expected: Verdict
) -> None:
    assert verdict(9.0, Limits(humidity_max_pct=limit_pct), rh_pct=rh_pct) is expected


@pytest.mark.parametrize(
    ("rh_pct", "slab_c", "told"),
    [
        (85.3, 25.0, "humidity 85.3 % is over the 85 % that is allowed"),
        (85.04, 25.0, "humidity 85.1 % is over the 85 % that is allowed"),
        (91.0, 25.0, "humidity 91 % is over the 85 % that is allowed"),
        (30.0, 9.7, "slab 9.7 °C is outside the sheet's 10 °C to 30 °C"),
        (30.0, 9.98, "slab 9.9 °C is outside the sheet's 10 °C to 30 °C"),
        (30.0, 30.3, "slab 30.3 °C is outside the sheet's 10 °C to 30 °C"),
        (30.0, 8.2, "slab 8 °C is outside the sheet's 10 °C to 30 °C"),
    ],
)
def test_what_is_a_hair_past_a_limit_never_reads_as_the_limit(rh_pct: float, slab_c: float, told: str) -> None:
    assert told in judge(Conditions(15.0, rh_pct, slab_c), MILD).reasons


@pytest.mark.parametrize(
    ("slab_c", "expected"),
    [
        (9.9, Verdict.NO_GO),
        (10.0, Verdict.CAUTION),
        (12.0, Verdict.CAUTION),
        (12.5, Verdict.GO),
        (27.0, Verdict.GO),
        (29.0, Verdict.CAUTION),
        (30.1, Verdict.NO_GO),
    ],
)
def test_the_slab_is_held_to_the_sheet(slab_c: float, expected: Verdict) -> None:
    assert judge(Conditions(15.0, 30.0, slab_c), MILD).verdict is expected


def test_a_slab_falling_towards_the_dew_point_is_a_caution_and_says_when() -> None:
    earlier = [Margin(NOON - timedelta(hours=1), 9.0)]
    judged = judge(with_margin(6.0), None, earlier, NOON)
    assert judged.verdict is Verdict.CAUTION
    assert judged.reasons[0] == "slab 6.0 °C over the dew point and falling: 3.0 °C in about 1 h"


@pytest.mark.parametrize(
    "earlier",
    [
        [Margin(NOON - timedelta(hours=1), 6.5)],  # falls slowly: six hours are left
        [Margin(NOON - timedelta(hours=1), 5.0)],  # rises
        [Margin(NOON - timedelta(hours=9), 12.0)],  # long ago
        [],
    ],
)
def test_a_margin_that_holds_is_no_caution(earlier: list[Margin]) -> None:
    assert judge(with_margin(6.0), None, earlier, NOON).verdict is Verdict.GO


def test_the_gravest_reason_stands_first() -> None:
    judged = judge(Conditions(20.0, 90.0, 19.9), MILD)
    assert judged.verdict is Verdict.NO_GO
    assert "over the dew point" in judged.reasons[0]
    assert "humidity 90 % is over the 85 % that is allowed" in judged.reasons[1]
    assert len(judged.reasons) == 3


def test_a_crew_in_fahrenheit_reads_fahrenheit() -> None:
    judged = judge(with_margin(3.5), MILD, units=US_CREW)
    assert any("6.3 °F over the dew point" in reason for reason in judged.reasons)
    assert any("50 °F to 86 °F" in reason for reason in judged.reasons)


conditions = st.builds(
    Conditions,
    air_c=st.floats(-5.0, 45.0),
    rh_pct=st.floats(5.0, 100.0),
    slab_c=st.floats(-5.0, 45.0),
)
_BADNESS = (Verdict.GO, Verdict.CAUTION, Verdict.NO_GO)


@given(conditions)
def test_margin_and_dew_point_agree_with_psychrolib(here: Conditions) -> None:
    # PsychroLib 2.5 (ASHRAE 2017), GetTDewPointFromRelHum; its own iteration stops at 0.001 K
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew_point_c = psychrolib.GetTDewPointFromRelHum(here.air_c, here.rh_pct / 100.0)
    judged: Judgement = judge(here)
    assert judged.dew_point_c == pytest.approx(dew_point_c, abs=0.01)
    assert judged.margin_k == pytest.approx(here.slab_c - dew_point_c, abs=0.01)


@given(conditions, st.floats(0.0, 10.0))
def test_damper_air_never_makes_a_better_verdict(here: Conditions, damper: float) -> None:
    wetter = Conditions(here.air_c, min(100.0, here.rh_pct + damper), here.slab_c)
    assert _BADNESS.index(judge(wetter, MILD).verdict) >= _BADNESS.index(judge(here, MILD).verdict)


@given(conditions)
def test_no_go_exactly_where_a_limit_is_passed(here: Conditions) -> None:
    judged = judge(here, MILD)
    passed = judged.margin_k < 3.0 or here.rh_pct > 85.0 or not 10.0 <= here.slab_c <= 30.0
    assert (judged.verdict is Verdict.NO_GO) == passed


def test_the_margins_of_a_day_hold_the_other_readings() -> None:
    log = Log()
    log.add(0, Reading(air_c=20.0, rh_pct=50.0))
    log.add(10, Reading(slab_c=15.0))
    log.add(60, Reading(slab_c=13.0))
    margins = margins_of(log.standing().readings)
    assert [round(each.margin_k, 1) for each in margins] == [5.7, 3.7]


def test_without_a_slab_nothing_is_said_of_the_dew_margin_but_read_the_slab() -> None:
    judged = judge(Conditions(20.0, 50.0), MILD)
    assert (judged.margin_k, judged.verdict) == (None, Verdict.CAUTION)
    assert judged.reasons[0].startswith("read the slab in its coldest corner")
    assert not any("over the dew point" in reason for reason in judged.reasons)
    assert judge(Conditions(20.0, 95.0), MILD).verdict is Verdict.NO_GO  # the air alone can forbid
