"""How much film the batches made."""

from __future__ import annotations

import math

from mixclock.decide.why.case import Case
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer, LayerPiece, Value, worst
from mixclock.decide.why.settings import film_asked
from mixclock.job.entry import Measured

LEAST_SHARE, MOST_SHARE = 0.8, 1.5
"""Film over what the job asks for: ISO 19840's 80 % (from memory), and half as much again (judgement)."""

GAUGE_SIGMA, COVERED_SIGMA, WHOLE_AREA_SIGMA = 0.05, 0.06, 0.12


def _film(case: Case, laid: Layer, worse: int) -> Fact:
    """The thinnest film on the area against the least that sheet and job allow, or the thickest against the most."""
    limit = _film_limit(case, laid, worse)
    if limit is None:
        return None
    gauged = gauge_readings(case, laid)
    if gauged:
        value = min(gauged) if worse < 0 else max(gauged)
        return Value(value, *limit, sigma=GAUGE_SIGMA, told="by the wet film gauge")
    pieces = [film_of(piece) for piece in laid.pieces]
    known = [
        Value(film, *limit, sigma=COVERED_SIGMA, batch=batch, told=f"batch {batch}: volume over the size covered")
        for film, batch in pieces
        if film is not None
    ]
    if len(known) == len(laid.pieces):
        return worst(known, worse)
    whole = _whole_area_film(case, laid)
    if whole is None:
        far = f"how far batch {laid.batches[0].id} went, and the wet film on {laid.area}"
        return worst([*known, Gap(far, "a chip and a film gauge tell it still")], worse)
    told = "all batches of the area over its size, taken as fully covered"
    return Value(whole, *limit, sigma=WHOLE_AREA_SIGMA, told=told)


def film_of(piece: LayerPiece) -> tuple[float | None, int]:
    """The film that a portion made, in µm, and its batch, if its covered size was stated."""
    portion = piece.portion
    if portion is None or not portion.covered_m2:
        return None, piece.batch.id
    return portion.volume_l / portion.covered_m2 * 1000.0, piece.batch.id


def _whole_area_film(case: Case, laid: Layer) -> float | None:
    """The mean film, mixed volume over size, if every batch of the area went onto this area alone."""
    area = case.standing.site.area(laid.area)
    if area is None or any(piece.portion is None or len(piece.portion.areas) != 1 for piece in laid.pieces):
        return None
    return laid.volume_l / area.size_m2 * 1000.0 if laid.volume_l > 0 else None


def gauge_readings(case: Case, laid: Layer) -> list[float]:
    """Wet films that somebody gauged on this coat, in µm."""
    batches = {batch.id for batch in laid.batches}
    until = case.tack_free(laid)
    return [
        entry.facts.value
        for entry in case.measured
        if isinstance(entry.facts, Measured)
        and entry.facts.quantity.replace("-", " ") == "wet film"
        and (entry.facts.batch in batches or (entry.facts.batch is None and entry.facts.area == laid.area))
        and min(batch.combined.at for batch in laid.batches) <= entry.happened <= until
    ]


def _film_limit(case: Case, laid: Layer, worse: int) -> tuple[float, str] | None:
    wanted, profile = case.wanted_film_um(laid), case.profile(laid)
    sheet = profile.film.wet_um if profile else None
    limits = []
    if wanted is not None:
        share, said = (LEAST_SHARE, "80 %") if worse < 0 else (MOST_SHARE, "150 %")
        source = "ISO 19840, from memory" if worse < 0 else "judgement"
        limits.append((wanted * share, f"{said} of the film that the job asks for ({source})"))
    if sheet is not None:
        limits.append((sheet[0] if worse < 0 else sheet[1], "data sheet's wet film"))
    if not limits:
        return None
    return max(limits) if worse < 0 else min(limits)


THINNEST_FILM = Gauge(
    "film_thin_um",
    "film laid",
    lambda case, laid: _film(case, laid, -1),
    -1,
    None,
    math.log(1.25),
    0.06,
    "least wet film on the sheet, or 80 % of the film that the job asks for (ISO 19840, from memory)",
    "a fifth less film (ISO 19840 refuses single readings under 80 %, from memory)",
    "volume to a cupful, area to a hand's breadth: 6 %; 12 % without a gauge or the covered size (judgement)",
    log=True,
    unit="um",
    setting=film_asked,
)

THICKEST_FILM = Gauge(
    "film_thick_um",
    "film laid",
    lambda case, laid: _film(case, laid, +1),
    +1,
    None,
    math.log(1.3),
    0.06,
    "most wet film on the sheet, else half as much again as the job asks for (judgement)",
    "a third more film than allowed (judgement)",
    "volume to a cupful, area to a hand's breadth: 6 %; 12 % without a gauge or the covered size (judgement)",
    log=True,
    unit="um",
    setting=film_asked,
)
