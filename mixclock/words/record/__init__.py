"""The record of a job: one page, CSV files, JSON, and the owner's sheet.

`source` is what it is made from, `tables` what stands in it; `page`, `csvfiles`, `asjson` and `owner` write it.
"""

from mixclock.words.record.asjson import record_json
from mixclock.words.record.csvfiles import csv_files
from mixclock.words.record.owner import owner_page
from mixclock.words.record.page import record_page
from mixclock.words.record.source import Record, SmallCopy
from mixclock.words.record.tables import record_tables

__all__ = ["Record", "SmallCopy", "csv_files", "owner_page", "record_json", "record_page", "record_tables"]
