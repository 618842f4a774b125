"""The plan that a foreman would choose: the earliest finish in which the material keeps its windows on 95 of 100 days
and the crew is home in its hours on 80, where any plan does; or one that holds as often as somebody asks for.

The soonest plan leaves nothing to spare: on a day with slower hands or warmer air it breaks. So plans with a share of
every window in reserve are looked at, as far as the days of the soonest one promise that it could be enough; where a
recoat or the hours break, also those whose coat below starts at another hour, earlier or later. All are only roughed
out; the one with the smallest reserve that holds is worked out, and the soonest plan is told beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import islice

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.planner import make_plan, starts_for
from mixclock.decide.plan.days.waits import APART
from mixclock.decide.plan.floor.meter import WORK_A_SECOND
from mixclock.decide.plan.floor.plans import Plan, SoonestFinish
from mixclock.decide.plan.judge.chance import chances_with
from mixclock.decide.plan.judge.trying import A_TRY, BoundedWays, Purse, quick_plan
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import in_file_order
from mixclock.job.steps import RECOAT
from mixclock.values import dataclass, replace

WINDOWS_HOLD = 0.95
HOURS_HOLD = 0.80
RESERVES = (0.92, 0.84, 0.74, 0.62)
FORESEEN_WITHIN = 0.035
"""A plan with more in reserve holds by no more than so much oftener than the soonest one's days promise: on 25 floors
but one, where it took a bucket more."""

WELL_OVER, MOST_SURE = 0.012, 0.999
"""A plan may keep less in reserve if it holds by so much oftener than wanted and has more buckets than was foreseen."""

STEADIED_WITHIN = round(4.5 * WORK_A_SECOND)
"""When a choice has taken so much work and a plan that holds is known, none with less in reserve is looked for any
more: that one is still to be worked out."""

WORTH_TELLING = timedelta(minutes=5)
"""A plan is told beside a likelier one only if it ends at least so much sooner."""

NOT_STEADY = (
    "no plan that was found keeps bucket, wet edge, flake, recoat and weather on 95 of 100 days; this one does on "
    "{share:.0f} %"
)
LATE_HOME = "the work ends in working hours on {share:.0f} % of days only"
CANT_MEET = "the wet edge of {area} can't be met in time: tape a straight line there by {by}"
NOT_SURE = "it holds on {holds:.0f} % of days, {share:.0f} % were asked for; the first to break: {first}"
OTHER_START = "{coat} begins at {at} and not at {before}: the windows then hold on {now} % of days, not {was} %"


@dataclass(frozen=True)
class WantedShares:
    """On which share of days the windows of the material, the working hours and the whole plan are to hold."""

    windows: float = WINDOWS_HOLD
    hours: float = HOURS_HOLD
    whole: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a share that no plan can reach, or that is no share."""
        if not 0.0 <= self.whole < 1.0:
            raise ValueError(f"the share of days must lie between 0 and 1, got {self.whole}")

    def is_met(self, plan: Plan) -> bool:
        """Whether a plan holds often enough to be worked by."""
        return plan.chance is not None and self.nearness(plan)[0] >= 1.0

    def nearness(self, plan: Plan) -> tuple[float, float]:
        """How near a plan comes to what is wanted (1 if it reaches that), and how often it holds."""
        chance = plan.chance
        if chance is None:
            return 0.0, 0.0
        found = ((chance.windows_hold, self.windows), (chance.hours_hold, self.hours), (chance.holds, self.whole))
        return min((1.0, *((share or 0.0) / wanted for share, wanted in found if wanted))), chance.holds


AS_A_FOREMAN = WantedShares()


def on_days(share: float) -> WantedShares:
    """That the whole plan holds on such a share of days."""
    return WantedShares(0.0, 0.0, share)


def foreman_plan(
    bench: Bench,
    ways: Ways | None = None,
    standpoint: Standpoint | None = None,
    seed: int = 1,
    wanted: WantedShares = AS_A_FOREMAN,
) -> Plan:
    """The plan with its chance, the soonest beside it; a plan that does not fit at all comes back as it is."""
    whole = replace(bench, site=replace(bench.site, coats=in_file_order(bench.site.coats)))
    return _Foreman(whole, ways or Ways(), standpoint or Standpoint(), seed, wanted).choose()


