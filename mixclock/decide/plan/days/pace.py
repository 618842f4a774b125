"""How fast this crew really is today, beside the rates of its job file. Its statements tell, bucket by bucket."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property

from mixclock.decide.hours import local
from mixclock.decide.kitshapes import DayPace, OwnPace
from mixclock.decide.plan.days.ownpace import KnownHands, OwnShare, piece_of, worked_s
from mixclock.decide.plan.floor.crew import Crew, crew_of, times_of
from mixclock.decide.plan.floor.precedence import FLAKE_LAG_S, soonest_ends
from mixclock.job import practice
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.site import Person, Site
from mixclock.job.steps import BACK_ROLL, BROADCAST
from mixclock.values import dataclass, replace

LOOKED_AT = 5
"""Only this many of the last buckets count: floors get harder and people get tired (judgement)."""

QUICKEST, SLOWEST = 0.8, 2.5
"""A share outside these is no pace: somebody stated a step late, or never stopped to state it (judgement)."""


def pace_of(standing: Standing, now: datetime) -> DayPace:
    """Today's pace: the median of the last buckets, and that of each person at the steps of known hands.

    A bucket counts from its pour to the last of its steps that was stated, and its steps should take what the crew's
    rates say. Only the time at work counts: not what its hands still did for the bucket before, nor a break. A bucket
    whose every stated step tells of known hands tells nothing of other work: that goes by the other buckets.
    """
    crew, today = crew_of(standing.site), local(standing.site, now).date()
    hands = KnownHands(standing, crew)
    shares, unknown, own = list[float](), list[float](), list[OwnShare]()
    for batch in standing.batches:
        if local(standing.site, batch.combined.at).date() == today:
            seen, mine = list(_shares(standing, crew, batch)), list(hands.shares(batch))
            shares += seen
            own += mine
            unknown += [] if hands.know_all(batch) else seen
    if not shares and not own:
        return DayPace()
    people = tuple(_own_paces(own)) if len(crew.people) > 1 else ()
    factor = _median(shares or [each.share for each in own])
    count = max(len(shares[-LOOKED_AT:]), *(each.batches for each in people), 1)
    return DayPace(factor, count, people, _median(unknown) if people else None)


def _median(shares: Sequence[float]) -> float:
    """The usual share of the last ones, as far as it is believed; as stated without any."""
    if not shares:
        return 1.0
    from statistics import median  # before the first pour nobody needs it

    return min(SLOWEST, max(QUICKEST, median(shares[-LOOKED_AT:])))


def _own_paces(own: Sequence[OwnShare]) -> Iterator[OwnPace]:
    """Each person's pace at each step that their own hands are known for."""
    for who, kind in dict.fromkeys((share.who, share.kind) for share in own):
        mine = [share.share for share in own if (share.who, share.kind) == (who, kind)]
        yield OwnPace(who, kind, _median(mine), len(mine[-LOOKED_AT:]))


def at_pace(site: Site, pace: DayPace) -> Site:
    """The same job with a crew that is as fast as this: each as is known of them, else as their crew."""
    if not pace.batches:
        return site
    return replace(site, crew=tuple(_slowed(person, pace) for person in crew_of(site).people))


def _slowed(person: Person, pace: DayPace) -> Person:
    return replace(
        person,
        squeegee_m2_h=practice.squeegee_rate_m2_h(person) / pace.of(person.name, "squeegee"),
        roll_m2_h=practice.roll_rate_m2_h(person) / pace.of(person.name, "roll"),
        broadcast_m2_h=practice.broadcast_rate_m2_h(person) / pace.of(person.name, "broadcast"),
        cut_in_m_h=practice.cut_in_rate_m_h(person) / pace.of(person.name, "cut-in"),
    )


def _shares(standing: Standing, crew: Crew, batch: Batch) -> Iterator[float]:
    """How long each portion took beside its time by the rates, if its last step was stated."""
    coat = standing.site.coat(batch.coat) if batch.coat else None
    if coat is None:
        return
    last = BROADCAST if coat.flake_kg_m2 else BACK_ROLL
    for portion in batch.portions:
        ends = [portion.step(last, area) for area in portion.areas]
        done = [stated.at for stated in ends if stated is not None]
        if portion.assumed is None and ends and len(done) == len(ends) and max(done) > portion.poured.at:
            share = _share_at_work(_AtWork(standing, crew, last, portion, max(done)))
            if share is not None:
                yield share


