"""How many pails and tools a plan takes at once, and which of its buckets are too small to mix but on scales."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from mixclock.decide.plan.floor.plans import Plan, PlannedBatch
from mixclock.units import CrewUnits

SMALL_L = 1.0
"""Under a litre a bucket is for a patch, a cove or a repair: a spoon too much of B changes it (judgement)."""

TOOLS = ("squeegee", "roll", "cut-in")
Span = tuple[datetime, datetime]


def tools_at_once(plan: Plan) -> dict[str, int]:
    """The most that is in use at one moment: pails with mixed resin in them, and each tool of the floor."""
    held = []
    for batch in plan.batches:
        mix = [step.starts for step in plan.steps if (step.batch, step.kind) == (batch.number, "mix")]
        pour = [step.ends for step in plan.steps if (step.batch, step.kind) == (batch.number, "pour")]
        held += [(min(mix), max(pour))] if mix and pour else []
    found = {"pail": _most(held)}
    for kind in TOOLS:
        found[kind] = _most((step.starts, step.ends) for step in plan.steps if step.kind == kind)
    return {name: count for name, count in found.items() if count}


def _most(spans: Iterable[Span]) -> int:
    """How many spans have a moment in common."""
    edges = [edge for starts, ends in spans for edge in ((starts, 1), (ends, -1))]
    most = now = 0
    for _, change in sorted(edges):
        now += change
        most = max(most, now)
    return most


def small_buckets(plan_batches: Iterable[PlannedBatch], units: CrewUnits) -> Iterator[str]:
    """What is said of buckets under a litre, coat by coat."""
    batches = list(plan_batches)
    for coat in dict.fromkeys(batch.coat for batch in batches):
        mine = [batch for batch in batches if batch.coat == coat]
        small = [batch for batch in mine if batch.volume_l < SMALL_L]
        if small and not (len(mine) == 1 and small):
            count = f"{len(small)} of the {len(mine)} buckets" if len(small) < len(mine) else f"all {len(mine)} buckets"
            yield (
                f"{coat}: {count} hold under {units.write_volume(SMALL_L)}, the most that this crew lays in its time; "
                "weigh both parts on scales to the gram, or have one person more for larger ones"
            )
