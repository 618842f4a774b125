"""The page's steppers and readings in the crew's units. The page itself converts nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from mixclock.board.house import CoatChoice
from mixclock.decide.conditions import LEAST_MARGIN_K
from mixclock.job.statements import ReadingStatement
from mixclock.units import CrewUnits, Scale

Json = Mapping[str, Any]
LEAST_AMOUNT = 0.5
USUAL = (("slab_c", "Slab", 15.0), ("air_c", "Air", 18.0), ("rh_pct", "Humidity", 60.0))
"""What can be read at a touch, and where its stepper begins before anything was read."""
CUP_BEGINS_C = 21.0
"""Where the stepper of a cup begins before it was read."""


def reading_gauges(told: Json, units: CrewUnits) -> list[dict[str, Any]]:
    """A stepper for each value of a reading, beginning at the last one."""
    return [
        {"verb": ReadingStatement.verb, "label": label, **_gauge(key, units, told.get(key), usual)}
        for key, label, usual in USUAL
    ]


def cup_gauge(last_c: float | None, units: CrewUnits) -> dict[str, Any]:
    """A stepper for the warmth of a test cup, in whole degrees: it warms fast, and a stick reads no finer."""
    gauge = {**_gauge("temp_c", units, last_c, CUP_BEGINS_C), "step": 1.0, "digits": 0}
    return {**gauge, "start": round(gauge["start"])}


def _gauge(key: str, units: CrewUnits, read: float | None, usual: float) -> dict[str, Any]:
    scale, value = _scale(key, units), usual if read is None else read
    step = 0.5 if scale.unit == "°C" else 1.0
    return {**_stepper(key, scale, step), "start": round(scale.shown(value) / step) * step}


def amount_gauge(choice: CoatChoice, units: CrewUnits) -> dict[str, Any]:
    """A stepper for how much of a coat is mixed. It begins at one kit and moves by half a unit of the crew's."""
    by_weight = choice.mass_kg is not None and not choice.volume_l
    key = "mass_kg" if by_weight else "volume_l"
    scale = _scale(key, units)
    kit = choice.volume_l or choice.mass_kg or 5.0
    start = max(LEAST_AMOUNT, round(scale.shown(kit) / LEAST_AMOUNT) * LEAST_AMOUNT)
    return {**_stepper(key, scale, LEAST_AMOUNT), "start": start, "least": LEAST_AMOUNT}


def spot_gauge(units: CrewUnits) -> dict[str, Any]:
    """A stepper for a small mix, in millilitres or fluid ounces."""
    step, start = (2.0, 10.0) if units.is_us else (50.0, 300.0)
    return {**_stepper("volume_l", units.scale("small_l"), step), "start": start, "least": step}


def _stepper(key: str, scale: Scale, step: float) -> dict[str, Any]:
    return {"key": key, "unit": scale.unit, "per": scale.per, "zero": scale.zero, "step": step,
            "digits": 1 if step < 1.0 else 0}  # fmt: skip


def _scale(key: str, units: CrewUnits) -> Scale:
    return units.scale(key.rsplit("_", 1)[1])


def conditions_said(told: Json, units: CrewUnits) -> Iterator[dict[str, Any]]:
    """What was read, row by row; the margin is never rounded up towards safety."""
    for key, label, _ in USUAL:
        if (value := told.get(key)) is not None:
            scale = _scale(key, units)
            digits = 1 if key.endswith("_c") and not units.is_us else 0
            yield {"key": key, "label": label, "words": f"{scale.shown(value):.{digits}f} {scale.unit}"}
    margin_k = told.get("margin_k")
    if margin_k is not None:
        words = f"{units.write_margin(margin_k).lstrip('-−')} {'under' if margin_k < 0 else 'over'} the dew point"
        low = margin_k < LEAST_MARGIN_K
        yield {"key": "margin_k", "label": "Dew margin", "words": words, "low": low}
    elif told.get("slab_c") is None and told.get("air_c") is not None:
        yield {"key": "margin_k", "label": "Dew margin", "words": "read the slab in its coldest corner", "low": True}
    if told.get("verdict"):
        said = [told["verdict"], *list(told.get("reasons") or ())[:2]]
        yield {"key": "verdict", "label": "Go or no-go", "words": ": ".join(said)}
