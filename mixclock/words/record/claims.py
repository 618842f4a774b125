"""What an owner or a supplier asks for in a claim, and whether the record holds it.

The list is that of published advice on documenting floor failures and of daily logs in public specifications
(UFGS 09 67; 'Documenting Floor Failures'), with what installers keep besides (common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence

from mixclock.job.entry import Entry, Measured, Noted, PhotoTaken, Traffic
from mixclock.job.progress import Batch
from mixclock.words.record.source import Record
from mixclock.words.record.table import NOT_RECORDED, Cell, Column, Table, table


def claim_table(record: Record) -> Table:
    """Each item of a claim, and what the record holds of it."""
    columns = [
        Column("item", "what is asked for"),
        Column("held", "in this record"),
        Column("detail", "how much of it"),
    ]
    return table("claim", "For a claim", columns, _rows(record),
                 intro="What owners and suppliers ask for when a floor has failed. "
                 f"“{NOT_RECORDED.capitalize()}” means that nobody stated it.")  # fmt: skip


def _rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    batches, readings = record.standing.batches, record.standing.readings
    yield _counted("air temperature", len(readings.air()), "readings")
    yield _counted("relative humidity", len(readings.humidity()), "readings")
    yield _counted("slab temperature", len(readings.slab(None)), "readings")
    yield _of_batches("material temperature", batches, lambda batch: batch.material_c is not None)
    yield from _measured_rows(record)
    yield _of_batches("lot numbers", batches, lambda batch: batch.lot is not None)
    yield _counted("expiry dates", _noted(record, r"expir|best before|use by"), "notes")
    yield _of_batches("quantities of A and B", batches, _parts_known)
    yield _of_batches("start of mixing", batches, lambda _: True)
    yield _of_batches("end of mixing", batches, lambda batch: batch.mixing_stated)
    yield _counted("mixer speed", _noted(record, r"\brpm\b|speed"), "notes")
    yield from _step_rows(record, batches)
    yield _of_batches("wet film or size covered", batches, _film_known)
    yield _counted("traffic released or stated", _kinds(record, Traffic), "statements")
    yield _counted("heaters and other deviations", _noted(record, r"."), "notes")
    yield _counted("dated pictures", _kinds(record, PhotoTaken), "pictures")
    yield _counted("kept samples", _noted(record, r"kept|retained|sample|cup"), "notes")
    yield _counted("surface preparation", _noted(record, r"ground|grind|blast|etch|sanded|prep|vacuum"), "notes")
    yield _counted("data sheets", len(record.standing.profile_texts), "profiles, as used")
    yield "signature", NOT_RECORDED, "sign the printed page"


def _measured_rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    for item, pattern in (
        ("slab moisture", "moisture"),
        ("surface pH", "^ph$"),
        ("surface texture (CSP)", "texture|csp"),
        ("hardness", "hardness"),
        ("pull-off", "pull"),
    ):
        found = [entry for entry in _measured(record) if re.search(pattern, _quantity(entry), re.I)]
        areas = {facts.area for entry in found if isinstance(facts := entry.facts, Measured) and facts.area}
        yield _counted(item, len(found), f"measurements on {len(areas)} areas" if areas else "measurements")


def _measured(record: Record) -> Sequence[Entry]:
    return [entry for entry in record.case.live if isinstance(entry.facts, Measured)]


def _quantity(entry: Entry) -> str:
    return entry.facts.quantity if isinstance(entry.facts, Measured) else ""


def _step_rows(record: Record, batches: Sequence[Batch]) -> Iterator[tuple[Cell, ...]]:
    yield _of_batches("pouring", batches, lambda batch: any(not portion.assumed for portion in batch.portions))
    for item, step in (("back-roll", "back-roll"), ("broadcast", "broadcast")):
        asked = [batch for batch in batches if _asks(record, batch, step)]
        if asked:
            yield _of_batches(item, asked, lambda batch, step=step: _done(batch, step))  # type: ignore[misc]


def _asks(record: Record, batch: Batch, step: str) -> bool:
    profile = record.standing.profile(batch.product)
    return profile is not None and profile.window(step) is not None


def _done(batch: Batch, step: str) -> bool:
    return any(name == step for portion in batch.portions for name, _ in portion.steps)


def _parts_known(batch: Batch) -> bool:
    return bool((batch.a_l and batch.b_l) or (batch.a_kg and batch.b_kg))


def _film_known(batch: Batch) -> bool:
    return bool(batch.portions) and all(portion.covered_m2 is not None for portion in batch.portions)


def _of_batches(item: str, batches: Sequence[Batch], holds: Callable[[Batch], bool]) -> tuple[Cell, ...]:
    having = [batch.id for batch in batches if holds(batch)]
    if not having:
        return item, NOT_RECORDED, None
    missing = [str(batch.id) for batch in batches if batch.id not in having]
    if not missing:
        return item, "recorded", "every batch"
    return item, "in part", f"{len(having)} of {len(batches)} batches; missing on batch {_shortened(missing)}"


def _shortened(numbers: Sequence[str]) -> str:
    return ", ".join(numbers[:12]) + (f" and {len(numbers) - 12} more" if len(numbers) > 12 else "")


def _counted(item: str, count: int, what: str) -> tuple[Cell, ...]:
    """`what` begins with the plural of what is counted."""
    things, space, rest = what.partition(" ")
    said = f"{count} {things if count != 1 else things.removesuffix('s')}{space}{rest}"
    return (item, "recorded", said) if count else (item, NOT_RECORDED, None)


def _noted(record: Record, pattern: str) -> int:
    texts = [entry.facts.text for entry in record.case.live if isinstance(entry.facts, Noted)]
    return sum(bool(re.search(pattern, text, re.I)) for text in texts)


def _kinds(record: Record, kind: type) -> int:
    return sum(isinstance(entry.facts, kind) for entry in record.case.live)
