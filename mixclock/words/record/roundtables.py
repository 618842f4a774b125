"""Tables of the day around the buckets: rounds with what nobody answered, interruptions, and later visits."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

from mixclock.decide.hours import local
from mixclock.job.dayentries import Answered, BackAtWork, KitAsked, Settled, StoppedWork, Visited
from mixclock.job.entry import Entry
from mixclock.job.rounds import RoundName, items_of
from mixclock.units import write_day
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table
from mixclock.words.rounds import EVERY_DAY, NOT_RECORDED, answered_by_statement


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
            yield (name, _day(day, record), item, *_cells(answers.get(item) or _stated(record, name, item, day)))
    yield from _left_out(record, found)


def _day(day: date, record: Record) -> str:
    return write_day(day, record.zone)


def _stated(record: Record, name: str, item: str, day: date) -> Entry | None:
    """The statements that answer a day's question unasked: the floor was scraped, slab and air were read."""
    when = [entry for entry in record.case.live if local(record.standing.site, entry.happened).date() == day]
    return answered_by_statement(RoundName(name), item, when)


def _left_out(record: Record, found: Mapping[tuple[date, str], object]) -> Iterator[tuple[Cell, ...]]:
    """The evening rounds that nobody went through after a coat. A morning round is missed only if a coat follows."""
    site = record.standing.site
    poured = {local(site, portion.poured.at).date() for batch in record.standing.batches
              for portion in batch.portions}  # fmt: skip
    for day in sorted(poured):
        if (day, RoundName.EVENING.value) not in found:
            yield RoundName.EVENING.value, _day(day, record), "all of it", NOT_RECORDED, None, None, None, None


def _cells(entry: Entry | None) -> tuple[Cell, ...]:
    if entry is None:
        return NOT_RECORDED, None, None, None, None
    facts = entry.facts
    if not isinstance(facts, Answered):
        return "stated", "yes", entry.happened, "whole floor", entry.by
    fine = {True: "yes", False: "no", None: "to be judged"}[facts.fine]
    return facts.answer, fine, entry.happened, facts.area or "whole floor", entry.by


def day_table(record: Record) -> RecordTable:
    """Questions of the next kit, interruptions, call-backs and what was put right."""
    columns = [Column("at", "at"), Column("what", "what happened"), Column("by", "by")]
    kinds = (KitAsked, StoppedWork, BackAtWork, Visited, Settled)
    rows = ((entry.happened, _told(entry), entry.by) for entry in record.case.live
            if isinstance(entry.facts, kinds))  # fmt: skip
    return table("day", "The next kit, interruptions, call-backs", columns, rows, empty="Nothing of that was stated.")


def _told(entry: Entry) -> str:
    """Without the hour, which has a column of its own."""
    facts = entry.facts
    if isinstance(facts, KitAsked):
        return f"Next kit? {facts.said}"
    if isinstance(facts, Settled):
        return f"Put right on {facts.area}: {facts.how}"
    if isinstance(facts, BackAtWork):
        return "Back"
    what = "Called away" if isinstance(facts, StoppedWork) else "Call-back begun"
    return f"{what}: {facts.why}" if isinstance(facts, StoppedWork | Visited) and facts.why else what
