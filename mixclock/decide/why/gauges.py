"""How each quantity of the record is judged: which way is worse, past which limit, and in which steps.

`step` is how far past the limit a fault is to be expected for sure; `sigma` is how far a recorded figure may be off.
Both are in the unit of the quantity, or natural logarithms where `log` is set (ripeness and shares, which
go by factors). Each has a source, or the word "judgement"; none was fitted to made-up jobs.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Gauge:
    """How one quantity is judged. `worse` is +1 where more is worse, -1 where less is."""

    quantity: str
    says: str
    worse: int
    limit: float | None
    step: float
    sigma: float
    limit_source: str
    step_reason: str
    sigma_reason: str
    log: bool = False
    unit: str = ""

    def past(self, value: float, limit: float) -> float:
        """How far the value is past the limit, in the unit of `step`; negative inside."""
        if self.log:
            return self.worse * math.log(max(value, 1e-6) / max(limit, 1e-6))
        return self.worse * (value - limit)

    def apart(self, value: float, other: float) -> float:
        """How much worse a value is than another, in the unit of `step`."""
        return self.past(value, other)


_BAND_20 = "the band of floor clocks, ±20 % (judgement, kept until observations exist)"
_BAND_25 = "the band of warm buckets, ±25 % (judgement, kept until observations exist)"
_CLOCK = "the band of the clock itself where the window states one, else 20 % (judgement)"
_DEW = "surface thermometer ±0.5 K and hygrometer ±2 % (0.4 K of dew point) taken together (judgement)"
_SHEET = "data sheet"


def _ripeness(quantity: str, says: str, worse: int, factor: float, step_reason: str) -> Gauge:
    return Gauge(quantity, says, worse, 1.0, math.log(factor), 0.18, "ripeness 1 is the data sheet's edge",
                 step_reason, _CLOCK, log=True)  # fmt: skip


_GAUGES = (
    Gauge("dew_margin_min_k", "lowest dew margin until tack free", -1, 3.0, 2.0, 0.6,
          "ISO 8502-4, ISO 12944-7: slab at least 3 K over the dew point is customary",
          "US practice asks 5 °F, Europe 3 K; a margin of 1 K is within the instruments' error of dew (judgement)",
          _DEW, unit="k"),
    Gauge("dew_margin_wet_k", "lowest dew margin until tack free", -1, 0.0, 1.0, 0.6,
          "definition of the dew point: at or below zero water condenses",
          "1 K under the dew point wets a floor within the hour (judgement)", _DEW, unit="k"),
    Gauge("rh_max_pct", "highest humidity until tack free", +1, 85.0, 5.0, 2.5,
          "ISO 8502-4 practice: under 85 %", "5 % is the caution band of `air` (judgement)",
          "hygrometer ±2 to 3 % (judgement)", unit="pct"),
    Gauge("slab_min_c", "coldest slab while it cured", -1, 10.0, 3.0, 0.5,
          "'Epoxy Floor Curing Times': roughly no cure below 10 °C",
          "3 K cost a fifth of the rate at 47 kJ/mol", "surface thermometer ±0.5 K (judgement)", unit="c"),
    Gauge("stand_share", "stand between mixing and pouring, as a share of the induction asked", -1, 1.0,
          math.log(1.5), 0.12, "induction on the data sheet", "a third of the stand left out (judgement)",
          "statements are good to a minute or two in 15 (judgement)", log=True),
    _ripeness("pour_out_ripeness", "pot life used when it was poured", +1, 1.25, _BAND_25),
    _ripeness("back_roll_ripeness", "back-roll window used when it was rolled", +1, 1.2, _BAND_20),
    _ripeness("broadcast_ripeness", "broadcast window used when it was flaked", +1, 1.2, _BAND_20),
    _ripeness("wet_edge_ripeness", "wet edge used when the next batch met it", +1, 1.2, _BAND_20),
    _ripeness("cut_in_ripeness", "wet edge of the cut-in used when the field met it", +1, 1.2, _BAND_20),
    Gauge("film_thin_um", "film laid", -1, None, math.log(1.25), 0.06,
          "least wet film on the sheet, or 80 % of the film that the job asks for (ISO 19840, from memory)",
          "a fifth less film (ISO 19840 refuses single readings under 80 %, from memory)",
          "volume to a cupful, area to a hand's breadth: 6 %; 12 % without a gauge or the covered size (judgement)",
          log=True, unit="um"),
    Gauge("film_thick_um", "film laid", +1, None, math.log(1.3), 0.06,
          "most wet film on the sheet, else half as much again as the job asks for (judgement)",
          "a third more film than allowed (judgement)",
          "volume to a cupful, area to a hand's breadth: 6 %; 12 % without a gauge or the covered size (judgement)",
          log=True, unit="um"),
    Gauge("ratio_error_pct", "error of the mix ratio", +1, 5.0, 5.0, 1.5,
          "sheets allow 2 to 5 % (common practice, no source)", "twice what sheets allow (judgement)",
          "marks on a pail or a shop scale: 1.5 % (judgement)", unit="pct"),
    Gauge("mixing_share", "mixing time as a share of the sheet's", -1, 1.0, math.log(1.5), 0.12,
          "mixing time on the data sheet", "a third of the mixing left out (judgement)",
          "statements are good to some 20 s in 3 min (judgement)", log=True),
    Gauge("slab_rise_k", "rise of the slab from pouring until tack free", +1, 1.0, 2.0, 0.5,
          "'5 common issues with flooring applications': coat on falling temperature; 1 K is twice the meter's error",
          "3 K drive out 1 % of the air in the pores (ideal gas at 293 K)", "surface thermometer ±0.5 K (judgement)",
          unit="k"),
    _ripeness("recoat_opened_ripeness", "recoat window reached when the next coat went on", -1, 1.25, _BAND_25),
    _ripeness("recoat_closed_ripeness", "recoat window used when the next coat went on", +1, 1.25, _BAND_25),
    Gauge("traffic_ripeness", "traffic window reached when traffic was stated", -1, 1.0, math.log(1.6), 0.25,
          "ripeness 1 is the data sheet's edge", "the band of hardness, ×/÷ 1.6 (judgement)", _CLOCK,
          log=True),
    Gauge("absorbed_pct", "resin that went into the slab", +1, 15.0, 15.0, 6.0,
          "common practice, no source: allow 10 to 15 % on bare concrete", "twice that allowance (judgement)",
          "gauge and volume, 6 % each (judgement)", unit="pct"),
    Gauge("volume_excess_pct", "resin used over the healthy areas", +1, 15.0, 15.0, 6.0,
          "common practice, no source: allow 10 to 15 % on bare concrete", "twice that allowance (judgement)",
          "volume and area, 6 % (judgement)", unit="pct"),
    Gauge("texture_csp", "texture of the slab", +1, None, 1.0, 0.5,
          "ICRI 310.2R: CSP 1 to 2 under 6 mil, 3 for 4 to 10 mil, 4 for 10 to 40 mil",
          "one step of the comparators", "comparators are read to half a step (judgement)", unit="csp"),
    Gauge("ph_off", "surface pH outside what is allowed", +1, 0.0, 1.0, 0.4,
          "ASTM D4262: within -1 and +2 of the rinse water (taken as 7 where it was not measured)",
          "one whole step of pH paper", "pH paper is read to half a step (judgement)"),
    Gauge("moisture_over", "moisture of the slab over its limit", +1, 0.0, 0.15, 0.05,
          "data sheet, else ASTM F2170 practice 75 %, ASTM F1869 custom 3 lb, or 4 % by carbide (from memory)",
          "a sixth over the limit (judgement)", "probes ±2 to 3 % (judgement)"),
    Gauge("bucket_max_c", "hottest bucket", +1, 40.0, 15.0, 2.0,
          "15 K over the mix up to 25 °C, 40 °C up to 28 °C, 12 K over the mix above: an alarm by itself (judgement)",
          "at 55 °C the mix is past saving", "probe held in a thick mix (judgement)", unit="c"),
)  # fmt: skip

GAUGES: Mapping[str, Gauge] = MappingProxyType({gauge.quantity: gauge for gauge in _GAUGES})
