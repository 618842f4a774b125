"""Tables of the log itself: readings, alerts, findings, notes, pictures, and every statement with what withdrew it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from mixclock.decide.why.symptoms import SOUND
from mixclock.formulas.air import dew_margin_k, dew_point_c
from mixclock.job.dayentries import Answered, KitAsked, Settled
from mixclock.job.entry import (
    TOLD_BY_MACHINE,
    Delivered,
    Entry,
    ForecastTaken,
    Found,
    JobMended,
    JobStarted,
    Measured,
    Noted,
    PhotoTaken,
    ProfileUsed,
    Raised,
    Reading,
    Traffic,
    Withdrawn,
)
from mixclock.job.progress import Raising
from mixclock.units import CrewUnits
from mixclock.words.fieldwords import field_label, field_value
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table
from mixclock.words.saidback import measured_words

LATE_FROM_S = 5.0
"""From here on an alert counts as late: two seconds are promised, and a second or two go in sending (judgement)."""


def reading_table(record: Record) -> RecordTable:
    """Every reading, with the dew point and margin that go with it."""
    columns = [Column("at", "at"), Column("area", "area"), Column("air_c", "air"), Column("rh_pct", "humidity", 0),
               Column("slab_c", "slab"), Column("bucket_c", "bucket"), Column("batch", "batch", 0),
               Column("dew_point_c", "dew point"), Column("margin_k", "dew margin"), Column("by", "by")]  # fmt: skip
    rows = (_reading_row(record, entry) for entry in record.standing.readings.entries)
    return table("readings", "Readings", columns, rows, empty="Nobody took a reading.",
                 intro="Dew point and margin are given where the same reading holds air, humidity and slab, "
                 "or where others within half an hour do.")  # fmt: skip


def _reading_row(record: Record, entry: Entry) -> tuple[Cell, ...]:
    reading = entry.facts
    assert isinstance(reading, Reading)
    dew, margin = _dew(record, entry.happened, reading)
    return (
        entry.happened,
        reading.area or "whole floor",
        reading.air_c,
        reading.rh_pct,
        reading.slab_c,
        reading.bucket_c,
        reading.batch,
        dew,
        margin,
        reading.logger or entry.by,
    )


def _dew(record: Record, at: datetime, reading: Reading) -> tuple[float | None, float | None]:
    air = _near(record, "air", reading.area, at, reading.air_c)
    damp = _near(record, "humidity", reading.area, at, reading.rh_pct)
    if air is None or damp is None or reading.bucket_c is not None:
        return None, None
    dew = dew_point_c(air, damp)
    slab = (
        _near(record, "slab", reading.area, at, reading.slab_c) if reading.area or reading.slab_c is not None else None
    )
    return dew, dew_margin_k(air, damp, slab) if slab is not None else None


def _near(record: Record, what: str, area: str | None, at: datetime, own: float | None) -> float | None:
    """The reading's own value, else the nearest within half an hour."""
    if own is not None:
        return own
    nearest = record.case.samples(what, area).nearest(at)
    return nearest.value if nearest is not None and abs((nearest.at - at).total_seconds()) <= 1800.0 else None


def measurement_table(record: Record) -> RecordTable:
    """What was measured on the floor."""
    columns = [Column("at", "at"), Column("area", "area"), Column("batch", "batch", 0), Column("quantity", "what"),
               Column("measured", "measured"), Column("value", "value", 2, page=False),
               Column("unit", "unit", page=False), Column("by", "by")]  # fmt: skip
    rows = (
        (entry.happened, facts.area or "whole floor", facts.batch, facts.quantity, measured_words(facts, record.units),
         facts.value, {"pct": "%", "um": "µm", "g_m2_d": "g/m² a day"}.get(facts.unit, facts.unit), entry.by)
        for entry in record.case.live
        if isinstance(facts := entry.facts, Measured)
    )  # fmt: skip
    return table("measurements", "Measurements", columns, rows, empty="Nothing was measured.")


