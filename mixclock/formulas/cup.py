"""What a test cup tells about the resin of its lot: the ensemble gets new weights, and each member its own lot factor.

A sheet's time scatters from lot to lot (σ_s of its logarithm); a cup's end is seen within σ_o. For a member whose cup
would end at t by the sheet's own figure, d = ln(t_seen/t) tells its lot factor: normal with mean d·σ_s²/(σ_s² + σ_o²)
and variance 1/(1/σ_s² + 1/σ_o²); and it weighs the member by the normal density of d with variance σ_s² + σ_o². The
temperatures read in the cup weigh each member further.
"""

import math
from collections.abc import Sequence

from mixclock.formulas.ensemble import Edges, edge_times
from mixclock.formulas.ensemble_draw import SHEET_SIGMA
from mixclock.formulas.ensemble_members import BucketLoad, Calibration, misfits, run_members
from mixclock.formulas.mix import CUP_KG
from mixclock.formulas.ranges import require_positive, require_within
from mixclock.formulas.rate_law import P90_SIGMAS
from mixclock.values import dataclass, replace

END_SIGMA = 0.08
CARRIED_SIGMA = 0.10  # from a cup to a bucket of another mass and warmth (judgement)
AGREE_WITHIN = 0.15  # of the logarithm: two cups that differ by more do not agree (judgement)


@dataclass(frozen=True)
class TestCup:
    """One cup: its mass, warmth, air and readings, and when it ended [s from mixing]; None if nobody saw the end."""

    __test__ = False  # no test of pytest's

    bucket: BucketLoad
    end_s: float | None

    def __post_init__(self) -> None:
        require_within("mass of a test cup", self.bucket.mass_kg, *CUP_KG, "kg")
        if self.end_s is not None:
            require_positive("end of a test cup", self.end_s, "s")


def after_cup(calibration: Calibration, cup: TestCup) -> Calibration:
    """The ensemble after a cup of its lot was seen.

    Args:
        calibration: the product's ensemble, or one that has seen another cup of the lot.
        cup: 0.1 to 0.2 kg, with its temperatures and its end.

    Returns:
        Calibration whose members carry their lot factors and weights; the same members.

    Raises:
        ValueError: a cup of another mass, an end not after mixing.

    Source: Bayes' rule with normal logarithms; σ 8 % of the end and 2 K of a reading are judgement.
    """
    run = run_members(calibration, cup.bucket)
    misfit = misfits(run, calibration)
    if cup.end_s is None:
        return replace(calibration, misfit=misfit)
    known = SHEET_SIGMA if calibration.lot is None else SHEET_SIGMA * END_SIGMA / math.hypot(SHEET_SIGMA, END_SIGMA)
    share, left = known**2 / (known**2 + END_SIGMA**2), known * END_SIGMA / math.hypot(known, END_SIGMA)
    lots, misses = [], []
    before = calibration.lot or [1.0] * calibration.size
    members = zip(before, misfit, run.ends_s[0], _scatter(calibration), strict=True)
    for lot, missed, end_s, spread in members:
        off = math.log(cup.end_s / end_s) + known * spread
        lots.append(lot * math.exp(share * off + (left - known) * spread))
        misses.append(missed + 0.5 * off**2 / (known**2 + END_SIGMA**2))
    return replace(calibration, lot=lots, misfit=misses)


def _scatter(calibration: Calibration) -> list[float]:
    """How far each member's draw lies from its sheet's figure, in standard deviations."""
    from statistics import pstdev  # few lots have a cup

    factors = calibration.drawn.sheet_factor
    logs = [math.fsum(map(math.log, column)) / len(factors) for column in zip(*factors, strict=True)]
    spread = pstdev(logs)
    return [each / spread if spread > 1e-9 else 0.0 for each in logs]


def cup_edges(
    calibration: Calibration,
    cups: Sequence[TestCup],
    bucket: BucketLoad,
    *,
    factor: float = 1.0,
    practice: bool = False,
    hot_floor: bool = True,
) -> tuple[Edges, float]:
    """Early, likely and late of a bucket whose lot was tried in cups, and the lot's factor on its times.

    One cup may shorten times. A single slow cup lengthens none: likely stays the sheet's, the lot's own factor holds
    early back, and only late is the lot's. Two cups that agree may lengthen times. What practice holds back stays held
    back.

    Args:
        calibration: the product's ensemble.
        cups: what was seen of the lot.
        bucket, factor, practice, hot_floor: as for `edge_times`.

    Returns:
        Edges [s from mixing], factor [-].

    Raises:
        ValueError: as for `after_cup` and `edge_times`.

    Source: judgement.
    """
    before = edge_times(calibration, bucket, factor=factor, practice=practice)
    tried = calibration
    for cup in cups:
        tried = after_cup(tried, cup)
    after = _carried(edge_times(tried, bucket, factor=factor, observed=True, practice=practice, hot_floor=hot_floor))
    slower = after.likely_s / before.likely_s
    if slower <= 1.0 or cups_agree(calibration, cups):
        return after, slower
    late_s = None if after.late_s is None else max(after.late_s, before.likely_s)
    held = replace(after, early_s=after.early_s / slower, likely_s=before.likely_s, late_s=late_s)
    return held, slower


def _carried(edges: Edges) -> Edges:
    """The band after a cup, widened by what a cup cannot tell of a bucket. Whatever else holds early back stays."""
    early_s, late_s = edges.early_s, edges.late_s
    if edges.early_by == "spread":
        early_s = edges.likely_s * math.exp(-math.hypot(math.log(edges.likely_s / early_s), P90_SIGMAS * CARRIED_SIGMA))
    if late_s is not None:
        late_s = edges.likely_s * math.exp(math.hypot(math.log(late_s / edges.likely_s), P90_SIGMAS * CARRIED_SIGMA))
    return replace(edges, early_s=early_s, late_s=late_s)


def cups_agree(calibration: Calibration, cups: Sequence[TestCup]) -> bool:
    """Whether two cups or more agree that a lot is slower, and on nearly the same factor."""
    ended = [(cup.bucket, cup.end_s) for cup in cups if cup.end_s is not None]
    if len(ended) < 2:
        return False
    from statistics import median

    off = [math.log(end_s / median(run_members(calibration, cup).ends_s[0])) for cup, end_s in ended]
    return min(off) > 0.0 and max(off) - min(off) <= AGREE_WITHIN
