"""One coat over the days at hand: in which stretch of working time, from which hour, and how far on each day."""

from __future__ import annotations

import math
from datetime import datetime, timedelta
from itertools import pairwise

from mixclock.decide.plan.days.besides import breaks_within, set_up
from mixclock.decide.plan.days.coattask import STOPPED, CoatRefusal, CoatTask, HopelessWindows, Session
from mixclock.decide.plan.days.refusals import impossible, why_not
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.crew import clean_up_s
from mixclock.decide.plan.floor.films import bounds_from, stops
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.setting import CoatSetting, Spec
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.divisions import fewest
from mixclock.decide.plan.search.proofs import open_in_time
from mixclock.decide.plan.search.schedule import (
    StretchPlan,
    Ways,
    floor_bound,
    lay,
    lay_live,
    may_be_over_by,
    sooner,
)
from mixclock.job import practice
from mixclock.job.steps import RECOAT
from mixclock.values import replace

HOUR = timedelta(hours=1)
MOST_HOURS_TRIED = 8
MOST_HOURS_IN_VAIN = 3
"""After this many hours with different windows and no plan, the other hours of that day are not tried (judgement)."""
LONGER = 1.1
"""Another hour is tried only if some window then lasts a tenth longer. Less would not save one batch in ten
(judgement)."""

MORE_BUCKETS = 2
"""If the day is too short, up to this many more buckets are tried (judgement)."""
VAGUE = ("hours", "unopened")


def live_alone(task: CoatTask) -> list[Session]:
    """A coat that is all poured, with steps still to do."""
    begins = min(task.people_free, default=task.setting.begins)
    chain = CoatChain(
        _setting(replace(task, waiting=tuple(w for w in task.waiting if not w[0].first)), (), begins, None)
    )
    return [Session(begins, lay_live(chain))]


def over_the_days(
    task: CoatTask, pieces: tuple[FloorPiece, ...], stretches: list[Stretch], ways: Ways
) -> list[Session] | CoatRefusal:
    """These pieces of floor in one stretch after another, each as far as the crew gets, or what is in the way."""
    sessions: list[Session] = []
    left = pieces
    refused, by_clocks = CoatRefusal("hours"), True
    free = task.people_free
    hopeless: list[HopelessWindows] = []
    for stretch in stretches:
        if ways.stop() and not sessions:
            return CoatRefusal(STOPPED)
        if _is_overdue(task, stretch):
            by_clocks = False
            break
        now = replace(task, people_free=free, more_days=stretch is not stretches[-1])
        found = _in_stretch(now, left, stretch, ways, hopeless)
        if isinstance(found, CoatRefusal):
            refused = min(refused, found, key=_least_telling)
            by_clocks = by_clocks and (found.by_clocks or found.constraint == "unopened")
            continue
        sessions.append(found)
        done = {area for wait in found.laid.chain.setting.waiting for area in wait.areas}
        task = replace(task, waiting=tuple(w for w in task.waiting if w[0].first and not done & set(w[0].areas)))
        left = left[found.laid.chain.pieces :]
        hopeless = []
        if not left:
            return sessions
        free = found.people_free
    return replace(refused, by_clocks=by_clocks and not sessions)


def _is_overdue(task: CoatTask, stretch: Stretch) -> bool:
    """Whether something is late that lies already, and this stretch begins long after now: it can't wait for that."""
    late = any(wait.at_once and not wait.first for wait, _, _ in task.waiting)
    return late and stretch.start > task.setting.begins + HOUR


def _least_telling(refused: CoatRefusal) -> int:
    """The rank of a refusal, the least telling last. A window that this crew can't keep tells more than a short day or
    a floor that is not open yet."""
    return VAGUE.index(refused.constraint) if refused.constraint in VAGUE else -1


def _in_stretch(
    task: CoatTask, pieces: tuple[FloorPiece, ...], stretch: Stretch, ways: Ways, hopeless: list[HopelessWindows]
) -> Session | CoatRefusal:
    """The earliest hour of the stretch at which the rest of the coat fits, or a later one with fewer batches.

    `hopeless` collects windows that allow no order of work although nothing else is in the way. Another day with no
    better windows need not be searched. If a day was too short, that holds only for days that are no longer.
    """
    begins = _earliest(task, stretch)
    if begins is None:
        return CoatRefusal("unopened")
    best: Session | None = None
    refused, by_clocks = CoatRefusal("hours"), True
    seen: list[Spec] = []
    at_first = CoatChain(_setting(task, pieces, begins, None), ways.meter)
    for tried in range(MOST_HOURS_TRIED):
        hour = begins + tried * HOUR
        if hour >= stretch.end or _no_more_hours(task, best, len(seen)):
            break
        # once there is a plan, its largest batch alone decides
        windows = at_first.spec_of_a_kilogram(hour) if best is None else seen[-1]
        length_s = (stretch.end - hour).total_seconds()
        if (
            any(_no_better(windows, each) for each in seen)
            if best is None
            else not _could_be_fewer(at_first, hour, best)
        ):
            continue
        if best is None and any(_no_better(windows, other.windows) and length_s <= other.upto_s for other in hopeless):
            refused = refused if tried else hopeless[-1].refused
            by_clocks = by_clocks and hopeless[-1].refused.by_clocks
            continue
        if tried and ways.stop():
            break  # asked only before a search, so that a look is worth about the same everywhere
        seen.append(windows)
        found = _at_hour(task, pieces, hour, stretch, ways)
        if isinstance(found, CoatRefusal):
            refused = found if tried == 0 else refused
            by_clocks = by_clocks and found.by_clocks
            chain = CoatChain(_setting(task, pieces, hour, None), ways.meter)
            if found.constraint != RECOAT and _nothing_else_in_the_way(chain):
                upto_s = length_s if found.constraint == "hours" else math.inf
                hopeless.append(HopelessWindows(windows, upto_s, found))
        elif best is None or len(found.laid.solution.cuts) < len(best.laid.solution.cuts):
            best = found
    return best or replace(refused, by_clocks=by_clocks)


