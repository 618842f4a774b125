"""The plan that a foreman would choose: the earliest finish in which the material keeps its windows on 95 of 100 days
and the crew is home in its hours on 80, where any plan does.

The soonest plan leaves nothing to spare: on a day with slower hands or warmer air it breaks. So plans with a share of
every window in reserve are made, the smallest reserve first; where a recoat breaks first, also one whose coat below
starts at the hour that leaves most to spare. The soonest plan is told beside the one that is chosen.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from mixclock.decide.plan.days.planner import Bench, Standpoint, make_plan, starts_for
from mixclock.decide.plan.floor.plans import Plan, SoonestFinish
from mixclock.decide.plan.judge.chance import DEFAULT_DAYS, USUAL, Spreads, chance_of
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.steps import RECOAT
from mixclock.values import replace

WINDOWS_HOLD = 0.95
HOURS_HOLD = 0.80
RESERVES = (0.92, 0.84, 0.74, 0.62)
FAR_OFF = 0.7
"""Under this share the smallest reserve is not tried: it was never enough (judgement)."""

NOT_STEADY = (
    "no plan that was found keeps bucket, wet edge, flake and recoat on 95 of 100 days; this one does on {share:.0%}"
)
LATE_HOME = "the work ends in working hours on {share:.0%} of days only"


def foreman_plan(
    bench: Bench,
    ways: Ways | None = None,
    standpoint: Standpoint | None = None,
    seed: int = 1,
    *,
    days: int = DEFAULT_DAYS,
    spreads: Spreads = USUAL,
) -> Plan:
    """The plan with its chance, the soonest beside it; a plan that does not fit at all comes back as it is."""
    return _Foreman(bench, ways or Ways(), standpoint or Standpoint(), seed, days, spreads).choose()


def is_steady(plan: Plan) -> bool:
    """Whether a plan holds often enough to be worked by."""
    chance = plan.chance
    return (
        chance is not None and (chance.windows_hold or 0.0) >= WINDOWS_HOLD and (chance.hours_hold or 0.0) >= HOURS_HOLD
    )


class _Foreman:
    def __init__(
        self, bench: Bench, ways: Ways, standpoint: Standpoint, seed: int, days: int, spreads: Spreads
    ) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.seed, self.days, self.spreads = seed, days, spreads

    def choose(self) -> Plan:
        soonest = make_plan(self.bench, self.ways, self.standpoint)
        if not soonest.feasible or not soonest.steps or soonest.finish is None:
            return soonest
        soonest = self._with_chance(soonest)
        if is_steady(soonest):
            return soonest
        tried = [soonest]
        for plan in self._steadier(soonest):
            tried.append(plan)
            if is_steady(plan):
                break
        steady = [plan for plan in tried if is_steady(plan)]
        best = min(steady, key=_finish) if steady else max(tried, key=_steadiness)
        said = () if steady else tuple(_unsteady(best))
        beside = (
            None if best is soonest or soonest.chance is None else SoonestFinish(_finish(soonest), soonest.chance.holds)
        )
        return replace(best, soonest=beside, warnings=(*best.warnings, *said))

    def _steadier(self, soonest: Plan) -> Iterator[Plan]:
        """Plans with more and more in reserve; by other starts first where a recoat breaks first."""
        starts = self.standpoint
        if soonest.chance is not None and any(RECOAT in name for name, _ in soonest.chance.breaks[:1]):
            starts = replace(starts, starts={**starts.starts, **starts_for(self.bench, soonest)})
            yield from self._made(self.bench, starts)
        hold = (soonest.chance.windows_hold if soonest.chance else None) or 0.0
        for reserve in RESERVES[1:] if hold < FAR_OFF else RESERVES:
            if self.ways.stop():
                return
            self.ways.progress(f"keeping {1 - reserve:.0%} of every window in reserve", 0.8)
            made = list(self._made(replace(self.bench, reserve=reserve), starts))
            if not made:
                return
            yield from made

    def _made(self, bench: Bench, standpoint: Standpoint) -> Iterator[Plan]:
        plan = make_plan(bench, self.ways, standpoint)
        if plan.feasible and plan.steps:
            yield self._with_chance(plan)

    def _with_chance(self, plan: Plan) -> Plan:
        return replace(plan, chance=chance_of(plan, self.bench, self.days, self.seed, self.spreads))


def _finish(plan: Plan) -> datetime:
    assert plan.finish is not None
    return plan.finish


def _steadiness(plan: Plan) -> tuple[float, float]:
    chance = plan.chance
    if chance is None:
        return 0.0, 0.0
    windows, hours = chance.windows_hold or 0.0, chance.hours_hold or 0.0
    return min(windows / WINDOWS_HOLD, hours / HOURS_HOLD), chance.holds


def _unsteady(plan: Plan) -> Iterator[str]:
    chance = plan.chance
    if chance is not None and (chance.windows_hold or 0.0) < WINDOWS_HOLD:
        yield NOT_STEADY.format(share=chance.windows_hold or 0.0)
    if chance is not None and (chance.hours_hold or 0.0) < HOURS_HOLD:
        yield LATE_HOME.format(share=chance.hours_hold or 0.0)