def alert_table(record: Record) -> RecordTable:
    """Every alert: when it was due and raised, how it was delivered, who heard it."""
    columns = [Column("alert", "alert"), Column("rank", "rank"), Column("stage", "stage"), Column("batch", "batch", 0),
               Column("area", "area"), Column("due_at", "due at"), Column("raised_at", "raised at"),
               Column("late_s", "late by, s", 0), Column("in_time", "in time"), Column("repeat", "repeat", 0),
               Column("delivered", "delivered"), Column("heard_by", "heard by"), Column("heard_at", "heard at"),
               Column("text", "what was said")]  # fmt: skip
    rows = (_alert_row(raising) for raising in record.standing.raisings)
    return table(
        "alerts",
        "Prompts",
        columns,
        rows,
        must=("delivered", "heard_by"),
        empty="No alert was raised.",
        intro="A prompt is set early on purpose: the sheet's own figure stands under the clock of each step. "
        f"One that was raised more than {LATE_FROM_S:.0f} s after it fell due is late.",
    )


def _alert_row(raising: Raising) -> tuple[Cell, ...]:
    facts = raising.entry.facts
    assert isinstance(facts, Raised)
    due = datetime.fromisoformat(facts.due.replace("Z", "+00:00")) if facts.due else None
    late = facts.late_s if facts.late_s is not None else _late_s(due, raising.entry.happened)
    in_time = "late" if late is not None and late > LATE_FROM_S and not facts.repeat else "yes"
    heard = raising.heard
    return (facts.alert, facts.rank, facts.stage, facts.batch, facts.area, due, raising.entry.happened, late, in_time,
            facts.repeat or None, _deliveries(raising), (heard.by or "somebody") if heard else None,
            heard.happened if heard else None, facts.text)  # fmt: skip


def _late_s(due: datetime | None, raised: datetime) -> float | None:
    return max(0.0, (raised - due).total_seconds()) if due is not None else None


def _deliveries(raising: Raising) -> str | None:
    said = []
    for entry in raising.deliveries:
        facts = entry.facts
        assert isinstance(facts, Delivered)
        detail = f" ({facts.detail})" if facts.detail else ""
        said.append(f"{facts.channel}: {facts.outcome}{', shown' if facts.shown else ''}{detail}")
    return "; ".join(said) or None


def finding_table(record: Record) -> RecordTable:
    """What was found faulty."""
    columns = [Column("at", "found at"), Column("area", "area"), Column("symptom", "symptom"), Column("shape", "shape"),
               Column("by", "by"), Column("note", "note"), Column("put_right", "put right"),
               Column("how", "how")]  # fmt: skip
    settled = {entry.facts.finding: entry for entry in record.case.live if isinstance(entry.facts, Settled)}
    rows = (
        (
            entry.happened,
            facts.area,
            facts.symptom,
            facts.shape if facts.symptom != SOUND else "–",
            entry.by,
            entry.note,
            *_put_right(facts, settled.get(entry.number)),
        )
        for entry in record.case.live
        if isinstance(facts := entry.facts, Found)
    )
    return table("findings", "Findings", columns, rows, must=("shape", "put_right", "how"), empty="No fault was found.")


def _put_right(facts: Found, settled: Entry | None) -> tuple[Cell, ...]:
    """When and how a fault was put right; empty for an area that was found sound."""
    if settled is None or not isinstance(settled.facts, Settled):
        return ("–", "–") if facts.symptom == SOUND else (None, None)
    return settled.happened, settled.facts.how


def note_table(record: Record) -> RecordTable:
    """Notes and traffic, in the order in which they happened."""
    columns = [Column("at", "at"), Column("where", "where"), Column("text", "what"), Column("by", "by")]
    return table("notes", "Notes and traffic", columns, _note_rows(record), empty="Nothing was noted.")


def _note_rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    for entry in record.case.live:
        facts = entry.facts
        if isinstance(facts, Noted):
            where = facts.area or (f"batch {facts.batch}" if facts.batch is not None else "whole floor")
            yield entry.happened, where, facts.text, entry.by
        elif isinstance(facts, Traffic):
            yield entry.happened, facts.area, f"{facts.by_what} traffic", entry.by


def photo_table(record: Record) -> RecordTable:
    """Pictures with the hash of their original."""
    columns = [Column("at", "taken at"), Column("name", "file"), Column("where", "where"), Column("by", "by"),
               Column("sha256", "SHA-256 of the original")]  # fmt: skip
    rows = (
        (
            entry.happened,
            facts.name,
            facts.area or (f"batch {facts.batch}" if facts.batch is not None else "whole floor"),
            entry.by,
            facts.sha256,
        )
        for entry in record.case.live
        if isinstance(facts := entry.facts, PhotoTaken)
    )
    return table("photos", "Pictures", columns, rows, empty="No picture was taken.")


