"""What a crew must know of the log itself before it trusts a deadline."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.entry import Entry, Unreadable
from mixclock.job.progress import Standing
from mixclock.job.steppedclock import LogTime

_UNKNOWN = "The clock is behind the log: time unknown, check the floor. Every open deadline counts as due. "
CLOCK_BEHIND = f"{_UNKNOWN}Set the machine's clock; if it is right already: mixclock book clock-is-right"
LOG_AHEAD = (
    f"{_UNKNOWN}The network set this clock, so the log ran ahead of it: withdraw what still runs, state it again with "
    "--at, then say mixclock book clock-is-right"
)
SETTINGS_WRONG = "Some settings can't be followed; the watch runs without them. {wrong}"
DRAWERS_DAMAGED = "What the book kept beside its log is damaged and does not count: {what}. Say it again"
MOST_NAMED = 4


def trouble_lines(standing: Standing, time: LogTime, missing: int = 0) -> list[str]:
    """Each trouble of a job's log in one line; `missing` counts entries that the book no longer holds."""
    unreadable = [entry for entry in standing.entries if isinstance(entry.facts, Unreadable)]
    lines = [unreadable_line(unreadable)] if unreadable else []
    lines += [missing_line(missing)] if missing else []
    return [CLOCK_BEHIND, *lines] if time.is_doubted else lines


def missing_line(count: int) -> str:
    """How many entries are gone, and what to do about it."""
    gone = "One entry of this job is gone" if count == 1 else f"{count} entries of this job are gone"
    return f"{gone} from the book: check the floor. mixclock book restore looks for a copy"


def unreadable_line(entries: Sequence[Entry]) -> str:
    """Which entries cannot be read, and what to do about it."""
    named = ", ".join(_named(entry) for entry in entries[:MOST_NAMED])
    more = f" and {len(entries) - MOST_NAMED} more" if len(entries) > MOST_NAMED else ""
    verb = "cannot be read and does not count" if len(entries) == 1 else "cannot be read and do not count"
    word = "Entry" if len(entries) == 1 else "Entries"
    return f"{word} {named}{more} {verb}: check the floor, state it again. mixclock book restore looks for a copy"


def _named(entry: Entry) -> str:
    facts = entry.facts
    was = facts.was if isinstance(facts, Unreadable) else facts.kind
    return f"{entry.number} ({was or 'of a kind unknown'})"
