"""The sheet to hand over: when feet, cars and washing are allowed, how to care for it, what was laid."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from html import escape

from mixclock.decide.why import SHAPES
from mixclock.decide.why.layers import Layer
from mixclock.job.dayentries import Settled
from mixclock.job.entry import Entry, Found
from mixclock.job.profile import Family
from mixclock.job.smallmixes import spot_areas
from mixclock.words.record import html
from mixclock.words.record.page import LOCAL_RULES, profiles
from mixclock.words.record.release import USES, reasons, releases
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table

CARE = (
    "Until the last date: no water standing, no washing, no mats, no cardboard, nothing dragged.",
    "Then sweep often, and wash with a neutral cleaner and lukewarm water; no bleach, no strong degreaser, no steam.",
    "Felt under furniture; boards under jacks and stands. Wipe up spills the same day.",
    "Warm tyres press hardest: let a car stand only from the date above on.",
)
_YELLOWS = "An epoxy that lies in the sun turns yellow; that harms its looks, not its use."
_CARE_SOURCE = "Care is common practice; the manufacturer's own care sheet comes first."


def owner_page(record: Record) -> str:
    """The owner's sheet as a page of its own."""
    site = record.standing.site
    body = [
        f'<header>\n<h1>{escape(site.name)}</h1>\n<p class="soft">Your new floor: when it may be used, and its care.'
        f" Times in {escape(site.zone)}.</p>\n</header>",
        html.table_section(use_table(record), record.zone, record.units),
        *_rests_on(record),
        *_findings(record),
        html.section("care", "Care", html.bullets(_care(record)), html.paragraph(_CARE_SOURCE, "soft")),
        html.table_section(laid_table(record), record.zone, record.units),
        html.section("cautions", "Mind", html.bullets(_mind(record)), html.paragraph(LOCAL_RULES), kind="cautions"),
        '<div class="sign"><span>applicator, date</span><span>owner, date</span></div>',
    ]
    return html.page(f"{site.name}: your floor", body)


def use_table(record: Record) -> RecordTable:
    """From when each area may be used: one date a use, the latest that its coats need, rounded up to the half hour."""
    columns = [Column("area", "area"), *(Column(f"{name.replace('-', '_')}_from", words) for name, words in USES)]
    cells: dict[str, list[Cell]] = {}
    for each in releases(record):
        cells.setdefault(each.area, [each.area]).append(each.cell)
    return table(
        "use",
        "From when",
        columns,
        cells.values(),
        must=[column.key for column in columns],
        intro="Not before these times, and only as the lines below say.",
    )


def _rests_on(record: Record) -> list[str]:
    lines = reasons(record)
    return [html.section("why", "What the dates rest on", html.bullets(lines))] if lines else []


def laid_table(record: Record) -> RecordTable:
    """What lies where."""
    columns = [Column("area", "area"), Column("coat", "coat"), Column("product", "product"), Column("lots", "lots"),
               Column("laid_at", "laid")]  # fmt: skip
    rows = (
        (laid.area, laid.coat, laid.pieces[0].batch.product,
         ", ".join(sorted({lot for batch in laid.batches for lot in batch.lots})) or None, _poured_first(laid))
        for area in record.standing.site.areas
        for laid in record.case.on(area.name)
        if any(piece.portion is not None for piece in laid.pieces)
    )  # fmt: skip
    return table(
        "laid",
        "What was laid",
        columns,
        (*rows, *_small_rows(record)),
        must=("lots", "laid_at"),
        empty="No batch was stated.",
    )


def _small_rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    """Patches, coves and repairs, each with what it was for."""
    for batch in record.standing.batches:
        if batch.spot is not None and batch.portions:
            where = ", ".join(spot_areas(record.standing, batch)) or "the floor"
            poured = [portion.poured.at for portion in batch.portions if not portion.assumed]
            yield where, batch.spot, batch.product, ", ".join(batch.lots) or None, min(poured, default=None)


def _findings(record: Record) -> list[str]:
    """What was found and is still open, told plainly; and what was put right, with how."""
    lines = []
    for entry in record.case.open_findings.values():
        facts = entry.facts
        if isinstance(facts, Found):
            lines.append(f"{_found(record, facts, entry)}.")
    told = []
    if lines:
        wait = (
            "It is open until it is mended. Keep it as it is, and ask the applicator before you clean, cover or use it."
        )
        told.append(html.section("open", "What was found, and is open", html.bullets(lines), html.paragraph(wait)))
    mended = [line for area, entry in record.case.settled.items() if (line := _put_right(record, area, entry))]
    if mended:
        told.append(html.section("mended", "What was found, and was put right", html.bullets(mended)))
    return told


def _found(record: Record, facts: Found, entry: Entry) -> str:
    shape = f", {SHAPES[facts.shape]}" if facts.shape is not None and facts.shape in SHAPES else ""
    return f"{facts.area}: {facts.symptom}{shape}. Found {record.clock(entry.happened)}"


def _put_right(record: Record, area: str, entry: Entry) -> str | None:
    """A finding with what was done about it and when."""
    facts = entry.facts
    faults = record.case.faults(area)
    if not isinstance(facts, Settled) or not faults:
        return None
    last = faults[-1]
    assert isinstance(last.facts, Found)
    return f"{_found(record, last.facts, last)}. Put right {record.clock(entry.happened)}: {facts.how}."


def _poured_first(layer: Layer) -> datetime | None:
    """When the first of it was poured, where somebody stated every pour: a pour that nobody stated has no hour."""
    poured = [piece.poured for piece in layer.pieces]
    return min((at for at in poured if at is not None), default=None) if all(poured) else None


def _care(record: Record) -> list[str]:
    epoxy = any(profile.family in (Family.EPOXY, Family.WATERBORNE_EPOXY) for profile in profiles(record))
    return [*CARE, _YELLOWS] if epoxy else list(CARE)


def _mind(record: Record) -> list[str]:
    own = [
        "Before anybody sands, grinds or heats this floor: dust and fumes harm the lungs. Ask the applicator first.",
        "Wet, it is slippery.",
        "If it feels greasy, dull or soft, don't cover it up: say so, and tell where it begins and ends.",
    ]
    missing = [words for name, words in USES if any(each.cell is None for each in releases(record) if each.use == name)]
    if missing:
        own.append(f"Where no time stands, ask the applicator before you {', or '.join(missing)}.")
    return own