@dataclass(frozen=True)
class _AtWork:
    """A portion whose last step was stated, with what the same hands did beside it."""

    standing: Standing
    crew: Crew
    last: str
    portion: Portion
    ended: datetime

    @cached_property
    def first(self) -> datetime:
        """When its first step behind the squeegee was stated."""
        return min(stated.at for (name, _), stated in self.portion.steps.items() if name in (BACK_ROLL, BROADCAST))

    def others(self, *steps: str) -> list[datetime]:
        """When such steps of other portions were stated, while this one was under way."""
        return [
            stated.at
            for batch in self.standing.batches
            for portion in batch.portions
            if portion is not self.portion
            for (name, _), stated in portion.steps.items()
            if name in steps and self.portion.poured.at < stated.at < self.ended
        ]

    def since(self, at: datetime) -> float:
        """The seconds at work from an instant to the last step."""
        return worked_s(self.standing.site, at, self.ended)


def _share_at_work(at: _AtWork) -> float | None:
    """How long the work took for each minute by the rates; None where that cannot be told from the waiting.

    A step counts from when its hands are free of the bucket before. Where one person did something for another bucket
    in between, nobody knows how long.
    """
    quickest = _by_the_rates(at)
    if not quickest:
        return None
    hands = {who for kind in ("roll", "broadcast") for who, may in enumerate(at.crew.able(kind)) if may}
    took = [(at.since(at.portion.poured.at), _pipelined(at, quickest))]
    if len(hands) == 1:
        others = at.others(BACK_ROLL, BROADCAST)
        mixed = [batch.combined.at for batch in at.standing.batches] if len(at.crew.people) == 1 else []
        if any(at.first < other for other in others) or any(at.portion.poured.at < m < at.ended for m in mixed):
            return None
        rest = {kind: span for kind, span in quickest.items() if kind != "squeegee"}
        took += [(at.since(other), _pipelined(at, rest)) for other in others]
    elif sum(at.crew.able("broadcast" if at.last == BROADCAST else "roll")) == 1:
        own_s = quickest["broadcast" if at.last == BROADCAST else "roll"]
        took += [(at.since(other), float(own_s)) for other in at.others(at.last)]
    return min(took_s / should_s for took_s, should_s in took)


def _pipelined(at: _AtWork, quickest: Mapping[str, int]) -> float:
    """How long these steps take at least: each follows closely behind the one before, all hands share the work, and
    who alone may do some of them does those one after the other."""
    people = range(len(at.crew.people))
    alone = [[kind for kind in quickest if at.crew.able(kind) == tuple(who == one for who in people)] for one in people]
    return float(
        max(
            *soonest_ends(quickest).values(),
            sum(quickest.values()) / len(people),
            *(_one_by_one(kinds, quickest) for kinds in alone),
        )
    )


def _one_by_one(kinds: Sequence[str], quickest: Mapping[str, int]) -> int:
    """How long one person takes for these steps, who waits for the flake's minutes where rolling is over sooner."""
    waits_s = max(0, FLAKE_LAG_S - quickest["roll"]) if {"roll", "broadcast"} <= set(kinds) else 0
    return sum(quickest[kind] for kind in kinds) + waits_s


def _by_the_rates(at: _AtWork) -> dict[str, int]:
    """How long the quickest of the crew takes for each step of a portion; nothing if nobody knows its size."""
    kinds = ("cut-in", "squeegee", "roll", *(("broadcast",) if at.last == BROADCAST else ()))
    piece = piece_of(at.standing.site, at.portion)
    if piece is None:
        return {}
    return {
        kind: min(span for span in times_of(at.crew, kind, (piece,), {}) if span is not None)
        for kind in kinds
        if kind != "cut-in" or piece.edge_m > 0.0
    }
