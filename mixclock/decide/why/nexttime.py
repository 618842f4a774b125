"""What to set differently next time, for each cause that the record shows."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.decide.why.case import Case
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.suspects import Suspect


def next_time(case: Case, area: str, suspects: Sequence[Suspect]) -> tuple[str, ...]:
    """Settings that would have kept the shown causes inside their limits."""
    found: list[str] = []
    for suspect in suspects:
        layer = case.layers.get((area, suspect.coat))
        for item in suspect.evidence if layer is not None else ():
            source = item.source
            if isinstance(source, Gauge) and source.setting and layer is not None and isinstance(item.value, float):
                found += source.setting(case, layer, item)
    return tuple(found)
