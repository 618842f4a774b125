"""One coat by as many hands as it takes: one person at each step, or two who cut in and roll together."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise

from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session, buckets_in
from mixclock.decide.plan.days.inparts import in_even_buckets, laid_in_parts
from mixclock.decide.plan.days.liverolling import with_two_rolling
from mixclock.decide.plan.days.sessions import live_alone
from mixclock.decide.plan.days.strips import in_fewer_buckets, in_strips
from mixclock.decide.plan.floor.conditions import Stretch
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET
from mixclock.decide.plan.search.schedule import Ways, in_steadier_hands, rolled_by_two
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF
from mixclock.job.steps import BACK_ROLL, WET_EDGE
from mixclock.values import replace

HELPED_OUT = frozenset({BACK_ROLL, "broadcast", WET_EDGE, "sequence", SMALL_BUCKET})
"""The constraints that a second person may help to keep, by cutting in or rolling with the first."""

HELP = (("roll",), ("cut-in",), ("cut-in", "roll"))
"""The steps of every batch with which a second person helps, in the order in which the plan tries them."""

FEW_BUCKETS = 2
"""With this few buckets one person would stand idle while the other rolls, so they roll together (judgement)."""

MANY_HANDS = 3
"""One of three people would stand idle now and then, so two roll together: on halls of ten to forty bays a twentieth of
the time was saved so. Of two people both are busy, unless they wait for the floor."""

FEW_AREAS = 4
"""On this few areas the plan also tries it when the day is too short (judgement)."""

ONE_OF_THEM = ("last", "first")
"""Where two roll one batch only: the last, when nobody has another bucket to mix, or the first."""

WORTH_HELPING = timedelta(minutes=1)
"""Two roll together only if the coat is done sooner by at least this (judgement)."""

MOST_HELPED, MOST_HELPED_WAITING, MOST_HELPED_AT_LAST = 12, 24, 100
"""On more areas than the first the plan does not try it, since it would have to search every coat again; on more it
tries it with the buckets that it found, up to the second where two wait for the floor to open."""


def lay_coat(task: CoatTask, stretches: list[Stretch], ways: Ways) -> list[Session] | CoatRefusal:
    """The coat in as few sessions as possible, each as early as it fits.

    If a piece of floor is too much for one bucket, or a wet edge can't be met, areas are cut into smaller parts as far
    as the kits allow.
    """
    if not task.areas:
        return _what_lies(task)
    found = _by_one_or_two(task, stretches, ways)
    return _rest_another_day(task, stretches, ways, found) if isinstance(found, CoatRefusal) else found


def _what_lies(task: CoatTask) -> list[Session]:
    """The steps of what lies already, by themselves."""
    together = with_two_rolling(task) if len(task.areas) <= MOST_HELPED else None
    return _sooner_of(live_alone(task), live_alone(together) if together is not None else None)


def _rest_another_day(
    task: CoatTask, stretches: list[Stretch], ways: Ways, refused: CoatRefusal
) -> list[Session] | CoatRefusal:
    """What lies already done by itself, and the rest of the coat on another day. It need not meet anything then."""
    first = tuple(wait for wait in task.waiting if wait[0].first)
    if len(first) == len(task.waiting) or task.joined_by or refused.by_clocks or ways.stop():
        return refused
    alone = _what_lies(task)
    later = [stretch for stretch in stretches if stretch.start > alone[-1].over]
    if not later or any(session.laid.solution.found.violation for session in alone):
        return refused
    rest = _by_one_or_two(replace(task, waiting=first, people_free=alone[-1].people_free), later, ways)
    return refused if isinstance(rest, CoatRefusal) else [*alone, *rest]


def _by_one_or_two(task: CoatTask, stretches: list[Stretch], ways: Ways) -> list[Session] | CoatRefusal:
    """The coat with what is under way rolled by one or by two."""
    together = with_two_rolling(task) if len(task.areas) <= MOST_HELPED else None
    found = _laid(task, stretches, ways)
    if together is None or ways.stop():
        return found
    if isinstance(found, CoatRefusal):
        again = _laid(together, stretches, ways)
        return found if isinstance(again, CoatRefusal) else again
    buckets = buckets_in(found)
    if buckets > FEW_BUCKETS and not _is_asked(task) and not _are_rolled_by_two(found):
        return found
    again = _laid(together, stretches, replace(ways, most=min(ways.most, buckets)))
    return found if isinstance(again, CoatRefusal) or buckets_in(again) > buckets else _sooner_of(found, again)


def _sooner_of(found: list[Session], together: list[Session] | None) -> list[Session]:
    """What is under way rolled by two, if fewer windows are missed so, or the work is over sooner by a minute."""
    if together is None:
        return found
    missed, missed_together = (sum(each.laid.solution.found.violation for each in days) for days in (found, together))
    sooner = together[-1].over <= found[-1].over - WORTH_HELPING
    return together if missed_together < missed or (missed_together == missed and sooner) else found


def _are_rolled_by_two(found: list[Session]) -> bool:
    """Whether two roll every batch that is still to be mixed."""
    return all(
        "roll" in session.laid.chain.setting.helped and session.laid.chain.setting.is_helped(*run)
        for session in found
        for run in pairwise((0, *session.laid.solution.cuts))
    )


def _laid(task: CoatTask, stretches: list[Stretch], ways: Ways) -> list[Session] | CoatRefusal:
    """The coat with what is under way done as it stands in the task."""
    by_two_next = _may_be_rolled_by_two(task, ways)
    task, found = _laid_by_one_each(task, stretches, replace(ways, by_two_next=by_two_next))
    if isinstance(found, CoatRefusal):
        if task.setting.reserve < 1.0:
            poured = in_strips(task, stretches, ways, found)
            return _helped_out(task, stretches, ways, found) if isinstance(poured, CoatRefusal) else poured
        for other in (_helped_out, in_strips, in_even_buckets):
            if isinstance(found, CoatRefusal):
                found = other(task, stretches, ways, found)
        return found
    return in_fewer_buckets(task, stretches, ways, _rolled_together(task, stretches, ways, found))


def _laid_by_one_each(
    task: CoatTask, stretches: list[Stretch], ways: Ways
) -> tuple[CoatTask, list[Session] | CoatRefusal]:
    """The coat with one person at each step, and the task that gave it. Before it cuts a flaked floor into smaller
    areas, the plan scrapes the whole floor first; a hall is scraped as a whole before all else, if it can be."""
    if not any(wait[0].first for wait in task.waiting):
        return task, laid_in_parts(task, stretches, ways)
    scraped, is_hall = _scraped_first(task), len(task.areas) > MOST_HELPED
    found: list[Session] | CoatRefusal = CoatRefusal("hours")
    for finer in (False, True):
        whole = laid_in_parts(scraped, stretches, ways, finer) if is_hall else None
        if isinstance(whole, list):
            return scraped, whole
        found = laid_in_parts(task, stretches, ways, finer)
        if isinstance(found, list) or found.constraint not in HELPED_OUT:
            return task, found
        if whole is None and not found.by_clocks:
            whole = laid_in_parts(scraped, stretches, ways, finer)
        if isinstance(whole, list):
            return scraped, whole
        if not (found.may_be_cut or (whole is not None and whole.may_be_cut)):
            break
    return scraped, found


def _scraped_first(task: CoatTask) -> CoatTask:
    """The coat with the whole floor scraped before the first bucket, so that nobody leaves a wet edge to scrape."""
    waiting = tuple((replace(step, at_once=step.at_once or step.first), opens, by) for step, opens, by in task.waiting)
    return replace(task, waiting=waiting)


def _helped_out(
    task: CoatTask, stretches: list[Stretch], ways: Ways, refused: CoatRefusal
) -> list[Session] | CoatRefusal:
    """A coat that one person at each step can't lay, with a second who rolls or cuts in beside the first."""
    for kinds in _helps(task, ways, refused):
        if all(_may_help(task, kind) for kind in kinds) and not ways.stop():
            found = laid_in_parts(_helped(task, kinds), stretches, ways)
            if not isinstance(found, CoatRefusal):
                return found
    return refused


