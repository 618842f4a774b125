"""Puts each reading that a sensor or home hub sends into the log once, and holds back unbelievable ones."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE, Entry, JobStarted, Reading
from mixclock.job.folding import site_of
from mixclock.job.instants import json_text
from mixclock.job.mistakes import did_you_mean, quoted
from mixclock.job.saying import CannotTellError
from mixclock.job.sensorreading import SensorReading, doubt
from mixclock.outside.book import Book
from mixclock.outside.loggers import BEFORE_START, is_by
from mixclock.values import dataclass

LOOKED_BACK = timedelta(hours=24)
AHEAD = timedelta(minutes=2)
"""By how much a sensor's clock may go ahead of this machine's (judgement)."""


@dataclass(frozen=True)
class SensorReport:
    """What became of a reading: its entry, or why it was held back; neither where it was known already."""

    entry: int | None = None
    held_back: str | None = None


def take_sensor(book: Book, job: str, reading: SensorReading, now: datetime) -> SensorReport:
    """Put a sensor's reading into a job's log. Raises `CannotTellError` where this job has no place for it."""
    at = reading.at or now
    said: list[str | None] = []

    def build(entries: Sequence[Entry]) -> Sequence[Draft]:
        said.clear()
        if not entries or not isinstance(entries[0].facts, JobStarted):
            raise CannotTellError(f"no job '{job}' in the book; start one with `mixclock job start FILE`")
        area = _area(reading, entries)
        if not entries[0].happened - BEFORE_START <= at <= now + AHEAD:
            raise CannotTellError(f"{json_text(at)} is not within this job; mend the sensor's clock, or send no `at`")
        found = [(entry.happened, entry.facts) for entry in entries if is_by(entry, reading.sensor)]
        own = sorted(found, key=lambda each: each[0])
        if any(when == at for when, _ in own):
            return ()
        lately = [(when, _said(facts)) for when, facts in own if at - LOOKED_BACK <= when < at]
        why = doubt(reading, at, lately)
        said.append(why)
        return () if why is not None else (Draft(_facts(reading, area), min(at, now)),)

    new = book.append_within(job, build, skip=TOLD_BY_MACHINE)
    return SensorReport(new[0].number if new else None, said[-1] if said else None)


def _area(reading: SensorReading, entries: Sequence[Entry]) -> str | None:
    if reading.area is None:
        return None
    names = [area.name for area in site_of(entries).areas]
    found = next((name for name in names if name.casefold() == reading.area.casefold()), None)
    if found is None:
        raise CannotTellError(f"{quoted(reading.area)} is no area of this job; {did_you_mean(reading.area, names)}")
    return found


def _facts(reading: SensorReading, area: str | None) -> Reading:
    return Reading(air_c=reading.air_c, rh_pct=reading.rh_pct, slab_c=reading.slab_c, area=area, logger=reading.sensor)


def _said(facts: object) -> SensorReading:
    assert isinstance(facts, Reading)
    return SensorReading("", facts.air_c, facts.slab_c)
