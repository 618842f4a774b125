"""Tables of the batches: what went in, when and by whom, the film, and the clock of each step."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from statistics import median
from types import MappingProxyType

from mixclock.decide.shapes import Edge, State, Window
from mixclock.decide.slabdoubt import STALE_AFTER
from mixclock.decide.why.layers import Layer, LayerPiece, Value
from mixclock.decide.why.quantities.air import DEW_MARGIN
from mixclock.decide.why.quantities.film import THINNEST_FILM, gauge_readings
from mixclock.decide.why.quantities.mix import RATIO_ERROR
from mixclock.formulas.air import dew_margin_k, dew_point_c
from mixclock.job.candidates import where_it_lies
from mixclock.job.progress import Batch, StatedFact
from mixclock.job.steps import POUR_OUT, RECOAT, TACK_FREE, row_of
from mixclock.units import METRIC_CREW, US_CREW
from mixclock.words.record.source import Record
from mixclock.words.record.table import Cell, Column, RecordTable, table

_STEPS = (
    "Judged by the sheet's own figure at the temperatures that were read; its source stands under Products. The hour "
    "that was called stands beside it: a prompt, set early (or late) on purpose. A step that nobody stated is unknown."
)
LONG = " The job is long: the air round its buckets is taken to half a degree."

CUSTOMARY = MappingProxyType({METRIC_CREW: "3 °C", US_CREW: "5 °F"})
"""The least dew margin by custom: 3 K in Europe, 5 °F in the US (ISO 8502-4 and common US practice)."""

LONG_PAST = 10.0
"""Ten times its length after it began nobody asks how far a clock had run: no share is told then."""


def batch_table(record: Record) -> RecordTable:
    """What went into each bucket."""
    columns = [
        Column("batch", "batch", 0),
        Column("product", "product"),
        Column("coat", "coat"),
        Column("areas", "areas"),
        Column("amount_l", "amount"),
        Column("mass_kg", "weight"),
        Column("a_l", "A", 2),
        Column("b_l", "B", 2),
        Column("a_kg", "A by weight", 2, page=False),
        Column("b_kg", "B by weight", 2, page=False),
        Column("ratio", "A to B", 2),
        Column("ratio_error_pct", "off the ratio by"),
        Column("material_c", "material"),
        Column("bucket_max_c", "hottest bucket"),
        Column("lot", "lot"),
        Column("lot_a", "lot of A", page=False),
        Column("lot_b", "lot of B", page=False),
        Column("vessel", "vessel", page=False),
        Column("van", "its van's number", page=False),
    ]
    rows = (_batch_row(record, batch) for batch in record.standing.batches)
    return table("batches", "Batches: what went in", columns, rows,
                 must=("ratio", "lot", "material_c"), empty="No batch was stated.")  # fmt: skip


def _batch_row(record: Record, batch: Batch) -> tuple[Cell, ...]:
    ratio = batch.a_l / batch.b_l if batch.a_l and batch.b_l else None
    weighed = batch.a_kg / batch.b_kg if batch.a_kg and batch.b_kg else None
    read = record.standing.readings.bucket(batch.id)
    hottest = max((sample.value for sample in read), default=None)
    areas = ", ".join(where_it_lies(batch))
    return (batch.id, batch.product, batch.coat, areas, batch.volume_l, batch.mass_kg, batch.a_l, batch.b_l, batch.a_kg,
            batch.b_kg, ratio or weighed, _ratio_error(record, batch), batch.material_c, hottest,
            ", ".join(batch.lots) or None, batch.lot_a, batch.lot_b, batch.vessel,
            f"{batch.origin.van}: {batch.origin.batch}" if batch.origin else None)  # fmt: skip


def _ratio_error(record: Record, batch: Batch) -> float | None:
    if not (batch.a_l and batch.b_l) and not (batch.a_kg and batch.b_kg):
        return None
    laid = Layer("", batch.coat or batch.product, (LayerPiece(batch, None),))
    found = RATIO_ERROR.gather(record.case, laid)
    return found.value if isinstance(found, Value) and isinstance(found.value, float) else None


def pouring_table(record: Record) -> RecordTable:
    """Who poured what, when and where, and the film that it made."""
    columns = [
        Column("batch", "batch", 0),
        Column("area", "area"),
        Column("coat", "coat"),
        Column("mixed_at", "B into A at"),
        Column("mixed_by", "mixed by"),
        Column("mixing_min", "mixed for"),
        Column("poured_at", "poured at"),
        Column("poured_by", "poured by"),
        Column("age_min", "age when poured", 0),
        Column("pot_life_used_pct", "pot life used", 0),
        Column("poured_l", "poured"),
        Column("covered_m2", "covered"),
        Column("film_um", "wet film", 0),
        Column("film_by", "film known by"),
        Column("film_asked_um", "film asked", 0),
    ]
    rows = (row for batch in record.standing.batches for row in _pouring_rows(record, batch))
    return table(
        "pouring",
        "Batches: mixed and poured",
        columns,
        rows,
        must=("poured_at", "poured_by", "film_um"),
        intro="The film is what was poured over the size that was stated as covered; "
        "“film known by” says where it is only the area's nominal size.",
    )


def _pouring_rows(record: Record, batch: Batch) -> Iterator[tuple[Cell, ...]]:
    mixing = (batch.mixing_ended - batch.combined.at).total_seconds() / 60.0 if batch.mixing_stated else None
    head = (batch.id,), (batch.coat, batch.combined.at, batch.combined.by, mixing)
    if not batch.portions:
        for area in batch.areas:
            yield (*head[0], area, *head[1], *([None] * 9))
    for portion in batch.portions:
        for area in portion.areas:
            piece = LayerPiece(batch, portion)
            yield (*head[0], area, *head[1], *_poured_cells(record, piece, area))


def _poured_cells(record: Record, piece: LayerPiece, area: str) -> tuple[Cell, ...]:
    batch, portion, case = piece.batch, piece.portion, record.case
    assert portion is not None
    track = case.track(POUR_OUT, piece, None)
    poured = piece.poured
    age = (poured - batch.combined.at).total_seconds() / 60.0 if poured else None
    used = track.ripeness_closes(poured) if track is not None and poured else None
    film, known_by = _film(record, piece, area)
    coat = record.standing.site.coat(batch.coat) if batch.coat else None
    wanted = coat.wet_film_um if coat else None
    who = portion.poured.by if poured else None
    return (
        poured,
        who,
        age,
        used * 100.0 if used is not None else None,
        portion.volume_l,
        portion.covered_m2,
        film,
        known_by,
        wanted,
    )


def _film(record: Record, piece: LayerPiece, area: str) -> tuple[float | None, str | None]:
    """The film and how it is known: a gauge, the size that was stated as covered, or no more than the nominal size."""
    portion = piece.portion
    if portion is not None and portion.covered_m2 and portion.volume_l:
        return portion.volume_l / portion.covered_m2 * 1000.0, "size covered"
    laid = record.case.layers.get((area, piece.batch.coat or piece.batch.product))
    gauged = gauge_readings(record.case, laid) if laid else []
    if gauged:
        return median(gauged), "gauge"
    found = THINNEST_FILM.gather(record.case, laid) if laid else None
    if isinstance(found, Value) and isinstance(found.value, float):
        return found.value, "nominal size"
    return None, None


def step_table(record: Record) -> RecordTable:
    """Each window of each batch: its edges, what was stated, and how far its clock had run."""
    columns = [Column("batch", "batch", 0), Column("area", "area"), Column("window", "window"),
               Column("starts", "counts from"), Column("opens", "opens, by the sheet"),
               Column("opens_late", "prompt, late on purpose"),
               Column("closes", "closes, by the sheet"), Column("closes_early", "prompt, early on purpose"),
               Column("closes_late", "late", page=False),
               Column("stated_at", "done at"), Column("stated_by", "by"), Column("used_pct", "used then", 0),
               Column("judged", "by the sheet's figure"), Column("state", "state")]  # fmt: skip
    rows = (step_row(record, window) for window in record.windows if is_asked_for(record, window))
    return table("steps", "The clock of each step", columns, rows,
                 intro=_STEPS + (LONG if record.is_long else ""))  # fmt: skip


def is_asked_for(record: Record, window: Window) -> bool:
    """Whether the job takes this step: no flake on a coat without flake, no coat over the last one."""
    coat = record.standing.site.coat(window.coat) if window.coat else None
    if coat is None or window.stated is not None:
        return True
    if row_of(window.name).of_flake:
        return coat.flake_kg_m2 is not None
    return window.name != RECOAT or bool(record.standing.site.next_coats(coat.name))


def step_row(record: Record, window: Window) -> tuple[Cell, ...]:
    """A window's cells, in the order of the columns of `step_table`."""
    stated = _stated(record, window)
    ripe = window.ripeness_closes if window.closes else window.ripeness_opens
    used = ripe * 100.0 if ripe is not None and window.stated is not None and ripe < LONG_PAST else None
    opens, closes = window.opens, window.closes
    return (
        window.batch,
        window.area or "bucket",
        window.name,
        window.starts,
        _likely(opens),
        opens.late if opens else None,
        _likely(closes),
        closes.early if closes else None,
        closes.late if closes else None,
        window.stated,
        stated.by if stated else None,
        used,
        _judged(window),
        _state(window),
    )


