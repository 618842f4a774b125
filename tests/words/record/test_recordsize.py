"""How large and how slow a record may be. `python -m tests.bench.record` gives the figures for 1,000 batches."""

from __future__ import annotations

import time

from mixclock.words.record import record_page
from tests.bench.record import LARGEST_BYTES, big_studio


def test_a_job_of_thirty_batches_stays_under_a_megabyte() -> None:
    assert len(record_page(big_studio(30).record()).encode()) < LARGEST_BYTES


def test_seven_times_the_batches_do_not_take_fifty_times_as_long() -> None:
    spent = []
    for batches in (30, 210):
        record = big_studio(batches).record(after_days=50)
        started = time.process_time()
        record_page(record)
        spent.append(time.process_time() - started)
    assert spent[1] < 20.0 * spent[0]