def _no_more_hours(task: CoatTask, best: Session | None, tried: int) -> bool:
    """Whether enough hours of the stretch were looked at, with a plan or in vain."""
    return tried >= MOST_HOURS_IN_VAIN if best is None else task.setting.strips > 1


def _nothing_else_in_the_way(chain: CoatChain) -> bool:
    """Whether the windows alone decide: floor and people are free from the start, and the steps that wait may be done
    at any time."""
    at = chain.setting
    free = all(seconds <= 0 for seconds in at.people_free_s)
    free = free and all(wait.release_s <= 0 and wait.deadline_s >= NEVER_S for wait in at.waiting)
    return free and all(bound.not_before_s <= 0 for bound in at.bounds.values())


def _no_better(windows: Spec, other: Spec, longer: float = 1.0) -> bool:
    """Whether the windows of one hour are no better than those of another, or hardly better."""
    return all(windows.closes[name] <= longer * other.closes.get(name, 0) for name in windows.closes) and all(
        windows.opens[name] >= other.opens.get(name, 0) for name in windows.opens
    )


def _could_be_fewer(chain: CoatChain, hour: datetime, best: Session) -> bool:
    """Whether the largest batch of a plan has more time at another hour. If not, that hour needs as many batches."""
    there = best.laid.chain
    if there.pieces < chain.pieces:
        return False
    first, end = max(pairwise((0, *best.laid.solution.cuts)), key=lambda run: there.spec(*run).amounts.mixed_l)
    return not _no_better(chain.spec_from(hour, first, end), there.spec(first, end), LONGER)


def _earliest(task: CoatTask, stretch: Stretch) -> datetime | None:
    """When work may begin in a stretch: as early as the first pour then falls on an open area."""
    begins = max(stretch.start, min(task.people_free, default=stretch.start))
    opens = task.below.opens
    if opens is not None:
        ahead = timedelta(seconds=practice.SET_UP_S.value + practice.mixing_time(task.setting.profile).value)
        early = [start for _, start, _ in task.waiting if start is not None]
        begins = max(begins, min([opens - ahead, *early]))
    return begins if begins < stretch.end else None


def _at_hour(
    task: CoatTask, pieces: tuple[FloorPiece, ...], hour: datetime, stretch: Stretch, ways: Ways
) -> Session | CoatRefusal:
    """The coat from an hour on, with the breaks that fall into it. If the wet edge allows no break, it has none."""
    found = _laid_at(task, pieces, hour, stretch, ways)
    if isinstance(found, CoatRefusal) or not task.setting.site.hours:
        return found
    over = found.over
    breaks = breaks_within(task, hour, over)
    if not breaks:
        return found
    with_breaks = _laid_at(replace(task, waiting=(*task.waiting, *breaks)), pieces, hour, stretch, ways)
    return found if isinstance(with_breaks, CoatRefusal) else with_breaks


def _laid_at(
    task: CoatTask, pieces: tuple[FloorPiece, ...], hour: datetime, stretch: Stretch, ways: Ways
) -> Session | CoatRefusal:
    ends = None if task.ignore_hours else stretch.end
    chain = CoatChain(_setting(task, pieces, hour, None), ways.meter)
    wrong = impossible(chain)
    if wrong is not None:
        return wrong
    length_s = (stretch.end - hour).total_seconds()
    if ends is not None and _is_too_late(task, chain, ends, ways):
        return CoatRefusal("hours")
    laid = lay(chain, ways)
    if laid is None:
        return why_not(task, chain, ways)
    if ends is not None and laid.solution.found.finish > length_s and may_be_over_by(laid, int(length_s)):
        laid = sooner(laid, ways)
    if ends is None or laid.solution.found.finish <= length_s:
        return Session(hour, laid)
    shorter = _in_more_buckets(task, pieces, hour, ends, laid, ways)
    if shorter is not None:
        return shorter
    found = _as_far_as_the_day_goes(task, pieces, hour, ends, laid, ways) if task.more_days else None
    return found or CoatRefusal("hours")


