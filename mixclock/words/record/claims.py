"""What an owner or a supplier asks for in a claim, and whether the record holds it.

The list is that of published advice on documenting floor failures and of daily logs in public specifications
(UFGS 09 67; 'Documenting Floor Failures'), with what installers keep besides (common practice, no source). An item is
only held where somebody made a statement of that very kind: free words certify nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from mixclock.decide.why.case import clock_text
from mixclock.decide.why.layers import Layer
from mixclock.decide.why.quantities.air import is_covered
from mixclock.job.entry import Entry, Found, Measured, Noted, PhotoTaken, Traffic
from mixclock.job.progress import Batch, mixing_span_told
from mixclock.job.readings import Sample
from mixclock.job.steps import BACK_ROLL, BROADCAST
from mixclock.job.ticks import Tick
from mixclock.job.tradefacts import (
    CARE_SHEET,
    EXPIRY,
    EXTRAS,
    HEATER,
    KEEP_OUT,
    KEPT,
    MIXER_SPEED,
    PREPARATION,
    RELEASED,
    SAMPLE,
    SLAB_TESTS,
    TOLD,
)
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table
from mixclock.words.rounds import NOT_RECORDED

RECORDED, IN_PART = "recorded", "in part"

Row = tuple[Cell, ...]


def claim_table(record: Record) -> RecordTable:
    """Each item of a claim, and what the record holds of it."""
    columns = [
        Column("item", "what is asked for"),
        Column("held", "in this record"),
        Column("detail", "how much of it"),
    ]
    return table("claim", "For a claim", columns, _rows(record),
                 intro="What owners and suppliers ask for when a floor has failed. Only a statement of that very kind "
                 f"counts; “{NOT_RECORDED}” means that nobody made one.")  # fmt: skip


def _rows(record: Record) -> Iterator[Row]:
    batches = record.standing.batches
    yield from (_ticked(record, item, tick) for item, tick in _BEFORE)
    yield from _conditions(record)
    yield from (_measured(record, item, quantity) for item, quantity in _MEASURED)
    yield _of_batches("material temperature", batches, lambda batch: batch.material_c is not None)
    yield _of_batches("lots of A and of B", batches, _lots_known)
    yield _ticked(record, "expiry dates", EXPIRY)
    yield _of_batches("quantities of A and B", batches, _parts_known)
    yield _of_batches("start of mixing", batches, lambda _: True)
    written = {entry.number: entry for entry in record.standing.entries}
    yield _of_batches(
        "end of mixing",
        batches,
        lambda batch: batch.mixing_stated or mixing_span_told(written.get(batch.combined.entry)),
    )
    yield _ticked(record, "mixer speed", MIXER_SPEED)
    yield from _steps(record, batches)
    yield _of_batches("size covered by each pour", batches, _film_known)
    yield from (_ticked(record, item, tick) for item, tick in _AFTER)
    yield _by_area(record, "traffic, as stated", _areas_of(record, Traffic), _count(record, Traffic))
    yield _by_area(record, "dated pictures", _areas_of(record, PhotoTaken), _count(record, PhotoTaken))
    yield _sheets(record)
    yield from _told(record)
    yield "signature", NOT_RECORDED, "sign the printed page"


_BEFORE = (
    ("owner's word on slab tests", SLAB_TESTS),
    ("surface preparation", PREPARATION),
    ("signed sample", SAMPLE),
    ("extras ordered", EXTRAS),
)
_AFTER = (
    ("heater", HEATER),
    ("kept samples", KEPT),
    ("keep-out until hand-over", KEEP_OUT),
    ("released by", RELEASED),
    ("care sheet handed over", CARE_SHEET),
)
_MEASURED = (
    ("slab moisture", "moisture"),
    ("surface pH", "ph"),
    ("surface texture (CSP)", "texture"),
    ("wet film by a gauge", "wet film"),
    ("hardness", "hardness"),
)


def _conditions(record: Record) -> Iterator[Row]:
    readings = record.standing.readings
    yield _covered(record, "air temperature", "air", readings.air())
    yield _covered(record, "relative humidity", "humidity", readings.humidity())
    yield _covered(record, "slab temperature", "slab", readings.slab(None))


def _covered(record: Record, item: str, what: str, samples: Sequence[Sample]) -> Row:
    """Conditions are recorded where readings vouch for them from the pour until the film was tack free."""
    layers = list(record.case.layers.values())
    if not samples:
        return item, NOT_RECORDED, None
    held = [layer for layer in layers if is_covered(record.case, layer, what)]
    if layers and len(held) == len(layers):
        return item, RECORDED, f"{_readings(samples)}, every coat until tack free"
    if held:
        return item, IN_PART, f"{_readings(samples)}, {len(held)} of {len(layers)} coats on areas until tack free"
    return item, NOT_RECORDED, f"only {_when(record, samples, layers)}"


def _readings(samples: Sequence[Sample]) -> str:
    return f"{len(samples)} reading{'s' if len(samples) != 1 else ''}"


def _when(record: Record, samples: Sequence[Sample], layers: Sequence[Layer]) -> str:
    """Too few readings, by their times: "once, Mon 13 Apr 7:50, before the first batch"."""
    first, last = samples[0].at, samples[-1].at
    begun = min((batch.combined.at for batch in record.standing.batches), default=None)
    before = ", before the first batch" if begun is not None and last < begun else ""
    if len(samples) == 1:
        return f"once, {clock_text(record.standing, first)}{before}"
    span = f"{clock_text(record.standing, first)} to {clock_text(record.standing, last)}"
    return f"{_readings(samples)}, {span}{before}{'' if layers else '; no coat was stated'}"


def _measured(record: Record, item: str, quantity: str) -> Row:
    found = [entry.facts for entry in record.case.measured
             if isinstance(entry.facts, Measured) and entry.facts.quantity.casefold().startswith(quantity)]  # fmt: skip
    areas = {area for facts in found for area in _of_measurement(record, facts)}
    return _by_area(record, item, areas, len(found))


def _of_measurement(record: Record, facts: Measured) -> tuple[str, ...]:
    batch = record.batches.get(facts.batch) if facts.batch is not None else None
    return (facts.area,) if facts.area else batch.areas if batch is not None else ()


def _by_area(record: Record, item: str, areas: set[str], count: int) -> Row:
    """Held where every area has it, in part where some have."""
    laid = _laid(record)
    if not count:
        return item, NOT_RECORDED, None
    times = "once" if count == 1 else f"{count} times"
    if not areas:
        return item, IN_PART, f"{times}, without an area"
    missing = [area for area in laid if area not in areas]
    if not missing:
        return item, RECORDED, f"{times}, every area"
    return item, IN_PART, f"{times}, {len(laid) - len(missing)} of {len(laid)} areas; missing on {_shortened(missing)}"


def _laid(record: Record) -> list[str]:
    laid = {area for area, _ in record.case.layers}
    names = [area.name for area in record.standing.site.areas]
    return [name for name in names if name in laid] or names


def _areas_of(record: Record, kind: type) -> set[str]:
    found = [entry.facts for entry in record.case.live if isinstance(entry.facts, kind)]
    return {area for facts in found if (area := getattr(facts, "area", None))}


def _count(record: Record, kind: type) -> int:
    return sum(isinstance(entry.facts, kind) for entry in record.case.live)


def _ticked(record: Record, item: str, tick: Tick) -> Row:
    """A fact that was ticked, with the answer; one that was ticked for one area of three is in part."""
    said = [(entry, answer) for entry in record.case.notes
            if isinstance(entry.facts, Noted) and (answer := tick.answered(entry.facts.text))]  # fmt: skip
    if not said:
        return item, NOT_RECORDED, None
    told = "; ".join(dict.fromkeys(f"{answer}{_where(entry)}" for entry, answer in said))
    areas = {area for entry, _ in said for area in _ticked_areas(record, entry)}
    laid = _laid(record)
    missing = [area for area in laid if area not in areas]
    if not missing:
        return item, RECORDED, told
    return item, IN_PART, f"{told}; missing on {_shortened(missing)}"


def _where(entry: Entry) -> str:
    facts = entry.facts
    assert isinstance(facts, Noted)
    return f" ({facts.area})" if facts.area else f" (batch {facts.batch})" if facts.batch is not None else ""


def _ticked_areas(record: Record, entry: Entry) -> Sequence[str]:
    """A tick without an area or batch holds for the whole floor."""
    facts = entry.facts
    assert isinstance(facts, Noted)
    if facts.area:
        return (facts.area,)
    batch = record.batches.get(facts.batch) if facts.batch is not None else None
    return batch.areas if batch is not None else _laid(record)


def _steps(record: Record, batches: Sequence[Batch]) -> Iterator[Row]:
    yield _of_batches("pouring", batches, _poured)
    for step in (BACK_ROLL, BROADCAST):
        asked = [batch for batch in batches if _asks(record, batch, step)]
        if asked:
            yield _of_batches(step, asked, lambda batch, step=step: _done(batch, step))  # type: ignore[misc]


def _poured(batch: Batch) -> bool:
    return any(not portion.assumed for portion in batch.portions)


def _asks(record: Record, batch: Batch, step: str) -> bool:
    """Whether a batch takes a step: its sheet has a window for it, and a step of flake needs a flaked coat."""
    if batch.spot is not None:
        return False  # nobody rolls or flakes a patch
    profile = record.standing.profile(batch.product)
    coat = record.standing.site.coat(batch.coat) if batch.coat else None
    if step == BROADCAST and coat is not None and coat.flake_kg_m2 is None and not _done(batch, step):
        return False
    return profile is not None and profile.window(step) is not None


def _done(batch: Batch, step: str) -> bool:
    """Whether it is stated for every area on which the batch lies."""
    areas = {area for portion in batch.portions for area in portion.areas}
    stated = {area for portion in batch.portions for name, area in portion.steps if name == step}
    return bool(areas) and areas <= stated


def _lots_known(batch: Batch) -> bool:
    return batch.lot is not None or (batch.lot_a is not None and batch.lot_b is not None)


def _parts_known(batch: Batch) -> bool:
    return bool((batch.a_l and batch.b_l) or (batch.a_kg and batch.b_kg))


def _film_known(batch: Batch) -> bool:
    return bool(batch.portions) and all(portion.covered_m2 is not None for portion in batch.portions)


def _of_batches(item: str, batches: Sequence[Batch], holds: Callable[[Batch], bool]) -> Row:
    having = [batch.id for batch in batches if holds(batch)]
    if not having:
        return item, NOT_RECORDED, None
    held = set(having)
    missing = [str(batch.id) for batch in batches if batch.id not in held]
    if not missing:
        return item, RECORDED, "every batch"
    gone = f"batch{'es' if len(missing) > 1 else ''} {_shortened(missing)}"
    return item, IN_PART, f"{len(having)} of {len(batches)} batches; missing on {gone}"


def _shortened(names: Sequence[str]) -> str:
    return ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")


def _sheets(record: Record) -> Row:
    count = len(record.standing.profile_texts)
    said = f"{count} profile{'s' if count != 1 else ''}, as typed in from the sheets"
    return (
        ("figures of the data sheets", RECORDED, said) if count else ("figures of the data sheets", NOT_RECORDED, None)
    )


def _told(record: Record) -> Iterator[Row]:
    """Of each open finding: who was told, and when."""
    for area, entries in record.case.findings.items():
        facts = entries[-1].facts
        if isinstance(facts, Found) and area not in record.case.sound:
            yield f"{facts.symptom} on {area}: who was told", *_told_of(record, area, entries[-1])


def _told_of(record: Record, area: str, finding: Entry) -> Row:
    said = [
        f"{answer}, {clock_text(record.standing, entry.happened)}"
        for entry in record.case.notes
        if isinstance(entry.facts, Noted)
        and entry.facts.area in (area, None)
        and entry.happened >= finding.happened
        and (answer := TOLD.answered(entry.facts.text))
    ]
    return (RECORDED, "; ".join(said)) if said else (NOT_RECORDED, None)
