"""Never a storm: what a crew hears on a normal day stays within what a person can take in."""

from __future__ import annotations

import os

from tests.days.storm import MOST_CALLS, storm

DAYS = int(os.environ.get("MIXCLOCK_DAYS", "30"))
"""`MIXCLOCK_DAYS=200 pytest tests/days/test_storm.py` for the whole figure; here fewer, for the sake of time."""


def test_on_normal_days_a_person_is_called_at_most_twice_in_ten_minutes() -> None:
    calls = storm(range(DAYS // 2))
    assert calls.firsts > DAYS, "a day without calls shows nothing"
    assert calls.percentile_95() <= MOST_CALLS
    assert calls.window_percentile_95() <= MOST_CALLS