def _helps(task: CoatTask, ways: Ways, refused: CoatRefusal) -> tuple[tuple[str, ...], ...]:
    """What a second person may be asked to do. A quick look, for what would free a plan, tries cutting in alone."""
    if refused.constraint == "hours":
        return (("roll",),) if _is_asked(task) or len(task.areas) <= FEW_AREAS else ()
    if refused.constraint not in HELPED_OUT:
        return ()
    return HELP if ways.effort is None or not ways.rough else (("cut-in",),)


def _is_asked(task: CoatTask, kind: str = "roll") -> bool:
    """Whether the job file names who helps with a step."""
    return any(kind in person.helps for person in task.setting.crew.people)


def _rolled_together(task: CoatTask, stretches: list[Stretch], ways: Ways, found: list[Session]) -> list[Session]:
    """The same coat with what two do side by side, in all of its batches or in one of them, if that ends sooner and
    takes no more buckets."""
    if ways.stop():
        return found
    kinds = _worth_sharing(task, buckets_in(found))
    if not kinds:
        return _helped_at_last(ways, found) if _may_be_rolled_by_two(task, ways) else found
    best = found
    for kind in kinds:
        best = _shared_by_quickest(task, stretches, ways, best, kind)
    if best is found or ways.rough:
        return best
    return [replace(session, laid=in_steadier_hands(session.laid, ways)) for session in best]


