"""Never a storm: what a crew hears on a normal day stays within what a person can take in."""

from __future__ import annotations

import pytest

from tests.days.storm import MOST_CALLS, MOST_SPOKEN_S, storm


@pytest.mark.parametrize("days", [3, pytest.param(200, marks=pytest.mark.long)])
def test_on_normal_days_a_person_is_called_at_most_twice_in_ten_minutes(days: int) -> None:
    calls = storm(range(days // 2))
    assert calls.firsts > days, "a day without calls shows nothing"
    assert calls.percentile_95() <= MOST_CALLS
    assert calls.window_percentile_95() <= MOST_CALLS
    assert calls.idle == 0, "no critical call asks for a step that was stated"
    assert 0 < calls.spoken_s / calls.at_work_h < MOST_SPOKEN_S
