"""Entries on one clock although somebody set the machine's clock in between.

Each entry carries the wall clock and the boot clock. Within one boot their difference is constant, unless the wall
clock was stepped: a laptop that was off for a winter comes up an hour wrong and is put right when it finds a network.
Resin did not notice. So the entries of a boot are moved onto the wall clock of its last entry, which is the one that
the crew and the daemon look at from then on.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from mixclock.job.entry import Entry

STEP_FROM_S = 0.5
"""A difference of both clocks that moved by more than this is a step; noise was measured at under 0.1 ms."""


def on_one_clock(entries: Sequence[Entry]) -> Sequence[Entry]:
    """The entries with the times of each boot on that boot's last wall clock; the same ones where nobody set it."""
    last = {entry.boot_id: _booted(entry) for entry in entries if entry.boot_id}
    moved = [_moved(entry, last) for entry in entries]
    return entries if all(one is other for one, other in zip(entries, moved, strict=True)) else moved


def _moved(entry: Entry, last: dict[str, datetime]) -> Entry:
    if not entry.boot_id:
        return entry
    by = last[entry.boot_id] - _booted(entry)
    if abs(by.total_seconds()) <= STEP_FROM_S:
        return entry
    return replace(entry, happened=entry.happened + by, written=entry.written + by)


def _booted(entry: Entry) -> datetime:
    """When the boot began by the wall clock of this entry."""
    return entry.written - timedelta(seconds=entry.boot_s)
