"""What opens later, for the page: a time, or a likely time where the hour is unsure, or why there is no date yet.

Pure: from the windows of `now --json` to the rows that the page draws.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from mixclock.job.steps import row_of
from mixclock.words.stepwords import words_of
from mixclock.words.unsurewindows import is_unsure, no_date_of

Json = Mapping[str, Any]

_COMING_AT_MOST = 12


def coming(snapshot: Json, now: datetime) -> list[dict[str, Any]]:
    """What opens later, soonest first: by area where the snapshot sums it up, else by batch. Undated rows are last."""
    instant = now.strftime("%Y-%m-%dT%H:%M:%S")
    found = [opening(window, area["name"]) for area in snapshot.get("areas", ()) for window in area.get("windows", ())]
    found += [opening(window, f"batch {batch['id']}") for batch in snapshot.get("batches", ())
              for window in batch.get("windows", ()) if not row_of(window["name"]).per_area]  # fmt: skip
    due = [each for each in found if each and (each["at"] is None or each["at"] > instant)]
    return sorted(due, key=when)[:_COMING_AT_MOST]


def waits(batch: Json) -> dict[str, Any] | None:
    """What the batch waits for that nobody can do yet."""
    found = [opening(window, "") for window in batch.get("windows", ()) if row_of(window["name"]).is_stated]
    return min((each for each in found if each), key=when, default=None)


def opening(window: Json, where: str) -> dict[str, Any] | None:
    """When a window opens: `at` its safe edge. Where the hour is unsure, `at` its likely edge, with `until`.

    `at` is None, and `no_date` says why, where the slab is too cold for any date.
    """
    if row_of(window["name"]).opens_as is None or window.get("state") in ("done", "missed", "closed"):
        return None
    row = {"do": words_of(window["name"]).do, "where": where}
    edge, reason = window.get("opens"), no_date_of(window)
    if edge is None:
        return {**row, "at": None, "no_date": reason} if reason else None
    if is_unsure(window):
        return {**row, "at": edge["likely"], "unsure": True, "until": window["closes"]["likely"]}
    return {**row, "at": edge.get("late") or edge["likely"]}


def when(row: Json) -> str:
    """What rows are sorted by: a time, and after all times what has none."""
    return str(row["at"] or "9999")
