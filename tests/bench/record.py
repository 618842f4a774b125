"""How long the record takes, and how large its page is: `python -m tests.bench.record`.

Limits: a job of 30 batches stays under 1 MB; a job of 1,000 batches takes under 5 s.
"""

from __future__ import annotations

import random
import time

from mixclock.job.entry import Found
from mixclock.words.record import csv_files, record_json, record_page, record_tables
from tests.words.record.studio import Studio

LARGEST_BYTES = 1_000_000
LONGEST_S = 5.0


def big_studio(batches: int) -> Studio:
    """A job of so many batches, one on each bay, over as many days as it takes, with readings on the hour."""
    areas = "".join(
        f'[[areas]]\nname = "bay {index}"\nsize = "9 m2"\norder = {index}\n' for index in range(1, batches + 1)
    )
    site = (
        f'name = "Long studio"\nzone = "Europe/Lisbon"\n{areas}[[crew]]\nname = "mixer"\n[[crew]]\nname = "roller"\n'
        '[[coats]]\nname = "base"\nproduct = "Slow epoxy base"\nwet_film = "300 um"\nflake = "0.4 kg/m2"\n'
    )
    studio, rng = Studio(site), random.Random(7)
    for index in range(batches):
        day, slot = divmod(index, 12)
        at = day * 1440.0 + slot * 40.0
        if slot % 2 == 0:
            air_c = round(17.0 + 4.0 * slot / 12.0 + rng.gauss(0.0, 0.5), 1)
            studio.air(at, round(air_c - 1.0, 1), air_c=air_c, rh_pct=round(rng.uniform(45.0, 65.0)))
        studio.batch(index + 1, f"bay {index + 1}", at + 5.0, poured=round(rng.uniform(9.0, 15.0), 1))
    studio.add((batches // 12 + 3) * 1440.0, Found("bay 3", "dull"))
    return studio


def measure(batches: int) -> tuple[float, float, int]:
    """Seconds for the page, seconds for the tables as CSV and JSON, and bytes of the page."""
    record = big_studio(batches).record(after_days=batches / 12 + 5)
    started = time.perf_counter()
    size = len(record_page(record).encode())
    page_s = time.perf_counter() - started
    tables = record_tables(record)
    csv_files(tables, record.zone)
    record_json("long", record.at, tables)
    return page_s, time.perf_counter() - started - page_s, size


if __name__ == "__main__":
    for count in (30, 1000):
        page_s, tables_s, size = measure(count)
        print(f"{count:>5} batches: page {page_s:.2f} s, CSV and JSON {tables_s:.2f} s, page {size / 1e6:.2f} MB")
