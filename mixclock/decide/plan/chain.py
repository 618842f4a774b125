"""One coat as the search sees it: pieces of floor in a row, and the network of steps for any division into batches."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise

from mixclock.decide.plan.crew import CARRY_S, CLEAN_S, Crew, times_of
from mixclock.decide.plan.network import NEVER_S, Link, Network, network
from mixclock.decide.plan.quantities import Amounts, amounts, most_l
from mixclock.decide.plan.search import Cuts
from mixclock.decide.plan.shapes import Piece
from mixclock.decide.plan.timing import Bucket, Timing
from mixclock.job import practice
from mixclock.job.profile import Family, Profile
from mixclock.job.site import Coat, Site

FOLLOW_S = 60
"""The next tool follows a minute behind (judgement)."""

AT_ONCE_S = 120
"""A mixed bucket is poured, and what is poured is spread, within two minutes (judgement)."""

MOST_CACHED = 4000

PHASE: Mapping[str, float] = {
    "measure": -0.5,
    "mix": 0.0,
    "pour": 1.0,
    "cut-in": 2.5,
    "squeegee": 2.0,
    "roll": 3.0,
    "broadcast": 4.0,
    "neutralise": 3.0,
    "rinse": 4.0,
}


@dataclass(frozen=True)
class Guess:
    """When the batch that begins with a piece is mixed, and how long it stands in the bucket, as far as is known."""

    mixed_s: int
    stood_s: float


@dataclass(frozen=True)
class Waiting:
    """A step that is open before the first batch: scraping the coat below, or what a live batch still needs."""

    kind: str
    batch: int | None
    areas: tuple[str, ...]
    times: tuple[int | None, ...]
    release_s: int = 0
    deadline_s: int = NEVER_S
    first: bool = False
    window: str | None = None


@dataclass(frozen=True)
class Bounds:
    """When an area may be poured, seen from the coat below and from what lies beside it already."""

    not_before_s: int = 0
    not_after_s: int = NEVER_S
    joined_by_s: int = NEVER_S


@dataclass(frozen=True)
class Setting:
    """All that one coat's search rests on; times count from `begins`."""

    site: Site
    coat: Coat
    profile: Profile
    crew: Crew
    timing: Timing
    begins: datetime
    pieces: tuple[Piece, ...]
    wet_pairs: frozenset[tuple[str, str]]
    bounds: Mapping[str, Bounds] = field(default_factory=dict)
    waiting: tuple[Waiting, ...] = ()
    carry: Mapping[str, int] = field(default_factory=dict)
    ends_s: int = NEVER_S
    people_free_s: tuple[int, ...] = ()
    reserve: float = 1.0
    ignore: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Spec:
    """One batch: what it takes, how long each step takes each person, and its windows in whole seconds."""

    amounts: Amounts
    times: tuple[tuple[int | None, ...], ...]
    closes: Mapping[str, int]
    opens: Mapping[str, int]


def kinds_of(coat: Coat, profile: Profile, pieces: Sequence[Piece]) -> tuple[str, ...]:
    """The steps that every batch of a coat goes through."""
    if profile.family in (Family.ACID_ETCH, Family.NEUTRALISER):
        extra = [kind for kind in ("neutralise", "rinse") if profile.window(kind) is not None]
        return ("measure", "mix", "pour", *extra)
    wanted = ["measure", "mix", "pour"]
    if any(piece.edge_m > 0 for piece in pieces):
        wanted.append("cut-in")
    wanted += ["squeegee", "roll"]
    if coat.flake_kg_m2:
        wanted.append("broadcast")
    return tuple(wanted)


