"""Tables of what was agreed before: the job, its areas, crew, coats and products."""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.job.dayentries import Visited
from mixclock.job.entry import JobFinished, JobMended, JobStarted
from mixclock.job.profile import Profile
from mixclock.job.progress import products_of
from mixclock.job.steps import BACK_ROLL
from mixclock.units import CrewUnits, write_time_of_day
from mixclock.units.vapour import write_vapour
from mixclock.words.gritwords import dose_words
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table
from mixclock.words.sheetwords import write_sheet_span


def job_table(record: Record) -> RecordTable:
    """What the job is, as pairs."""
    return table("job", "The job", [Column("what", "what"), Column("value", "value")], _job_rows(record))


def _job_rows(record: Record) -> Iterator[tuple[Cell, ...]]:
    standing = record.standing
    site = standing.site
    yield "job", site.name
    yield "clock", f"times are in {site.zone}"
    started = next((entry for entry in standing.entries if isinstance(entry.facts, JobStarted)), None)
    if started is not None:
        yield "started", started.happened
    yield from (("file mended", entry.happened) for entry in record.case.live if isinstance(entry.facts, JobMended))
    yield from _ends(record)
    yield "written down", record.at
    yield "areas", f"{len(site.areas)}, {record.units.write_area(sum(area.size_m2 for area in site.areas))} together"
    yield "batches", str(len(standing.batches))
    yield "slab sealed", {True: "yes", False: "no", None: None}[site.sealed]
    if site.hours:
        begin, end = (write_time_of_day(at.replace(tzinfo=site.wall)) for at in (site.hours.start, site.hours.end))
        yield "working hours", f"{begin} to {end}"
    yield "withdrawn statements", str(len(standing.withdrawn))


def _ends(record: Record) -> Iterator[tuple[Cell, ...]]:
    """When it was finished, and every call-back with when that was done."""
    ended, called_back = False, False
    for entry in record.case.live:
        if isinstance(entry.facts, JobFinished):
            yield "call-back done" if called_back else "finished", entry.happened
            ended = True
        elif isinstance(entry.facts, Visited):
            yield "call-back", entry.happened
            ended, called_back = False, True
    if not ended:
        yield "call-back done" if called_back else "finished", "not stated as finished"


def area_table(record: Record) -> RecordTable:
    """The floor, area by area."""
    columns = [Column("area", "area"), Column("size_m2", "size"), Column("edge_m", "edge to cut in"),
               Column("cove_m", "cove"), Column("stairs_m", "stairs"), Column("order", "order", 0),
               Column("next_to", "next to"), Column("texture", "texture")]  # fmt: skip
    rows = (
        (area.name, area.size_m2, area.edge_m, area.cove_m, area.stairs_m, area.order, ", ".join(area.next_to),
         area.texture)
        for area in record.standing.site.areas
    )  # fmt: skip
    return table("areas", "Areas", columns, rows)


def crew_table(record: Record) -> RecordTable:
    """The crew and how fast they said they are."""
    columns = [Column("who", "who"), Column("does", "does"), Column("squeegee_m2_h", "squeegee", 0),
               Column("roll_m2_h", BACK_ROLL, 0), Column("broadcast_m2_h", "broadcast", 0),
               Column("cut_in_m_h", "cut in", 0)]  # fmt: skip
    rows = (
        (one.name, ", ".join(one.does) or "everything", one.squeegee_m2_h, one.roll_m2_h, one.broadcast_m2_h,
         one.cut_in_m_h)
        for one in record.standing.site.crew
    )  # fmt: skip
    return table("crew", "Crew", columns, rows, empty="The job file names nobody.")


