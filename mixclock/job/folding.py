"""Folds the log's entries into the job as it stands.

`at` asks what had happened by an instant, and `known` what had been written by one. A withdrawal is a correction, not
an event. So a mistake stays out of the past as well, unless nobody had noticed it by `known`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cache, partial
from types import MappingProxyType

from mixclock.job.batchbuilding import BatchBuilder
from mixclock.job.entry import (
    Delivered,
    Entry,
    ForecastTaken,
    Heard,
    JobMended,
    JobStarted,
    Raised,
    Reading,
    Unreadable,
    Withdrawn,
)
from mixclock.job.forecasts import expected
from mixclock.job.origins import batch_numbers, begins_batch, in_one_order
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.raisings import raisings_of
from mixclock.job.readings import OlderReadings, Readings, readings_of
from mixclock.job.site import Site
from mixclock.job.sitereading import read_site
from mixclock.job.steppedclock import on_one_clock
from mixclock.values import replace

_CHANGES_WHAT_WAS = (
    *(Withdrawn, JobStarted, JobMended, ForecastTaken, Unreadable),
    *(Raised, Delivered, Heard),
)
"""Entries after which the whole log is folded anew. Alerts have a log of their own (`RaisingLog`)."""

cached_site = cache(partial(read_site, needs_film=lambda _: False))
"""Read the job from a text in the log. Whether it names all films was checked when the text came in."""


def fold(
    job: str,
    entries: Sequence[Entry],
    shelf: Mapping[str, Profile] | None = None,
    at: datetime | None = None,
    known: datetime | None = None,
) -> Standing:
    """The job as it stands: what had happened `at` an instant, by what was `known` at another.

    `shelf` holds profiles by casefolded name for products that no batch has used yet. If somebody set the machine's
    clock in between, earlier entries are moved onto the present clock.
    """
    return Folding(job, entries, shelf, at, known).standing


class Folding:
    """A log that is folded as it grows. The result is the same as that of `fold` on the whole log."""

    def __init__(
        self,
        job: str,
        entries: Sequence[Entry],
        shelf: Mapping[str, Profile] | None = None,
        at: datetime | None = None,
        known: datetime | None = None,
    ) -> None:
        """Fold the entries so far; the arguments are those of `fold`."""
        ordered = on_one_clock(in_one_order(entries))
        written = [entry for entry in ordered if known is None or entry.written <= known]
        self._withdrawn = _withdrawn(written)
        seen = [entry for entry in written if at is None or entry.happened <= at]
        site = _site_of(written, self._withdrawn)
        if forecasts := [entry for entry in seen if isinstance(entry.facts, ForecastTaken)]:
            counting = (entry for entry in forecasts if entry.number not in self._withdrawn)
            site = replace(site, forecast=expected(site.forecast, counting))
        self._builder = BatchBuilder(site=site, profiles=dict(shelf or {}), numbers=batch_numbers(entries))
        shown = {entry.number for entry in seen}
        for entry in written:
            self._builder.take(entry, counts=entry.number in shown and entry.number not in self._withdrawn)
        self._grows = ordered is entries and at is None and known is None
        self.standing = _standing(job, self._builder, seen, self._withdrawn)

    def recall(self, past: OlderReadings) -> None:
        """Note what is known of readings before those that were folded: these are only the last ones."""
        readings = Readings(self.standing.readings.entries, past)
        self.standing = replace(self.standing, readings=readings)

    def goes_on(self, new: Sequence[Entry]) -> bool:
        """Whether these new entries can simply be added, because they change nothing before them."""
        return self._grows and all(
            entry.origin is None and not isinstance(entry.facts, _CHANGES_WHAT_WAS) for entry in new
        )

    def take(self, new: Sequence[Entry]) -> Standing:
        """Add entries for which `goes_on` is true, and return the job as it then stands."""
        before = self.standing
        for entry in new:
            if begins_batch(entry):
                self._builder.numbers[entry.number] = len(self._builder.numbers) + 1
            self._builder.take(entry, counts=True)
        seen = [*before.entries, *new]
        self.standing = _standing(before.job, self._builder, seen, self._withdrawn, before)
        return self.standing


def _standing(
    job: str, builder: BatchBuilder, seen: Sequence[Entry], withdrawn: set[int], before: Standing | None = None
) -> Standing:
    """The standing so far. If no readings or sheets came since, it shares those of `before`."""
    gone = withdrawn | builder.fallen
    if before is None:
        live = [entry for entry in seen if entry.number not in gone]
        readings, raisings = readings_of(live), tuple(raisings_of(live))
    else:
        new = [entry for entry in seen[len(before.entries) :] if entry.number not in gone]
        more = any(isinstance(entry.facts, Reading) for entry in new)
        readings = _with_more(before.readings, new) if more else before.readings
        raisings = before.raisings
    return Standing(
        job=job,
        site=builder.site,
        profiles=MappingProxyType(dict(builder.profiles)),
        profile_texts=MappingProxyType(dict(builder.texts)),
        batches=tuple(builder.finished_batches()),
        readings=readings,
        entries=tuple(seen),
        withdrawn=frozenset(gone),
        factors=MappingProxyType(dict(builder.factors.get("", {}))),
        cups=MappingProxyType(dict(builder.cups.get("", {}))),
        raisings=raisings,
        finished=builder.finished,
    )


def _with_more(before: Readings, new: Sequence[Entry]) -> Readings:
    return Readings(readings_of((*before.entries, *new)).entries, before.past)


def _withdrawn(entries: Sequence[Entry]) -> set[int]:
    """Entries that a later one withdrew. Withdrawing a withdrawal restores what it withdrew."""
    gone: set[int] = set()
    for entry in reversed(entries):
        if isinstance(entry.facts, Withdrawn) and entry.number not in gone:
            gone.add(entry.facts.entry)
    return gone


def site_of(entries: Sequence[Entry]) -> Site:
    """The floor, the crew and the coats, by the job file that the job began with or that last replaced it."""
    ordered = in_one_order(entries)
    return _site_of(ordered, _withdrawn(ordered))


def _site_of(entries: Sequence[Entry], withdrawn: set[int]) -> Site:
    """A mended file is a correction. Like a withdrawal it holds for the past too, unless it was written after
    `known`."""
    files = [entry.facts.text for entry in entries
             if isinstance(entry.facts, JobStarted | JobMended) and entry.number not in withdrawn]  # fmt: skip
    if files:
        return cached_site(files[-1])
    if not entries:
        raise ValueError("this log does not begin with the start of a job")
    return Site(entries[0].job, "UTC", (), ())  # the job file is lost, but its buckets must still be called out