def _is_too_late(task: CoatTask, chain: CoatChain, ends: datetime, ways: Ways) -> bool:
    """Whether the floor is sure not to be done by then, and there is no place where the work may stop until another
    day."""
    at = chain.setting
    if ways.effort is not None and not task.more_days and _more_work_than((ends - at.begins).total_seconds(), chain):
        return True
    return not _stops(task, at.pieces) and _opens_too_late(task, at.pieces, at.begins, ends)


def _more_work_than(length_s: float, chain: CoatChain) -> bool:
    """Whether even the fewest buckets are more work than all hands can do in that time. A quick look asks only this."""
    least = fewest(chain)
    return least is not None and floor_bound(chain, least) - chain.pieces > length_s


def _in_more_buckets(
    task: CoatTask, pieces: tuple[FloorPiece, ...], hour: datetime, ends: datetime, laid: StretchPlan, ways: Ways
) -> Session | None:
    """The floor in a few more buckets by the end of the stretch: small buckets follow each other more closely."""
    length_s = (ends - hour).total_seconds()
    count = len(laid.solution.cuts)
    if floor_bound(laid.chain, laid.solution.cuts) > length_s or ways.stop():
        return None
    chain = CoatChain(_setting(task, pieces, hour, ends), ways.meter)
    more = lay(chain, ways.in_at_most(min(ways.most, count + MORE_BUCKETS)))
    return Session(hour, more) if more is not None and more.feasible else None


def _as_far_as_the_day_goes(
    task: CoatTask, pieces: tuple[FloorPiece, ...], hour: datetime, ends: datetime, whole: StretchPlan, ways: Ways
) -> Session | None:
    """As many pieces as the crew can lay by the end of the stretch, up to a place where the work may stop.

    The search begins at what the plan for the whole floor has done by then, and steps on or back from there.
    """
    places = [place for place in _stops(task, pieces) if _is_worth_a_day(whole.chain, place)]
    done = _done_by(whole, int((ends - hour).total_seconds()))
    best: Session | None = None
    low, high, failed = -1, len(places), 0
    at = max(0, sum(place <= done for place in places) - 1)
    while low + 1 < high and not (ways.stop() and best):
        laid = lay(CoatChain(_setting(task, pieces[: places[at]], hour, ends), ways.meter), ways)
        if laid is not None and laid.feasible:
            best, low = Session(hour, laid), at
            at = low + 1
        else:
            high, failed = at, failed + 1
            at = high - 1 if failed == 1 else (low + high) // 2
    return best


def _stops(task: CoatTask, pieces: tuple[FloorPiece, ...]) -> list[int]:
    """After how many pieces the work may stop for the day, where there is another."""
    joined = task.setting.coat.wet_edge is not False
    return stops([piece.area for piece in pieces], task.setting.wet_pairs, joined) if task.more_days else []


def _opens_too_late(task: CoatTask, pieces: tuple[FloorPiece, ...], hour: datetime, ends: datetime) -> bool:
    """Whether the piece that opens last can't be done by the end of the stretch, even alone."""
    bounds = bounds_from(task.below.gates, task.joined_by, hour)
    opened = [piece for piece in pieces if piece.area in bounds]
    if not opened:
        return False
    last = max(opened, key=lambda piece: bounds[piece.area].not_before_s)
    alone = CoatChain(_setting(task, (last,), hour, ends))
    return not open_in_time(alone.network((1,)))


def _is_worth_a_day(chain: CoatChain, place: int) -> bool:
    """Whether today's part and the rest are each enough for a bucket."""
    return chain.is_worth_mixing(0, place) and chain.is_worth_mixing(place, chain.pieces)


def _done_by(whole: StretchPlan, length_s: int) -> int:
    """How many pieces a plan for the whole floor has done by an instant, with the tools cleaned afterwards."""
    chain, solution = whole.chain, whole.solution
    net = chain.network(solution.cuts)
    done = 0
    for batch, end in enumerate(solution.cuts):
        steps = [chain.node(batch, kind) for kind in chain.kinds]
        over = max(solution.found.starts[node] + net.span(node, solution.staff[node]) for node in steps)
        if over + clean_up_s(chain.setting.site) > length_s:
            break
        done = end
    return done


def _setting(task: CoatTask, pieces: tuple[FloorPiece, ...], begins: datetime, ends: datetime | None) -> CoatSetting:
    names = {piece.area for piece in pieces}
    waiting = tuple(
        replace(
            wait,
            release_s=0 if opens is None else max(0, math.ceil((opens - begins).total_seconds())),
            deadline_s=NEVER_S if shuts is None else int((shuts - begins).total_seconds()),
        )
        for wait, opens, shuts in task.waiting
        if not wait.first or names & set(wait.areas)
    )
    if pieces:
        waiting = (*set_up(task.setting), *waiting)
    return replace(
        task.setting,
        begins=begins,
        pieces=pieces,
        bounds=bounds_from(task.below.gates, task.joined_by, begins, task.flaked_by),
        waiting=waiting,
        ends_s=NEVER_S if ends is None else int((ends - begins).total_seconds()),
        people_free_s=tuple(max(0, math.ceil((at - begins).total_seconds())) for at in task.people_free),
    )
