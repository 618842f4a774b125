"""The record of a job: one page, CSV files, JSON, the owner's sheet, the page for a claim; and, apart, a reading of it.

`source` is what it is made from, `tables` what stands in it; `page`, `owner` and `csvfiles` write it.
"""

from mixclock.words.record.csvfiles import csv_files
from mixclock.words.record.owner import owner_page
from mixclock.words.record.page import claim_page, reading_page, record_page
from mixclock.words.record.source import Record, SmallCopy
from mixclock.words.record.tables import record_json, record_tables
