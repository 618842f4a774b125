"""A bucket that is poured out in strips, judged strip by strip: each by its own pour, and against the one before it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from tests.floorcheck.sheets import Sheet, Weather

MINUTE, SECOND = timedelta(minutes=1), timedelta(seconds=1)
AT_ONCE = 5 * MINUTE
ON_A_STRIP = ("pour", "squeegee", "roll")
EDGES = (("roll", "back-roll"), ("broadcast", "broadcast"))


class Done(NamedTuple):
    """From when to when a step is done on a strip."""

    starts: datetime
    ends: datetime


class StripFault(NamedTuple):
    """What is wrong with a strip."""

    kind: str
    text: str


def strip_faults(
    batch: Mapping[str, Any], rows: Sequence[Any], sheet: Sheet, weather: Weather, wet_edge: bool
) -> Iterator[StripFault]:
    """Everything that is wrong with the strips of one bucket; `rows` are the steps of that batch."""
    count = batch["strips"]
    strips = [_on(rows, strip) for strip in range(1, count + 1)]
    for number, strip in enumerate(strips, start=1):
        said = f"batch {batch['number']}, strip {number} of {count}"
        if any(step not in strip for step in ON_A_STRIP):
            yield StripFault("left out", f"{said}: {', '.join(step for step in ON_A_STRIP if step not in strip)}")
            return
        yield from _alone(strip, said)
        for step, window in EDGES:
            edge = sheet.likely(window, "closes", strip["pour"].ends, weather)
            if edge and step in strip and strip[step].ends > edge + MINUTE:
                yield StripFault(window, f"{said}: {step} ends {strip[step].ends - edge} after the sheet's edge")
        if number > 1:
            edge = sheet.likely("wet-edge", "closes", strips[number - 2]["pour"].ends, weather) if wet_edge else None
            yield from _behind(strips[number - 2], strip, edge, said)
    if len({row.strip for row in rows if row.step == "pour"}) != count:
        yield StripFault("left out", f"batch {batch['number']} is poured out in another number of strips")


def _on(rows: Sequence[Any], strip: int) -> dict[str, Done]:
    mine = [row for row in rows if row.strip == strip]
    return {
        step: Done(
            min(row.starts for row in mine if row.step == step), max(row.ends for row in mine if row.step == step)
        )
        for step in {row.step for row in mine}
    }


def _alone(strip: Mapping[str, Done], said: str) -> Iterator[StripFault]:
    pour, spread = strip["pour"], strip["squeegee"]
    if spread.starts + SECOND < pour.ends:
        yield StripFault("order", f"{said}: it is spread before it is poured")
    if spread.starts > pour.ends + AT_ONCE:
        yield StripFault("left lying", f"{said}: it lies in ribbons for {spread.starts - pour.ends}")
    for step, ahead in (("roll", "squeegee"), ("roll", "cut-in"), ("broadcast", "roll")):
        if step in strip and ahead in strip:
            mine, leader = strip[step], strip[ahead]
            if mine.starts < leader.starts or mine.ends < leader.ends:
                yield StripFault("order", f"{said}: {step} is ahead of {ahead}")


def _behind(
    before: Mapping[str, Done], strip: Mapping[str, Done], edge: datetime | None, said: str
) -> Iterator[StripFault]:
    for step in ("pour", "squeegee"):
        if strip[step].starts + SECOND < before[step].ends:
            yield StripFault("order", f"{said}: {step} before the strip before it is done")
    if edge is not None and strip["squeegee"].starts > edge + MINUTE:
        yield StripFault("joint", f"{said}: it comes {strip['squeegee'].starts - edge} late to the strip before it")
