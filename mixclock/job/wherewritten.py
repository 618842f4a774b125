"""Where an entry that came from another book was first written."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.frozen import FrozenRecord

Stamp = tuple[datetime, int]
"""When an entry was written, by what its writer knew: see `origins`."""


class Origin(FrozenRecord):
    """Where an entry of another book was first written: that book, what it is called, and the entry's number there.

    `batch` is the number of the batch that the entry began there: people go on calling it so. An older mixclock kept no
    stamp of what it took over.
    """

    book: str
    van: str
    number: int
    stamp: Stamp | None
    batch: int | None = None
