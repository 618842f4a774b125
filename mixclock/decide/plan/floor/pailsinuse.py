"""How many pails and tools a plan takes at once, and which of its buckets are too small to mix but on scales."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime

from mixclock.decide.plan.floor.plans import Plan, PlannedBatch
from mixclock.decide.plan.floor.quantities import LEAST_BUCKET_L, least_l
from mixclock.job.profile import Profile
from mixclock.job.site import Site

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


def small_buckets(batches: Iterable[PlannedBatch], site: Site, profiles: Mapping[str, Profile]) -> Iterator[str]:
    """What is said of measured buckets that hold under a litre, coat by coat."""
    known = list(batches)
    for coat in site.coats:
        mine = [batch for batch in known if batch.coat == coat.name]
        small = [batch for batch in mine if batch.volume_l < least_l(coat, profiles[coat.product.casefold()]) - 1e-6]
        if small:
            count = "its bucket holds" if len(mine) == 1 else f"{len(small)} of {len(mine)} buckets hold"
            count = f"all {len(mine)} buckets hold" if len(small) == len(mine) > 1 else count
            yield f"{coat.name}: {count} under {site.units.write_volume(LEAST_BUCKET_L)}; weigh both parts to the gram"