def statement_table(record: Record) -> RecordTable:
    """The whole log of what people stated, withdrawn statements with it."""
    return _statements(
        record, record.standing.entries, "A statement that was withdrawn stays here and counts nowhere else."
    )


def statement_page_table(record: Record) -> RecordTable:
    """The same without the readings that count, which have a table of their own on the page."""
    gone = record.standing.withdrawn
    kept = [entry for entry in record.standing.entries if entry.number in gone or not isinstance(entry.facts, Reading)]
    intro = "Readings stand above. A statement that was withdrawn stays here and counts nowhere else."
    if not record.is_long:
        return _statements(record, kept, intro)
    at_once = " Where nothing stands under “written”, it was written down in the minute in which it happened."
    return _statements(record, kept, intro + at_once, lambda entry: None if _was_at_once(entry) else entry.written)


def _was_at_once(entry: Entry) -> bool:
    return entry.happened.replace(second=0, microsecond=0) == entry.written.replace(second=0, microsecond=0)


def _statements(
    record: Record,
    entries: Iterable[Entry],
    intro: str,
    written: Callable[[Entry], datetime | None] = attrgetter("written"),
) -> RecordTable:
    columns = [
        Column("entry", "no.", 0),
        Column("at", "happened"),
        Column("written", "written"),
        Column("kind", "kind"),
        Column("what", "what"),
        Column("by", "by"),
        Column("note", "note"),
        Column("withdrawn", "withdrawn"),
    ]
    withdrawn_by, units = _withdrawn_by(record), record.units
    rows = (
        (entry.number, entry.happened, written(entry), entry.facts.kind, _what(entry, units), entry.by, entry.note,
         _withdrawal(record, entry, withdrawn_by))
        for entry in entries
        if entry.facts.kind not in TOLD_BY_MACHINE
    )  # fmt: skip
    return table("statements", "Every statement", columns, rows,
                 intro=intro)  # fmt: skip


def _withdrawn_by(record: Record) -> Mapping[int, Entry]:
    return {
        entry.facts.entry: entry
        for entry in record.standing.entries
        if isinstance(entry.facts, Withdrawn) and entry.number not in record.standing.withdrawn
    }


def _withdrawal(record: Record, entry: Entry, withdrawn_by: Mapping[int, Entry]) -> str | None:
    if entry.number not in record.standing.withdrawn:
        return None
    by = withdrawn_by.get(entry.number)
    if by is None:
        return "fell with its batch"
    return f"withdrawn {record.clock(by.happened)}{f' by {by.by}' if by.by else ''} (no. {by.number})"


def _what(entry: Entry, units: CrewUnits) -> str:
    """The facts of an entry in one line; whole texts of files are named, not repeated."""
    facts = entry.facts
    if isinstance(facts, Measured):
        where = [f"area {facts.area}"] if facts.area else [f"batch {facts.batch}"] if facts.batch is not None else []
        return "; ".join([f"{facts.quantity} {measured_words(facts, units)}", *where])
    own = _OWN_WORDS.get(type(facts))
    if own is not None:
        return own(facts)
    told = ((name, getattr(facts, name)) for name in facts.fields)
    return "; ".join(
        f"{field_label(name)} {field_value(name, value, units)}"
        for name, value in told
        if value not in (None, (), "", False)
    )


def _answered(facts: Any) -> str:
    fine = {True: "as it should be", False: "not as it should be", None: ""}[facts.fine]
    return "; ".join(filter(None, (f"{facts.round}, {facts.item}: {facts.answer}", fine, facts.area)))


def _forecast(facts: Any) -> str:
    slab = f"; slab {facts.slab_by}" if facts.slab_by else ""
    return f"expected by {facts.source}: {len(facts.at)} hours from {facts.at[0][:16]} UTC{slab}"


_OWN_WORDS: Mapping[type, Callable[[Any], str]] = MappingProxyType(
    {
        JobStarted: lambda facts: f"the job “{facts.name}”{f' from {facts.origin}' if facts.origin else ''}",
        JobMended: lambda facts: f"the file {facts.origin or 'of the job'}: {'; '.join(facts.changed)}",
        ProfileUsed: lambda facts: f"{facts.product}{f' from {facts.origin}' if facts.origin else ''}",
        ForecastTaken: _forecast,
        Answered: _answered,
        KitAsked: lambda facts: f"may the next kit be opened? {facts.said}",
    }
)
"""What is told in words of its own; all else field by field."""