class _Foreman:
    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint, seed: int, wanted: WantedShares) -> None:
        self.bench, self.ways, self.standpoint = bench, ways, standpoint
        self.seed, self.wanted = seed, wanted
        self.foreseen: list[tuple[Plan, list[Plan]]] = []
        self.purse = Purse.of(ways.meter, STEADIED_WITHIN)

    def choose(self) -> Plan:
        soonest = self._made(self.bench, self.standpoint, ways=replace(self.ways, briefly=True, any_hands=True))
        taped: tuple[str, ...] = ()
        if soonest.obstacle is not None and not self.ways.stop():
            soonest = self._looked_at_quickly(soonest)
        if soonest.obstacle is not None:
            soonest, taped = self._with_edges_taped(soonest, soonest.obstacle.coat)
        best = self._to_the_minute(soonest) if self._is_met(soonest) else self._steady(soonest)
        return replace(best, warnings=(*taped, *best.warnings))

    def _looked_at_quickly(self, refused: Plan) -> Plan:
        """A refused floor looked at once more, as what would free a floor is looked for: with less effort, but some
        walks meet a plan that the longer search passes by. So what was told to free a floor does."""
        purse = Purse.of(self.ways.meter, A_TRY)
        plan, _ = quick_plan(self.bench, self.ways, self.standpoint, purse)
        return self._with_chance(plan) if plan.feasible else refused

    def _with_edges_taped(self, refused: Plan, coat: str | None) -> tuple[Plan, tuple[str, ...]]:
        """A plan that leaves the wet edges of what lies already, each at a taped line, and what the crew is told of
        them. Where no crew meets them any more, that is what it does. The plan as it was where it frees nothing."""
        at = self.standpoint
        edges = {area: by for (name, area), by in at.edges.items() if name == coat}
        if not edges or self.ways.stop():
            return refused, ()
        freed = at.leaving_edges_of(coat)
        plan = self._made(self.bench, freed)
        if not plan.feasible:
            return refused, ()
        self.standpoint = freed
        units, zone = self.bench.site.units, self.bench.site.wall
        said = (CANT_MEET.format(area=area, by=units.write_clock(by, zone)) for area, by in edges.items())
        return plan, tuple(said)

    def _is_met(self, soonest: Plan) -> bool:
        """Whether the soonest plan will do, or none fits at all."""
        return soonest.chance is None or self.wanted.is_met(soonest)

    def _to_the_minute(self, roughly: Plan) -> Plan:
        """The soonest plan with all effort, where it holds as well as one that was soon found."""
        if roughly.chance is None or self.ways.stop():
            return roughly
        plan = self._made(self.bench, self.standpoint)
        return plan if self.wanted.is_met(plan) and _finish(plan) <= _finish(roughly) else roughly

    def _steady(self, soonest: Plan) -> Plan:
        assert soonest.chance is not None
        tried = [soonest, *self._steadier(soonest)]
        met = [plan for plan in tried if self.wanted.is_met(plan)]
        best = min(met, key=_finish) if met else max(tried, key=self.wanted.nearness)
        said = [*self._other_starts(soonest, best), *(() if met else self._unmet(best))]
        sooner = _finish(best) - _finish(soonest) >= WORTH_TELLING
        beside = SoonestFinish(_finish(soonest), soonest.chance.holds) if sooner else None
        return replace(
            best,
            soonest=beside,
            warnings=(*best.warnings, *said),
            stopped_early=best.stopped_early or self.ways.stop(),
        )

    def _steadier(self, soonest: Plan) -> Iterator[Plan]:
        """Plans with more and more in reserve until one holds; by other starts first where a recoat or the hours
        break."""
        starts, rough = self.standpoint, [soonest]
        for other in self._starts_to_try(soonest):
            rough.append(self._made(self.bench, other, rough=True))
            if self.wanted.nearness(rough[-1]) > self.wanted.nearness(max(rough[:-1], key=self.wanted.nearness)):
                starts = other
        if self.wanted.is_met(max(rough, key=self.wanted.nearness)):
            yield from (max(rough, key=self.wanted.nearness), self._made(self.bench, starts))
            return
        yield from (plan for plan in rough if plan.chance is not None)
        least = self._least_foreseen(max(rough, key=self.wanted.nearness))
        found = list(self._with_reserve(starts, RESERVES[least:]))
        if not found:
            others = (self._keeping(less, starts, True) for less in reversed(RESERVES[:least]) if not self.ways.stop())
            found = list(islice((plan for plan in others if plan.chance is not None), 1))
        elif least and all(self._is_well_over(plan) for plan in found):
            found += self._with_reserve(starts, RESERVES[least - 1 : least])
        yield from found

    def _least_foreseen(self, plan: Plan) -> int:
        """The place of the smallest reserve that may be enough, as a plan's own days promise. If none is: of the
        largest."""
        foreseen = next((ahead for known, ahead in self.foreseen if known is plan), [plan] * len(RESERVES))
        near = [self.wanted.nearness(each)[0] >= 1.0 - FORESEEN_WITHIN for each in foreseen]
        return near.index(True) if any(near) else len(RESERVES) - 1

    def _is_well_over(self, plan: Plan) -> bool:
        """Whether a plan holds so often that less in reserve may be enough, whatever was foreseen."""
        wanted = (self.wanted.windows, self.wanted.hours, self.wanted.whole)
        return WantedShares(*(min(share + WELL_OVER, MOST_SURE) if share else 0.0 for share in wanted)).is_met(plan)

    def _with_reserve(self, starts: Standpoint, reserves: Sequence[float]) -> Iterator[Plan]:
        """Roughed out, the way between too little and enough in reserve halved each time; then the one with the least
        that is enough, worked out. Of one reserve a plan of one coat is worked out at once."""
        low, high, enough = 0, len(reserves), 1.0
        rough = high > 1 or len(self.bench.site.coats) > 1
        while low < high and not self.ways.stop():
            at = (low + high) // 2
            plan = self._keeping(reserves[at], starts, rough, enough < 1.0)
            if plan.chance is not None:
                yield plan
            if plan.chance is None or self.wanted.is_met(plan):
                high, enough = at, reserves[at] if plan.chance is not None else enough
            else:
                low = at + 1
        if enough < 1.0 and rough and not self.ways.stop():
            yield self._keeping(enough, starts)

    def _keeping(self, reserve: float, starts: Standpoint, rough: bool = False, bounded: bool = False) -> Plan:
        """A plan with so much in reserve. Bounded, it has no chance where the work for it was used up."""
        self.ways.progress(f"keeping {1 - reserve:.0%} of every window in reserve", 0.8)
        at = replace(self.bench, reserve=reserve)
        if not bounded:
            return self._made(at, starts, rough)
        purse = BoundedWays(self.ways, self.purse)
        plan = self._made(at, starts, rough, purse.thorough())
        return replace(plan, chance=None) if purse.gave_up else plan

    def _starts_to_try(self, soonest: Plan) -> list[Standpoint]:
        """Other hours at which a coat below may begin, those that leave most to spare first, where a recoat or the end
        of the day breaks the plan oftener than is wanted."""
        chance, at = soonest.chance, self.standpoint
        if chance is None:
            return []
        recoat = any(RECOAT in name and share > 1.0 - WINDOWS_HOLD for name, share in chance.breaks)
        late = (chance.hours_hold or 0.0) < HOURS_HOLD
        found = starts_for(self.bench, soonest) if recoat or late else []
        return [replace(at, starts={**at.starts, **each}) for each in found]

    def _made(self, bench: Bench, standpoint: Standpoint, rough: bool = False, ways: Ways | None = None) -> Plan:
        """A plan, with its chance where it fits."""
        return self._with_chance(
            make_plan(bench, replace(ways or self.ways, rough=rough or self.ways.rough), standpoint)
        )

    def _with_chance(self, plan: Plan) -> Plan:
        if not plan.feasible or not plan.steps:
            return plan
        chance, ahead = chances_with(plan, self.bench, RESERVES, self.seed)
        made = replace(plan, chance=chance)
        self.foreseen.append((made, [replace(plan, chance=each) for each in ahead]))
        return made

    def _other_starts(self, soonest: Plan, best: Plan) -> Iterator[str]:
        """Which coats begin at another hour than they could, and what that is good for."""
        was, now = ((plan.chance.windows_hold if plan.chance else None) or 0.0 for plan in (soonest, best))
        units, zone = self.bench.site.units, self.bench.site.wall
        for coat in self.bench.site.coats[:-1]:
            begun = [_begins(plan, coat.name) for plan in (soonest, best)]
            if begun[0] is not None and begun[1] is not None and now > was and abs(begun[1] - begun[0]) >= APART:
                days = len({at.astimezone(zone).date() for at in begun if at is not None}) > 1
                said = [
                    f"{at.astimezone(zone):%a} " * days + units.write_clock(at, zone) for at in begun if at is not None
                ]
                yield OTHER_START.format(
                    coat=coat.name, at=said[1], before=said[0], now=_in_hundredths(now), was=_in_hundredths(was)
                )

    def _unmet(self, plan: Plan) -> Iterator[str]:
        chance = plan.chance
        if chance is None:
            return
        if self.wanted.whole:
            first = chance.breaks[0][0] if chance.breaks else "nothing"
            yield NOT_SURE.format(holds=_in_hundredths(chance.holds), share=100.0 * self.wanted.whole, first=first)
        if (chance.windows_hold or 0.0) < self.wanted.windows:
            yield NOT_STEADY.format(share=_in_hundredths(chance.windows_hold))
        if (chance.hours_hold or 0.0) < self.wanted.hours:
            yield LATE_HOME.format(share=_in_hundredths(chance.hours_hold))


def _in_hundredths(share: float | None) -> int:
    """A share that is too small, in percent, rounded so that it never reads as if it were enough.

    >>> _in_hundredths(0.9496), _in_hundredths(0.29), _in_hundredths(None)
    (94, 29, 0)
    """
    return math.floor((share or 0.0) * 100.0 + 1e-9)


def _finish(plan: Plan) -> datetime:
    assert plan.finish is not None
    return plan.finish


def _begins(plan: Plan, coat: str) -> datetime | None:
    """When the first bucket of a coat is begun, with measuring out."""
    return min((step.starts for step in plan.steps if step.coat == coat and step.batch is not None), default=None)