def coat_table(record: Record) -> RecordTable:
    """The system, coat by coat."""
    columns = [Column("coat", "coat"), Column("product", "product"), Column("on_coat", "on"),
               Column("wet_film_um", "wet film asked", 0), Column("spread_m2_l", "spread asked"),
               Column("flake_kg_m2", "flake", 2), Column("grit", "grit")]  # fmt: skip
    units = record.units
    rows = (
        (
            coat.name,
            coat.product,
            coat.after or "slab",
            coat.wet_film_um,
            coat.spread_m2_l,
            coat.flake_kg_m2,
            dose_words(coat.grit_g_l, units) if coat.grit_g_l else None,
        )
        for coat in record.standing.site.coats
    )
    return table("coats", "Coats", columns, rows)


_LIMITS = (
    Column("slab_min_c", "slab from", page=False),
    Column("slab_max_c", "slab to", page=False),
    Column("humidity_max_pct", "humidity to", page=False),
    Column("dew_margin_min_k", "over the dew point", page=False),
    Column("moisture_max_pct", "moisture to", page=False),
)
"""The limits once more as numbers, for spreadsheets and other programs."""


def product_table(record: Record) -> RecordTable:
    """What was laid: products with their lots and where each figure comes from."""
    columns = [Column("product", "product"), Column("family", "family"), Column("lots", "lots"),
               Column("ratio", "mix ratio"), Column("mix_min", "mixing"), Column("pot_life", "pot life on the sheet"),
               Column("limits", "limits"), *_LIMITS, Column("source", "source of the figures")]  # fmt: skip
    rows = (_product_row(record, name) for name in products_of(record.standing))
    return table("products", "Products", columns, rows, must=("lots", "source"))


def _product_row(record: Record, name: str) -> tuple[Cell, ...]:
    profile = record.standing.profile(name)
    lots = {lot for batch in record.standing.batches if batch.product == name for lot in batch.lots}
    told = ", ".join(sorted(lots)) or None
    if profile is None:
        return (name, None, told, *([None] * (5 + len(_LIMITS))))
    mixing = profile.mix.time_s / 60.0 if profile.mix.time_s else None
    pot_life = write_sheet_span(profile.pot_life.span, record.units) if profile.pot_life else None
    return (
        name,
        str(profile.family),
        told,
        _ratio(profile),
        mixing,
        pot_life,
        _limits(profile, record.units),
        *(profile.limits.slab_c or (None, None)),
        profile.limits.humidity_max_pct,
        profile.limits.dew_margin_min_k,
        profile.limits.moisture_max_pct,
        profile.source or None,
    )


def _ratio(profile: Profile) -> str | None:
    said = []
    if profile.mix.ratio_by_volume:
        said.append("{:g} to {:g} by volume".format(*profile.mix.ratio_by_volume))
    if profile.mix.ratio_by_mass:
        said.append("{:g} to {:g} by mass".format(*profile.mix.ratio_by_mass))
    return ", ".join(said) or None


def _limits(profile: Profile, units: CrewUnits) -> str | None:
    limits, said = profile.limits, []
    if limits.slab_c:
        said.append("slab {} to {}".format(*(units.write_temp(edge) for edge in limits.slab_c)))
    if limits.humidity_max_pct is not None:
        said.append(f"humidity to {limits.humidity_max_pct:g} %")
    if limits.dew_margin_min_k is not None:
        said.append(f"{units.write_margin(limits.dew_margin_min_k)} over the dew point")
    if limits.moisture_max_pct is not None:
        said.append(f"moisture to {limits.moisture_max_pct:g} %")
    if limits.vapour_max_g_m2_d is not None:
        said.append(f"moisture by weight to {write_vapour(limits.vapour_max_g_m2_d, us=True)}")
    return ", ".join(said) or None


def learned_table(record: Record) -> RecordTable:
    """What earlier jobs had taught, as it was used here."""
    columns = [Column("product", "product"), Column("window", "window"), Column("factor", "times", 2),
               Column("observations", "observations", 0)]  # fmt: skip
    rows = ((used.product, used.window, used.factor, used.observations) for used in record.standing.factors.values())
    return table("learned", "Learned factors in use", columns, rows, empty="None: the sheet's own figures were used.")