class CoatChain:
    """A coat as a `Chain` for the search. Windows are asked for the hours in `guesses`, piece by piece."""

    def __init__(self, setting: Setting) -> None:
        """Begin with all batches guessed at the beginning."""
        self.setting = setting
        self.kinds = kinds_of(setting.coat, setting.profile, setting.pieces)
        self.guesses: dict[int, Guess] = {}
        self.mixing_s = math.ceil(practice.mixing_time(setting.profile).value)
        self.most_l = most_l(setting.site, setting.coat, setting.profile)[0]
        self._specs: dict[tuple[int, int], Spec] = {}
        self._networks: dict[Cuts, Network] = {}
        self._wet = self._joints()

    @property
    def pieces(self) -> int:
        """How many pieces there are."""
        return len(self.setting.pieces)

    @property
    def phases(self) -> tuple[float, ...]:
        """When in a batch each step usually comes."""
        return tuple(PHASE[kind] for kind in self.kinds)

    @property
    def lead(self) -> int:
        """Steps before the first batch."""
        return len(self.setting.waiting)

    @property
    def tail(self) -> int:
        """Cleaning up."""
        return 1

    def weight(self, piece: int) -> float:
        """The size of a piece."""
        return self.setting.pieces[piece].size_m2

    def fits(self, first: int, end: int) -> bool:
        """Whether one bucket holds what these pieces need; a single piece always may."""
        return end - first == 1 or self.spec(first, end).amounts.mixed_l <= self.most_l + 1e-9

    def guess(self, guesses: Mapping[int, Guess]) -> None:
        """Ask the windows for other hours from now on."""
        self.guesses = dict(guesses)
        self._specs.clear()
        self._networks.clear()

    def spec(self, first: int, end: int) -> Spec:
        """The batch of the pieces from `first` up to `end`."""
        found = self._specs.get((first, end))
        if found is None:
            found = self._specs[(first, end)] = self._spec(first, end)
        return found

    def _spec(self, first: int, end: int) -> Spec:
        at = self.setting
        pieces = at.pieces[first:end]
        amount = amounts(at.coat, at.profile, pieces)
        carry = at.carry.get(pieces[0].area, 0) * CARRY_S
        fixed = {
            "measure": practice.SET_UP_S.value,
            "mix": float(self.mixing_s),
            "pour": practice.POUR_S.value + carry,
        }
        if at.profile.family in (Family.ACID_ETCH, Family.NEUTRALISER):
            del fixed["pour"]
        times = tuple(times_of(at.crew, kind, pieces, fixed) for kind in self.kinds)
        guess = self._guess_for(first)
        stood_s = max(guess.stood_s, self.mixing_s)
        mixed = at.begins + timedelta(seconds=guess.mixed_s)
        bucket = Bucket(amount.mass_kg, amount.mixed_l, stood_s)
        return Spec(amount, times, *self._windows(mixed, mixed + timedelta(seconds=stood_s), bucket))

    def _guess_for(self, first: int) -> Guess:
        known = [piece for piece in self.guesses if piece <= first]
        if not known:
            return self.guesses[min(self.guesses)] if self.guesses else Guess(0, self.mixing_s + 120.0)
        return self.guesses[max(known)]

    def _windows(self, mixed: datetime, poured: datetime, bucket: Bucket) -> tuple[dict[str, int], dict[str, int]]:
        at = self.setting
        closes: dict[str, int] = {}
        opens: dict[str, int] = {}
        ended = mixed + timedelta(seconds=self.mixing_s)
        for name in ("pour-out", "induction", "back-roll", "wet-edge", "broadcast", "dwell", "neutralise", "rinse"):
            start = mixed if name == "pour-out" else ended if name == "induction" else poured
            shut = at.timing.closes(at.coat.product, name, start, bucket)
            if shut is not None and name not in at.ignore:
                closes[name] = math.floor(shut.early_s * at.reserve)
            opened = at.timing.opens(at.coat.product, name, start, bucket)
            if opened is not None:
                opens[name] = math.ceil(opened.safe_open_s)
        return closes, opens

    def network(self, cuts: Cuts) -> Network:
        """The steps of these batches and how they are linked."""
        found = self._networks.get(cuts)
        if found is None:
            if len(self._networks) > MOST_CACHED:
                self._networks.clear()
            found = self._networks[cuts] = _Builder(self, cuts).build()
        return found

    def node(self, batch: int, kind: str) -> int:
        """The step of a batch."""
        return self.lead + batch * len(self.kinds) + self.kinds.index(kind)

    def touching(self, piece: int) -> list[int]:
        """The earlier pieces that this one must be joined to wet."""
        return self._wet[piece]

    def _joints(self) -> list[list[int]]:
        pieces, pairs = self.setting.pieces, self.setting.wet_pairs
        asked = self.setting.coat.wet_edge is not False and "squeegee" in self.kinds
        joints: list[list[int]] = []
        for index, piece in enumerate(pieces):
            beside = [other for other in range(index) if _touch(pieces[other], piece, pairs)] if asked else []
            joints.append(beside)
        return joints


