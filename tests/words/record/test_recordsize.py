"""How large a record may be. `python -m tests.bench.record` prints how long it takes, for 30 batches and for 1,000."""

from __future__ import annotations

from mixclock.job.steps import RECOAT
from mixclock.words.record import record_page, record_tables
from mixclock.words.record.source import MANY_BATCHES
from tests.bench.record import LARGEST_BYTES, big_studio
from tests.words.record.readers import read_page


def test_a_job_of_thirty_batches_stays_under_a_megabyte() -> None:
    assert len(record_page(big_studio(30).record()).encode()) < LARGEST_BYTES


def test_a_job_of_years_is_told_in_four_kilobytes_a_batch_and_nothing_of_it_is_missing() -> None:
    """A thousand batches in four megabytes can be mailed; each step of each batch stands in the row of its batch."""
    record = big_studio(MANY_BATCHES + 20).record(after_days=50)
    text = record_page(record)
    rows = read_page(text).tables["table-steps"]
    assert len(text.encode()) < 4600 * len(rows)
    assert len(rows) == MANY_BATCHES + 20
    asked = {window.name.replace("-", " ") for window in record.windows if window.name != RECOAT}
    assert asked
    assert asked < rows[0].keys()
    assert rows[0]["pour out"].startswith("9:14 mixer; until 9:")
    assert rows[0]["full cure"].startswith("open; from ")
    steps = next(each for each in record_tables(record) if each.name == "steps")
    assert len(steps.rows) > 8 * len(rows), "other programs get each step by itself"
