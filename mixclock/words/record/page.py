"""The pages of a record: all that was agreed, stated, read, alerted and found; for a claim; and a reading of it."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import datetime
from html import escape

from mixclock.decide.why import diagnose
from mixclock.decide.why.diagnosis import next_time
from mixclock.job.entry import PhotoTaken
from mixclock.job.profile import Family, Profile
from mixclock.job.progress import products_of
from mixclock.units import write_day, write_time_of_day
from mixclock.words.cautions import DEFERS, Moment, cautions_for
from mixclock.words.record import html
from mixclock.words.record.batchtables import batch_table, pouring_table, step_table, tack_free_table
from mixclock.words.record.claims import claim_table
from mixclock.words.record.conditionschart import conditions_chart
from mixclock.words.record.jobtables import job_table, product_table
from mixclock.words.record.laneschart import day_chart, days_chart, together
from mixclock.words.record.logtables import finding_table, measurement_table, note_table, photo_table
from mixclock.words.record.source import Record
from mixclock.words.record.table import RecordTable
from mixclock.words.record.tables import page_tables
from mixclock.words.whytext import why_lines

_LEGEND = (
    "Dashed: shut. Grey: open. Dark: from the early to the late edge, with a stroke at the likely one. "
    "Diamond: stated as done."
)


def record_page(record: Record) -> str:
    """The page as a text; it needs nothing from anywhere."""
    with _tidied_up_later():
        return _page(record)


@contextmanager
def _tidied_up_later() -> Iterator[None]:
    """Everything that a page is made of lives until it is whole, so nobody looks through it for what could go: of a
    long job that took a tenth of the time."""
    tidies = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if tidies:
            gc.enable()


def _page(record: Record) -> str:
    site = record.standing.site
    tables = {table.name: table for table in page_tables(record)}
    body = [_header(record), html.contents(_sections(tables)), _cautions(record), *_body(record, tables)]
    return html.page(f"{site.name}: the record", [*body, foot(record)])


def _sections(tables: dict[str, RecordTable]) -> list[tuple[str, str]]:
    names = [(name, table.title) for name, table in tables.items()]
    return [*names[:6], ("conditions", "Conditions"), ("lanes", "Area by area"), *names[6:]]


def _header(record: Record) -> str:
    site = record.standing.site
    areas, batches = len(site.areas), len(record.standing.batches)
    return (
        f"<header>\n<h1>{escape(site.name)}</h1>\n"
        f'<p class="soft">Record of the job: {_counted(areas, "area")}, '
        f"{_counted(batches, 'batch', 'batches')}. "
        f"{written_words(record)}, times in {escape(site.zone)}.</p>\n</header>"
    )


def written_words(record: Record) -> str:
    """When it was written down, and as of which instant: what was known then, and nothing later."""
    written = f"ritten down {_with_year(record, record.written or record.at)}"
    if record.written is None:
        return f"W{written}"
    return f"As it was known {_with_year(record, record.at)}, w{written}"


def _with_year(record: Record, at: datetime) -> str:
    """The one place with the year: the rest of the page is days apart."""
    there = at.astimezone(record.zone)
    return f"{write_day(there)} {there.year} {write_time_of_day(there.timetz())}"


def _counted(count: int, one: str, more: str = "") -> str:
    return f"{count} {one if count == 1 else more or one + 's'}"


def _cautions(record: Record) -> str:
    return html.section("cautions", "Cautions", html.bullets(caution_lines(record)), html.paragraph(LOCAL_RULES),
                        kind="cautions")  # fmt: skip


def _body(record: Record, tables: dict[str, RecordTable]) -> Iterator[str]:
    for index, table in enumerate(tables.values()):
        if index == 6:
            yield _conditions(record)
            yield _lanes(record)
        yield html.table_section(table, record.zone, record.units, exact=not record.is_long)
        if table.name == "photos":
            yield pictures(record)


def _conditions(record: Record) -> str:
    areas: list[str | None] = [*sorted(_areas_with_slab(record))]
    charts = [(area, conditions_chart(record, area)) for area in areas or [None]]
    drawn = [
        html.figure(chart, f"Air, slab and dew point, the dew margin and humidity: {area or 'the whole floor'}.")
        for area, chart in charts
        if chart
    ]
    none = html.paragraph("Fewer than two readings: there is no curve to draw.", "empty")
    return html.section("conditions", "Conditions", *(drawn or [none]))


def _areas_with_slab(record: Record) -> set[str]:
    """Areas with slab readings of their own, where coats lie: each of them has its own dew margin."""
    laid = {area for area, _ in record.case.layers}
    own = {getattr(entry.facts, "area", None) for entry in record.standing.readings.entries
           if getattr(entry.facts, "slab_c", None) is not None}  # fmt: skip
    return {area for area in laid if area in own}


def _lanes(record: Record) -> str:
    parts = [html.paragraph(_LEGEND, "soft")]
    for whose, laid in together(record):
        charts = [chart for chart in (day_chart(record, laid, whose), days_chart(record, laid, whose)) if chart]
        if charts:
            parts.append(f"<h3>{escape(whose)}</h3>")
            parts += [html.figure(chart, "") for chart in charts]
    if len(parts) == 1:
        parts.append(html.paragraph("No batch was stated.", "empty"))
    return html.section("lanes", "Area by area", *parts)


def pictures(record: Record) -> str:
    """Each picture with its caption."""
    shown = []
    for entry in record.case.live:
        facts = entry.facts
        if isinstance(facts, PhotoTaken):
            where = facts.area or (f"batch {facts.batch}" if facts.batch is not None else "the floor")
            caption = f"{where}, {record.clock(entry.happened)}{f', {entry.note}' if entry.note else ''} ({facts.name})"
            shown.append(html.picture(record.pictures.get(facts.sha256), f"Picture of {where}", caption))
    return f'<div class="pictures">{"".join(shown)}</div>' if shown else ""


def foot(record: Record) -> str:
    """Where it comes from, and the lines to sign on."""
    version = f" {record.version}" if record.version else ""
    return (
        f"<footer>\n{html.paragraph(LOCAL_RULES)}\n"
        f'<p class="soft">Written by mixclock{escape(version)} from the job log; nothing was added by hand.</p>\n'
        '<div class="sign"><span>applicator, date</span><span>owner, date</span></div>\n</footer>'
    )


LOCAL_RULES = (
    "The manufacturer's data sheet and safety data sheet, local rules and licensed practice prevail over anything on "
    "this page."
)

MOMENTS = (Moment.MIXING, Moment.ACID, Moment.SANDING, Moment.LEFTOVERS)


def profiles(record: Record) -> list[Profile]:
    """The products of the job, each once."""
    found = [record.standing.profile(name) for name in products_of(record.standing)]
    return [profile for profile in found if profile is not None]


def caution_lines(record: Record) -> list[str]:
    """What to mind with these products, each line once; the products' own cautions first."""
    own = [f"{profile.name}: {line}" for profile in profiles(record) for line in profile.cautions]
    families: list[Family] = [profile.family for profile in profiles(record)]
    usual = [line for family in families for moment in MOMENTS for line in cautions_for(family, moment)]
    return list(dict.fromkeys(line for line in (*own, *usual) if line != DEFERS))


