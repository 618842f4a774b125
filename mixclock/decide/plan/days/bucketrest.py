"""What is still in a mixed bucket, laid in strips: the rest of a bucket that outlives its film.

Whoever plans again while such a bucket is under way needs to know what of it is still to be poured, spread and rolled.
The strips follow one another as in a plan that was made before the bucket was mixed: the next is poured when the roller
comes to it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor.crew import Crew, times_of
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import FOLLOW_S, MOST_STRIPS, leads_to
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.floor.timing import Bucketful, Timing
from mixclock.decide.plan.search.chain import LEAST_POUR_S
from mixclock.decide.plan.search.outliving import LEAST_M2, OUTLIVES
from mixclock.job import practice
from mixclock.job.progress import Batch
from mixclock.job.steps import BACK_ROLL, POUR_OUT, WET_EDGE
from mixclock.values import dataclass, field

WITH_CARE = 0.9
"""A strip is cut so that its steps need so much of their windows at most (judgement)."""

SAME_SIZE = 0.25
"""What is left is one strip more only if it is more than this share of one (judgement)."""

WINDOW_OF = {"pour": POUR_OUT, "squeegee": WET_EDGE, "roll": BACK_ROLL, "broadcast": "broadcast"}

Span = tuple[datetime, datetime]
Waiting = Sequence[tuple[str, OpenStep, datetime | None, datetime | None]]


@dataclass(frozen=True)
class BucketUnderWay:
    """A bucket with something in it: the pieces of floor that the rest is for, who is free from when, and by when the
    first strip must reach the film beside it."""

    batch: Batch
    pieces: tuple[FloorPiece, ...]
    crew: Crew
    timing: Timing
    free: Mapping[str, datetime]
    begins: datetime
    joined_by: datetime | None = None
    flaked: bool = False
    joined: bool = True

    @property
    def strips_before(self) -> int:
        """How many strips of it lie on the floor."""
        return len(self.batch.portions)

    def at_pour(self, out: datetime) -> Bucketful:
        """The bucket as it is poured at an instant."""
        stood_s = max(0.0, (out - self.batch.combined.at).total_seconds())
        return Bucketful(self.batch.mass_kg, self.batch.volume_l, stood_s)

    def closes(self, window: str, out: datetime) -> datetime | None:
        """When a window of what is poured at an instant shuts at the earliest."""
        start = self.batch.combined.at if window == POUR_OUT else out
        shut = self.timing.closes(self.batch.product, window, start, self.at_pour(out))
        return None if shut is None else start + timedelta(seconds=shut.early_s)


@dataclass(frozen=True)
class StripStep:
    """One step on one of the strips that are left: when the quickest hands do it, and by when it must be done."""

    step: OpenStep
    starts: datetime
    ends: datetime
    by: datetime | None

    @property
    def late(self) -> bool:
        """Whether even the quickest hands are too late."""
        return self.by is not None and self.ends > self.by


@dataclass
class RestInStrips:
    """What is left of a bucket in so many strips, and how late its steps are in all."""

    strips: int
    size_m2: float
    steps: list[StripStep] = field(default_factory=list)
    late_s: float = 0.0
    leaves_time: bool = True
    """Whether another bucket could still meet the last strip."""

    @property
    def out(self) -> datetime:
        """When the bucket is empty, if the quickest do it."""
        return max(step.ends for step in self.steps if step.step.kind == "pour")


def rest_in_strips(bucket: BucketUnderWay) -> RestInStrips | None:
    """What is still to be laid, in as few strips as this crew can roll in time; None where it is poured out at once."""
    if not bucket.pieces or not _outlives(bucket):
        return None
    least = _as_begun(bucket)
    most = min(MOST_STRIPS, int(sum(piece.size_m2 for piece in bucket.pieces) / LEAST_M2))
    tries = [_StripByStrip(bucket, strips).laid() for strips in range(least, max(least, most) + 1)]
    found = min(tries, key=lambda each: (each.late_s, not each.leaves_time, each.strips))
    return found if found.strips > 1 or bucket.strips_before else None


def rest_said(batch: Batch, rest: RestInStrips, each: str) -> str:
    """What is still to be laid, in words; `each` is what a strip takes.

    >>> class Four:
    ...     id = 4
    >>> rest_said(Four, RestInStrips(2, 8.0), "700 mL on 4 m²")
    'what is left of batch 4 goes on in 2 strips of 700 mL on 4 m², each rolled before the next'
    >>> rest_said(Four, RestInStrips(1, 4.0), "700 mL on 4 m²")
    'what is left of batch 4 is one more strip: 700 mL on 4 m²'
    """
    if rest.strips == 1:
        return f"what is left of batch {batch.id} is one more strip: {each}"
    return f"what is left of batch {batch.id} goes on in {rest.strips} strips of {each}, each rolled before the next"


def free_behind(
    people_free: Mapping[str, datetime], waiting: Waiting, crew: Crew, now: datetime
) -> dict[str, datetime]:
    """When each is free behind the live steps that are known by now, if the quickest does each."""
    free = dict(people_free)
    for _, step, opens, _ in waiting:
        ways = [
            (max(free[person.name], opens or now) + timedelta(seconds=span_s), person.name)
            for person, span_s in zip(crew.people, step.times, strict=True)
            if span_s is not None
        ]
        if ways:
            ends, who = min(ways)
            free[who] = ends
    return free


def _outlives(bucket: BucketUnderWay) -> bool:
    """Whether the mixed resin lives that much longer in the pail than on the floor."""
    mixed, out = bucket.batch.combined.at, bucket.closes(POUR_OUT, bucket.begins)
    floor = [at for name in (BACK_ROLL, WET_EDGE) if (at := bucket.closes(name, bucket.begins)) is not None]
    return bool(floor) and out is not None and out - mixed >= OUTLIVES * (min(floor) - bucket.begins)


def _as_begun(bucket: BucketUnderWay) -> int:
    """In how many strips the rest is laid, where its strips are as large as the largest before."""
    each_l = max((portion.volume_l for portion in bucket.batch.portions), default=0.0)
    return max(1, math.ceil(bucket.batch.left_l / each_l - SAME_SIZE)) if each_l > 0.0 else 1


class _StripByStrip:
    """Lays the rest of a bucket strip by strip, each step by whoever has done it soonest."""

    def __init__(self, bucket: BucketUnderWay, strips: int) -> None:
        self.bucket, self.strips = bucket, strips
        self.free = dict(bucket.free)
        self.spans: dict[tuple[str, int], Span] = {}
        self.found = RestInStrips(strips, sum(piece.size_m2 for piece in bucket.pieces))
        wanted = {"cut-in": any(piece.edge_m > 0.0 for piece in bucket.pieces), "broadcast": bucket.flaked}
        every = ("pour", "squeegee", "cut-in", "roll", "broadcast")
        self.kinds = [kind for kind in every if wanted.get(kind, True)]

    def laid(self) -> RestInStrips:
        for strip in range(1, self.strips + 1):
            pieces = tuple(self._pieces(strip))
            for kind in self.kinds:
                self._do(kind, strip, pieces)
        self.found.leaves_time = self._leaves_time()
        return self.found

    def _leaves_time(self) -> bool:
        """Whether who rolls the last strip first can still measure out, mix and be at the joint with another bucket."""
        shut = self.bucket.closes(WET_EDGE, self.found.out)
        able = zip(self.bucket.crew.people, self.bucket.crew.able("mix"), strict=True)
        free = min((self.free[person.name] for person, may in able if may), default=self.found.out)
        another = timedelta(seconds=practice.SET_UP_S.value + self.bucket.batch.mixing_s + practice.POUR_S.value)
        return not self.bucket.joined or shut is None or free + another <= shut

    def _pieces(self, strip: int) -> Iterator[FloorPiece]:
        """What a strip takes of each piece of floor, in their order."""
        each = sum(piece.size_m2 for piece in self.bucket.pieces) / self.strips
        begins = 0.0
        for piece in self.bucket.pieces:
            size_m2 = min(begins + piece.size_m2, strip * each) - max(begins, (strip - 1) * each)
            begins += piece.size_m2
            if size_m2 > 0.02 * each:
                yield FloorPiece(piece.area, size_m2, piece.edge_m * size_m2 / piece.size_m2)

    def _do(self, kind: str, strip: int, pieces: Sequence[FloorPiece]) -> None:
        pour_s = max(practice.POUR_S.value / (self.strips + self.bucket.strips_before), LEAST_POUR_S)
        times = times_of(self.bucket.crew, kind, pieces, {"pour": pour_s})
        starts, ends, who = min(self._ways(kind, strip, times), key=lambda way: (way[1], way[0]))
        self.free[who] = ends
        self.spans[kind, strip] = starts, ends
        by = self._by(kind, strip)
        if by is not None:
            with_care = 1.0 - WITH_CARE if kind in ("roll", "broadcast") else 0.0
            over = (starts if kind == "squeegee" else ends) + (by - self.spans["pour", strip][1]) * with_care
            self.found.late_s += max(0.0, (over - by).total_seconds())
        areas = tuple(dict.fromkeys(piece.area for piece in pieces))
        number = strip + self.bucket.strips_before
        step = OpenStep(kind, self.bucket.batch.id, areas, times, window=WINDOW_OF.get(kind), strip=number)
        over_by = by + (ends - starts) if by is not None and kind == "squeegee" else by
        self.found.steps.append(StripStep(step, starts, ends, over_by))

    def _ways(self, kind: str, strip: int, times: Sequence[int | None]) -> Iterator[tuple[datetime, datetime, str]]:
        """From when to when each person could do a step."""
        for person, span_s in zip(self.bucket.crew.people, times, strict=True):
            if span_s is not None:
                soonest = self._soonest(kind, strip, span_s)
                starts = max(self.free.get(person.name, soonest), soonest)
                yield starts, starts + timedelta(seconds=span_s), person.name

    def _soonest(self, kind: str, strip: int, span_s: int) -> datetime:
        """When a step can begin at the soonest behind those before it, here and on the strip before."""
        after = [max(self.bucket.begins, self.bucket.batch.mixing_ended)]
        for lead in leads_to(kind):
            if (lead.first, strip) not in self.spans:
                continue
            starts, ends = self.spans[lead.first, strip]
            edges = ((ends, lead.end_to_start, 0), (starts, lead.start_to_start, 0), (ends, lead.end_to_end, span_s))
            after += [edge + timedelta(seconds=lag - back) for edge, lag, back in edges if lag is not None]
        if kind in ("pour", "squeegee") and strip > 1:
            after.append(self.spans[kind, strip - 1][1])
        if kind == "pour" and strip > 1:
            after.append(self.spans["roll", strip - 1][1] - timedelta(seconds=span_s + FOLLOW_S))
        return max(after)

    def _by(self, kind: str, strip: int) -> datetime | None:
        """By when a step must be over; a squeegee must be at the joint by then."""
        if kind == "squeegee":
            if strip == 1:
                return self.bucket.joined_by
            before = self.spans["pour", strip - 1][1]
            return self.bucket.closes(WET_EDGE, before) if self.bucket.joined else None
        window = WINDOW_OF.get(kind)
        return None if window is None else self.bucket.closes(window, self.spans["pour", strip][1])