def _worth_sharing(task: CoatTask, buckets: int) -> list[str]:
    """The steps that the plan also tries with two: rolling with few buckets, and what somebody is named to lend."""
    tried = {"cut-in": _is_asked(task, "cut-in"), "roll": buckets <= FEW_BUCKETS or _is_asked(task, "roll")}
    return [kind for kind, worth_it in tried.items() if worth_it and _may_help(task, kind)]


def _shared_by_quickest(
    task: CoatTask, stretches: list[Stretch], ways: Ways, found: list[Session], kind: str
) -> list[Session]:
    best, buckets = found, buckets_in(found)
    no_more = replace(ways, any_hands=True, most=min(ways.most, buckets))
    for only in ("", *ONE_OF_THEM) if buckets > 1 else ("",):
        finer = not ways.rough and buckets > 1  # one bucket does the whole floor, however it is cut
        together = laid_in_parts(_helped(task, (kind,), only, by_quickest=True), stretches, no_more, finer)
        if isinstance(together, CoatRefusal) or buckets_in(together) > buckets or ways.stop():
            continue
        if together[-1].over <= min(best[-1].over, found[-1].over - WORTH_HELPING):
            best = together
        if not only and best[-1].over <= found[-1].over - _saved_on_one(found):
            break
    return best


def _may_be_rolled_by_two(task: CoatTask, ways: Ways) -> bool:
    """Whether the soonest end is asked for, and the crew is large enough for two to roll some buckets."""
    hands = sum(task.setting.crew.able_to_help("roll"))
    waits = task.below.opens is not None and MOST_HELPED < len(task.areas) <= MOST_HELPED_WAITING
    asked = ways.ends_the_work and not ways.rough and task.setting.reserve >= 1.0
    return asked and hands >= (2 if waits else MANY_HANDS) and _may_help(task, "roll", MOST_HELPED_AT_LAST)


def _helped_at_last(ways: Ways, found: list[Session]) -> list[Session]:
    """The same buckets, of which two roll some of the last day's side by side, if that ends sooner: which of them, and
    who with whom, is chosen with all the rest of the day's work."""
    *before, last = found
    finish_s = int((last.over - last.begins - WORTH_HELPING).total_seconds())
    together = rolled_by_two(last.laid, finish_s, ways)
    return found if together is None else [*before, Session(last.begins, together)]


def _saved_on_one(found: list[Session]) -> timedelta:
    """By how much help with one bucket ends the work sooner at the most: about half its rolling."""
    at_once = 0
    for chain, cuts in ((session.laid.chain, session.laid.solution.cuts) for session in found):
        roll = chain.kinds.index("roll")
        rows = [chain.spec(*run).times[roll] for run in pairwise((0, *cuts))]
        at_once = max([at_once, *(max(span for span in row if span is not None) for row in rows)])
    return timedelta(seconds=at_once / 2.0)


def _helped(task: CoatTask, kinds: tuple[str, ...], only: str = "", by_quickest: bool = False) -> CoatTask:
    setting = replace(task.setting, helped=kinds, helped_only=only, by_quickest=by_quickest)
    return replace(task, setting=setting)


def _may_help(task: CoatTask, kind: str, most: int = MOST_HELPED) -> bool:
    """Whether a second person may do a step with the first, on a floor small enough to be searched twice."""
    at = task.setting
    there = kind != "cut-in" or any(practice.edge_m(area).value > 0.0 for area in task.areas)
    return (
        there
        and len(task.areas) <= most
        and at.crew.may_share(kind)
        and at.neutraliser is None
        and at.profile.family not in WASHED_OFF
    )