def _judged(window: Window) -> str | None:
    """A stated step beside the sheet's own figure. The hour of the call is only a prompt: nobody is judged by it."""
    if window.stated is None:
        return None
    opens, closes = _likely(window.opens), _likely(window.closes)
    if opens is not None and window.stated < opens:
        return "before it opened"
    if closes is not None:
        return "inside" if window.stated <= closes else "after it closed"
    return "after it opened" if opens is not None else None


def _state(window: Window) -> str:
    """A step that nobody stated is unknown, not missed."""
    return "not stated" if window.state is State.MISSED and window.stated is None else str(window.state)


def _likely(edge: Edge | None) -> datetime | None:
    return edge.likely if edge else None


def _stated(record: Record, window: Window) -> StatedFact | None:
    batch = record.batches.get(window.batch) if window.batch is not None else None
    if batch is None or window.stated is None:
        return None
    if window.area is None:
        return batch.emptied or (batch.portions[0].poured if batch.portions else None)
    portion = batch.portion(window.portion)
    return portion.step(window.name, window.area) if portion else None


def tack_free_table(record: Record) -> RecordTable:
    """The air over each coat when it was tack free, and the least margin until then."""
    columns = [Column("area", "area"), Column("coat", "coat"), Column("tack_free_at", "tack free at"),
               Column("known_by", "known by"), Column("air_c", "air"), Column("rh_pct", "humidity", 0),
               Column("slab_c", "slab"), Column("dew_point_c", "dew point"), Column("margin_k", "dew margin"),
               Column("least_margin_k", "least margin until then"), Column("least_at", "at")]  # fmt: skip
    rows = (_tack_free_row(record, laid) for laid in record.case.layers.values())
    return table(
        "tack_free",
        "The air when each coat was tack free",
        columns,
        rows,
        must=("margin_k", "least_margin_k"),
        intro="Dew margin is the slab's temperature less the dew point of the air above it; "
        f"{CUSTOMARY[record.units]} is customary.",
    )