_TABLES = (
    finding_table,
    claim_table,
    job_table,
    product_table,
    batch_table,
    pouring_table,
    step_table,
    tack_free_table,
    measurement_table,
    note_table,
    photo_table,
)


def claim_page(record: Record) -> str:
    """The page as a text; facts alone, no opinion of any program."""
    name = record.standing.site.name
    head = (
        f'<header>\n<h1>{escape(name)}</h1>\n<p class="soft">For a claim: what was stated, measured and found, and '
        f"what nobody recorded. {written_words(record)}, times in {escape(record.standing.site.zone)}.</p>\n</header>"
    )
    tables = [html.table_section(build(record), record.zone, record.units) for build in _TABLES]
    return html.page(f"{name}: for a claim", [head, *tables, pictures(record), foot(record)])


NO_INSPECTION = "A program's reading of what was stated; no inspection."


def reading_page(record: Record, areas: Iterable[str] = ()) -> str:
    """The page as a text: of these areas, else of all on which a fault was found."""
    name = record.standing.site.name
    head = f'<header>\n<h1>{escape(name)}</h1>\n<p class="soft">{NO_INSPECTION} {written_words(record)}.</p>\n</header>'
    faulty = [area for area in record.case.findings if record.case.faults(area) and area not in record.case.sound]
    told = [_verdict(record, area) for area in dict.fromkeys(areas or faulty)]
    none = html.paragraph("Nothing was found faulty.", "empty")
    body = html.section("why", "What it may be", *(told or [none]))
    return html.page(f"{name}: a reading of the record", [head, body])


def _verdict(record: Record, area: str) -> str:
    found = diagnose(record.case, area)
    settings = list(next_time(record.case, area, found.shown))
    head, *lines = why_lines(found, record.units, settings, more=True)
    return f'<div class="verdict"><h3>{escape(head)}</h3>{html.bullets(lines)}</div>'
