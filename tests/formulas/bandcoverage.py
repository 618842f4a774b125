"""Do early and late hold the truth? Over synthetic resins that are wider than the ensemble.

    python -m tests.formulas.bandcoverage [COUNT]      prints a line per family

Limits, set before any result was seen: the truth lies between early and late in at least 80 % (that is what the 10th
and 90th percentile promise), before early in at most 10 %, and the median of (late − early)/likely is at most 0.7, so
that a band cannot be bought by width. A bucket for which no late edge is claimed has no width; its truth is inside
when it is not before early.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass

from mixclock.formulas.bucket import BucketShape
from mixclock.formulas.ensemble import BucketLoad, SheetPot, edge_times
from mixclock.formulas.ensemble_members import calibrate_ensemble
from tests.formulas.truths import Case, draw_cases

SEED = 20260413
INSIDE_AT_LEAST, BEFORE_AT_MOST, WIDTH_AT_MOST = 0.80, 0.10, 0.70


@dataclass(frozen=True)
class Held:
    """One bucket's answer beside its truth."""

    family: str
    early_s: float
    likely_s: float
    late_s: float | None
    true_s: float

    @property
    def before(self) -> bool:
        return self.true_s < self.early_s

    @property
    def inside(self) -> bool:
        return not self.before and (self.late_s is None or self.true_s <= self.late_s)


@dataclass(frozen=True)
class Summary:
    """Shares over some buckets."""

    count: int
    inside: float
    before: float
    width: float
    banded: int
    banded_inside: float
    bias: float


def answer(case: Case) -> Held:
    """What the product says of a bucket, knowing only its sheet, mass, vessel and temperatures."""
    sheet = SheetPot(case.sheet.points, case.sheet.mass_kg, case.sheet.end, case.sheet.body)  # type: ignore[arg-type]
    bucket = BucketLoad(case.mass_kg, case.material_c, case.air_c, BucketShape(across_m=case.across_m))
    edges = edge_times(calibrate_ensemble(sheet), bucket)
    return Held(case.family, edges.early_s, edges.likely_s, edges.late_s, case.true_s)


def summarise(held: Sequence[Held]) -> Summary:
    """Shares of truths inside the band and before it, and the median width."""
    banded = [one for one in held if one.late_s is not None]
    widths = [(one.late_s - one.early_s) / one.likely_s for one in banded if one.late_s is not None]
    return Summary(
        len(held),
        sum(one.inside for one in held) / len(held),
        sum(one.before for one in held) / len(held),
        statistics.median(widths) if widths else math.nan,
        len(banded),
        sum(one.inside for one in banded) / len(banded) if banded else math.nan,
        statistics.median(math.log(one.true_s / one.likely_s) for one in held),
    )


def main(count: int) -> None:
    """Print the table."""
    began = time.perf_counter()
    held = [answer(case) for case in draw_cases(count, SEED)]
    families = {one.family: [other for other in held if other.family == one.family] for one in held}
    print(f"{'':32}{'n':>6}{'inside':>9}{'before':>9}{'width':>8}{'banded':>8}{'inside':>9}{'ln bias':>9}")
    for name, members in {**families, "all": held}.items():
        s = summarise(members)
        shares = f"{s.inside:9.1%}{s.before:9.1%}{s.width:8.2f}{s.banded:8d}{s.banded_inside:9.1%}{s.bias:9.2f}"
        print(f"{name:32}{s.count:6d}{shares}")
    print(f"{time.perf_counter() - began:.1f} s for {count} truths")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