def _tack_free_row(record: Record, laid: Layer) -> tuple[Cell, ...]:
    at = record.case.tack_free(laid)
    least = DEW_MARGIN.gather(record.case, laid)
    lowest = (least.value, least.at) if isinstance(least, Value) and isinstance(least.value, float) else (None, None)
    return (laid.area, laid.coat, at, _known_by(record, laid), *_air_at(record, laid.area, at), *lowest)


def _known_by(record: Record, laid: Layer) -> str:
    for piece in laid.pieces:
        track = record.case.track(TACK_FREE, piece, laid.area)
        if track is not None and track.stated is not None:
            return f"seen by {track.stated.by or 'the crew'}"
    return "not tack free yet" if record.case.tack_free(laid) >= record.case.at else "its clock"


def _air_at(record: Record, area: str, at: datetime) -> tuple[Cell, ...]:
    """Air, humidity, slab, dew point and margin at an instant, where readings within two hours vouch for them."""
    nearest = [record.case.samples(what, area).nearest(at) for what in ("air", "humidity", "slab")]
    if any(sample is None or abs(sample.at - at) > STALE_AFTER for sample in nearest):
        return (None, None, None, None, None)
    air, damp, slab = record.case.weather(area).at(at.timestamp())
    return (air, damp, slab, dew_point_c(air, damp), dew_margin_k(air, damp, slab))