def _touch(earlier: Piece, later: Piece, pairs: frozenset[tuple[str, str]]) -> bool:
    """Parts of one area touch the part before; areas touch with the last part of the one and the first of the other."""
    if earlier.area == later.area:
        return later.part == earlier.part + 1
    a, b = sorted((earlier.area, later.area))
    return (a, b) in pairs and earlier.part == earlier.parts and later.part == 1


class _Builder:
    """Builds the network of one division into batches."""

    def __init__(self, chain: CoatChain, cuts: Cuts) -> None:
        self.chain = chain
        self.cuts = cuts
        self.runs = list(pairwise((0, *cuts)))
        self.links: list[Link] = []
        self.limits: list[Link] = []
        size = chain.lead + len(self.runs) * len(chain.kinds) + chain.tail
        self.release = [0] * size
        self.deadline = [chain.setting.ends_s] * size

    def build(self) -> Network:
        times: list[tuple[int | None, ...]] = [wait.times for wait in self.chain.setting.waiting]
        for index, wait in enumerate(self.chain.setting.waiting):
            self.release[index] = max(0, wait.release_s)
            self.deadline[index] = min(self.deadline[index], wait.deadline_s)
            if wait.first:
                self.link(index, self.at(0, "mix"))
        for batch, (first, end) in enumerate(self.runs):
            spec = self.chain.spec(first, end)
            times += spec.times
            self._inside(batch, spec)
            self._bounded(batch)
            if batch:
                self._one_after_the_other(batch)
                self._joined(batch)
        times.append(times_of(self.chain.setting.crew, "clean", (), {"clean": CLEAN_S}))
        self._clean_up()
        free = self.chain.setting.people_free_s
        return network(times, self.links, self.limits, self.release, self.deadline, free)

    def at(self, batch: int, kind: str) -> int:
        return self.chain.node(batch, kind)

    def has(self, kind: str) -> bool:
        return kind in self.chain.kinds

    def link(self, first: int, then: int, lag: int = 0) -> None:
        """`then` starts no sooner than `lag` after `first` ends."""
        self.links.append(Link(first, then, lag, 1, 0))

    def behind(self, first: int, then: int, start_lag: int, end_lag: int) -> None:
        """`then` starts and ends behind `first`, without waiting for its end."""
        self.links.append(Link(first, then, start_lag, 0, 0))
        self.links.append(Link(first, then, end_lag, 1, 1))

    def ends_within(self, start: int, step: int, span: int) -> None:
        """`step` ends at most `span` after the end of `start`."""
        self.limits.append(Link(step, start, -span, 1, 1))

    def starts_within(self, start: int, step: int, span: int) -> None:
        """`step` starts at most `span` after the end of `start`."""
        self.limits.append(Link(step, start, -span, 0, 1))

    def _inside(self, batch: int, spec: Spec) -> None:
        mix, pour = self.at(batch, "mix"), self.at(batch, "pour")
        self.link(self.at(batch, "measure"), mix)
        self.link(mix, pour, spec.opens.get("induction", 0))
        if "pour-out" in spec.closes:
            self.limits.append(Link(pour, mix, -spec.closes["pour-out"], 1, 0))
        if "induction" in spec.closes:
            self.starts_within(mix, pour, spec.closes["induction"])
        self.starts_within(mix, pour, spec.opens.get("induction", 0) + AT_ONCE_S)
        if self.has("squeegee"):
            self._on_the_floor(batch, spec)
        if self.has("neutralise") or self.has("rinse"):
            self._etched(batch, spec)

    def _on_the_floor(self, batch: int, spec: Spec) -> None:
        pour, spread, roll = (self.at(batch, kind) for kind in ("pour", "squeegee", "roll"))
        self.link(pour, spread)
        self.starts_within(pour, spread, AT_ONCE_S)
        self.behind(spread, roll, FOLLOW_S, FOLLOW_S)
        if self.has("cut-in"):
            self.link(pour, self.at(batch, "cut-in"))
            self.behind(self.at(batch, "cut-in"), roll, 0, 0)
        if "back-roll" in spec.closes:
            self.ends_within(pour, roll, spec.closes["back-roll"])
        if self.has("broadcast"):
            throw = self.at(batch, "broadcast")
            self.behind(roll, throw, math.ceil(practice.FLAKE_LAG_S.value), FOLLOW_S)
            self.link(pour, throw, spec.opens.get("broadcast", 0))
            if "broadcast" in spec.closes:
                self.ends_within(pour, throw, spec.closes["broadcast"])

    def _etched(self, batch: int, spec: Spec) -> None:
        before, pour = self.at(batch, "pour"), self.at(batch, "pour")
        for kind in ("neutralise", "rinse"):
            if not self.has(kind):
                continue
            step = self.at(batch, kind)
            self.link(before, step)
            if before == pour:
                self.link(pour, step, max(spec.opens.get("dwell", 0), spec.opens.get(kind, 0)))
                if "dwell" in spec.closes:
                    self.starts_within(pour, step, spec.closes["dwell"])
            elif kind in spec.opens:
                self.link(pour, step, spec.opens[kind])
            if kind in spec.closes:
                self.ends_within(pour, step, spec.closes[kind])
            before = step

    def _bounded(self, batch: int) -> None:
        first, end = self.runs[batch]
        pour = self.at(batch, "pour")
        for piece in self.chain.setting.pieces[first:end]:
            bound = self.chain.setting.bounds.get(piece.area)
            if bound is None:
                continue
            self.release[pour] = max(self.release[pour], bound.not_before_s)
            self.deadline[pour] = min(self.deadline[pour], bound.not_after_s)
            if self.has("squeegee"):
                spread = self.at(batch, "squeegee")
                self.deadline[spread] = min(self.deadline[spread], bound.joined_by_s)

    def _one_after_the_other(self, batch: int) -> None:
        self.link(self.at(batch - 1, "pour"), self.at(batch, "pour"))
        buckets = len(practice.vessels(self.chain.setting.site).value) if self.chain.setting.site.vessels else NEVER_S
        if batch >= buckets:
            self.link(self.at(batch - buckets, "pour"), self.at(batch, "mix"))

    def _joined(self, batch: int) -> None:
        """The joint is spread while every neighbour's wet edge lives, and its unflaked strip while flake still sticks.

        With one neighbour the new batch begins at the joint, so its start counts; with several its end does.
        """
        first, end = self.runs[batch]
        beside = sorted(
            {self._batch_of(other) for piece in range(first, end) for other in self.chain.touching(piece)} - {batch}
        )
        spread = self.at(batch, "squeegee") if self.has("squeegee") else -1
        for other in beside:
            spec = self.chain.spec(*self.runs[other])
            pour = self.at(other, "pour")
            self.link(self.at(other, "squeegee"), spread)
            if "wet-edge" in spec.closes:
                within = self.starts_within if len(beside) == 1 else self.ends_within
                within(pour, spread, spec.closes["wet-edge"])
            if self.has("broadcast") and "broadcast" in spec.closes:
                self.starts_within(pour, self.at(batch, "broadcast"), spec.closes["broadcast"])

    def _batch_of(self, piece: int) -> int:
        return next(batch for batch, (first, end) in enumerate(self.runs) if first <= piece < end)

    def _clean_up(self) -> None:
        clean = len(self.release) - 1
        last = "roll" if self.has("roll") else self.chain.kinds[-1]
        for batch in range(len(self.runs)):
            self.link(self.at(batch, last), clean)
