"""Tables of the day around the buckets: rounds with what nobody answered, interruptions, and later visits."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from mixclock.decide.hours import local
from mixclock.job.dayentries import Answered, BackAtWork, KitAsked, Settled, StoppedWork, Visited
from mixclock.job.entry import Entry
from mixclock.job.rounds import RoundName, items_of
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table
from mixclock.words.rounds import EVERY_DAY, NOT_RECORDED
from mixclock.words.saidback import said_back


def round_table(record: Record) -> RecordTable:
    """Every question of every round that was begun, with its answer; what nobody answered is not recorded."""
    columns = [
        Column("round", "round"),
        Column("day", "day"),
        Column("item", "question"),
        Column("answer", "answer"),
        Column("fine", "as it should be"),
        Column("at", "at"),
        Column("area", "area"),
        Column("by", "by"),
    ]
    return table(
        "rounds",
        "Ready, evening, morning",
        columns,
        _rows(record),
        must=("answer",),
        empty="No round was gone through: whether the slab was tested and the floor was ready is not recorded.",
        intro="A question that nobody answered stands as not recorded.",
    )


def _rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    site = record.standing.site
    found: dict[tuple[date, str], dict[str, Entry]] = {}
    for entry in record.case.live:
        if isinstance(entry.facts, Answered):
            day = local(site, entry.happened).date()
            found.setdefault((day, entry.facts.round), {})[entry.facts.item] = entry
    if not any(name == RoundName.READY for _, name in found):
        yield RoundName.READY.value, None, "all of it", NOT_RECORDED, None, None, None, None
    flake = any(coat.flake_kg_m2 for coat in site.coats)
    texture = any(coat.grit_g_l for coat in site.coats)
    seen_ready = False
    for (day, name), answers in found.items():
        asked = [item.name for item in items_of(RoundName(name), flake, texture)]
        if name == RoundName.READY and seen_ready:  # what is tested once a job is asked once
            asked = [item for item in asked if item in EVERY_DAY or item in answers]
        seen_ready = seen_ready or name == RoundName.READY
        for item in (*asked, *(each for each in answers if each not in asked)):
            yield (name, f"{day:%a} {day.day} {day:%b}", item, *_cells(answers.get(item)))


def _cells(entry: Entry | None) -> tuple[Cell, ...]:
    if entry is None or not isinstance(entry.facts, Answered):
        return NOT_RECORDED, None, None, None, None
    facts = entry.facts
    fine = {True: "yes", False: "no", None: "to be judged"}[facts.fine]
    return facts.answer, fine, entry.happened, facts.area or "whole floor", entry.by


def day_table(record: Record) -> RecordTable:
    """Questions of the next kit, interruptions, call-backs and what was put right."""
    columns = [Column("at", "at"), Column("what", "what happened"), Column("by", "by")]
    kinds = (KitAsked, StoppedWork, BackAtWork, Visited, Settled)
    rows = ((entry.happened, _told(record, entry), entry.by) for entry in record.case.live
            if isinstance(entry.facts, kinds))  # fmt: skip
    return table("day", "The next kit, interruptions, call-backs", columns, rows, empty="Nothing of that was stated.")


def _told(record: Record, entry: Entry) -> str:
    facts = entry.facts
    return f"Next kit? {facts.said}" if isinstance(facts, KitAsked) else said_back(entry, record.standing, record.at)
