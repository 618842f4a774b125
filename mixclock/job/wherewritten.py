"""Where somebody first wrote an entry that came from another book."""

from __future__ import annotations

from datetime import datetime

from mixclock.job.frozen import FrozenRecord

Stamp = tuple[datetime, int]
"""When an entry was written, counting what its writer knew: see `origins`."""


class Origin(FrozenRecord):
    """Where an entry of another book was first written: that book, its name, and the entry's number there.

    `batch` is the number that the entry's batch has there; people go on using it. An older mixclock kept no stamp of
    the entries that it took over.
    """

    book: str
    van: str
    number: int
    stamp: Stamp | None
    batch: int | None = None
