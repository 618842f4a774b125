"""One coat as the search sees it: pieces of floor in a row, and the network of steps for any division into batches."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from itertools import pairwise

from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.crew import CARRY_S, times_by_two, times_of
from mixclock.decide.plan.floor.meter import A_BATCH, A_STEP_BUILT, Meter
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.precedence import (
    BY_A_SECOND,
    HELPED,
    IN_STRIPS,
    ROLLED_BY_TWO,
    STRIP_OF,
    WORK_OF,
    on_strip,
    soonest_ends,
)
from mixclock.decide.plan.floor.quantities import SMALL_BUCKET, SMALL_JOB_L, amounts, least_l, most_l
from mixclock.decide.plan.floor.setting import CoatSetting, Load, Spec
from mixclock.decide.plan.floor.timing import Bucketful
from mixclock.decide.plan.search.climber import Cuts
from mixclock.decide.plan.search.links import Division, Links
from mixclock.decide.plan.search.network import Network
from mixclock.job import practice
from mixclock.job.profile import WASHED_OFF, Profile
from mixclock.job.site import Coat
from mixclock.job.steps import BACK_ROLL, DWELL, INDUCTION, NEUTRALISE, POUR_OUT, RINSE, WET_EDGE
from mixclock.values import replace

AGREE_S = 90
MOST_CACHED = 4000
HELPED_BY = frozenset(BY_A_SECOND.values())
LEAST_POUR_S = 20.0
"""Nobody pours out even one strip in less time (judgement)."""

MOST_ANSWERS = 4

FLOOR_WINDOWS = (INDUCTION, BACK_ROLL, WET_EDGE, "broadcast", DWELL, NEUTRALISE, RINSE)

PHASE: Mapping[str, float] = {
    "ready": -0.6,
    "measure": -0.5,
    "mix": 0.0,
    "pour": 1.0,
    "cut-in": 2.5,
    HELPED: 2.6,
    "squeegee": 2.0,
    "roll": 3.0,
    ROLLED_BY_TWO: 3.1,
    "broadcast": 4.0,
    NEUTRALISE: 3.0,
    RINSE: 4.0,
}


@dataclass(frozen=True, order=True)
class Guess:
    """When the batch that begins with a piece is mixed, and how long it stands in the bucket, as far as is known."""

    mixed_s: int
    stood_s: float


Alike = tuple[tuple[int, ...], bool, bool, tuple[int, int] | None]
"""Pieces by what they take, whether they are the first of the floor and the last, and which two roll them if that is
chosen: runs of a hall of a few sizes of bay are often alike."""


@dataclass(frozen=True)
class Answers:
    """What the windows answered for one set of guessed hours, and what was made of that."""

    specs: dict[tuple[int, int], Spec] = field(default_factory=dict)
    alike: dict[tuple[Guess, Alike], Spec] = field(default_factory=dict)
    reach: list[int] = field(default_factory=list)
    networks: dict[Cuts, Network] = field(default_factory=dict)


def kinds_of(
    coat: Coat, profile: Profile, pieces: Sequence[FloorPiece], helped: Collection[str] = (), strips: int = 1
) -> tuple[str, ...]:
    """The steps that every batch of a coat goes through, strip by strip where it is poured out in strips."""
    if profile.family in WASHED_OFF:
        return acid.steps_of(profile)
    wanted = ["measure", "mix", "pour"]
    if any(piece.edge_m > 0 for piece in pieces):
        wanted.append("cut-in")
    wanted += ["squeegee", "roll"]
    if coat.flake_kg_m2:
        wanted.append("broadcast")
    kinds = [each for kind in wanted for each in ((kind, BY_A_SECOND[kind]) if kind in helped else (kind,))]
    more = (on_strip(kind, strip) for strip in range(2, strips + 1) for kind in kinds if kind in IN_STRIPS)
    return (*kinds, *more)


class CoatChain:
    """A coat as a `Chain` for the search. Windows are asked for the hours in `guesses`, piece by piece."""

    def __init__(self, setting: CoatSetting, meter: Meter | None = None) -> None:
        """Begin with all batches guessed at the beginning."""
        self.setting = setting
        self.meter = meter or Meter()
        self.kinds = kinds_of(setting.coat, setting.profile, setting.pieces, setting.helped, setting.strips)
        self.guesses: dict[int, Guess] = {}
        self.mixing_s = math.ceil(practice.mixing_time(setting.profile).value)
        self.most_l = most_l(setting.site, setting.coat, setting.profile)[0]
        whole_l = amounts(setting.coat, setting.profile, setting.pieces).mixed_l if setting.pieces else 0.0
        is_small = SMALL_BUCKET in setting.ignore or whole_l < SMALL_JOB_L
        self.least_l = 0.0 if is_small else least_l(setting.coat, setting.profile)
        self.most_batches = math.floor(whole_l / self.least_l + 1e-9) if self.least_l else max(1, len(setting.pieces))
        self._answers: dict[tuple[tuple[int, Guess], ...], Answers] = {}
        self.now = Answers()
        self._even: tuple[dict[int, Guess], Answers] | None = None
        self._loads: dict[Alike, Load] = {}
        stated = [name for name in FLOOR_WINDOWS if setting.profile.window(name) is not None]
        self._shutting, self._opening = [POUR_OUT, *stated], list(stated)

    @property
    def pieces(self) -> int:
        """How many pieces there are."""
        return len(self.setting.pieces)

    @cached_property
    def phases(self) -> tuple[float, ...]:
        """When in a batch each step usually comes."""
        return tuple(PHASE[WORK_OF[kind]] + 3.6 * (STRIP_OF[kind] - 1) if kind in STRIP_OF else PHASE[kind]
                     for kind in self.kinds)  # fmt: skip

    @cached_property
    def like(self) -> tuple[int, ...]:
        """For each kind of step the one whose tools it needs: a strip is done as the first is."""
        return tuple(self.kinds.index(WORK_OF[kind]) if kind in STRIP_OF else at for at, kind in enumerate(self.kinds))

    @property
    def lead(self) -> int:
        """Steps before the first batch."""
        return len(self.setting.waiting)

    @cached_property
    def patient(self) -> frozenset[int]:
        """The steps before the first batch that may wait until a batch needs them."""
        return frozenset(index for index, wait in enumerate(self.setting.waiting) if wait.first)

    @property
    def tail(self) -> int:
        """Cleaning up."""
        return 1

    def weight(self, piece: int) -> float:
        """The size of a piece."""
        return self.setting.pieces[piece].size_m2

    def fits(self, first: int, end: int) -> bool:
        """Whether one bucket holds what these pieces need. A single piece always counts as held."""
        return end - first == 1 or self.load(first, end).amounts.mixed_l <= self.most_l + 1e-9

    def is_worth_mixing(self, first: int, end: int) -> bool:
        """Whether these pieces need as much as a bucket is measured out for."""
        return not self.least_l or self.load(first, end).amounts.mixed_l >= self.least_l - 1e-9

    def guess(self, guesses: Mapping[int, Guess]) -> None:
        """Ask the windows for other hours from now on."""
        self.guesses = dict(guesses)
        if len(self._answers) >= MOST_ANSWERS:
            self._answers.clear()
        self.now = self._answers.setdefault(tuple(sorted(guesses.items())), Answers())

    def guess_evenly(self, spread: Callable[[], Mapping[int, Guess]]) -> None:
        """Ask for hours that are spread evenly, as each number of batches is begun with: what they answer is kept."""
        if self._even is None:
            self._even = dict(spread()), Answers()
        self.guesses, self.now = dict(self._even[0]), self._even[1]

    def spec(self, first: int, end: int) -> Spec:
        """The batch of the pieces from `first` up to `end`."""
        found = self.now.specs.get((first, end))
        if found is None:
            key = self.guess_for(first), self._alike(first, end)
            found = self.now.alike.get(key)
            if found is None:
                found = self.now.alike[key] = self._spec(first, end)
            self.now.specs[(first, end)] = found
        return found

    def spec_from(self, begins: datetime, first: int, end: int) -> Spec:
        """The same batch if the work began at another hour: what a look at many hours asks, before any is searched."""
        return self._spec(first, end, begins)

    def spec_of_a_kilogram(self, begins: datetime) -> Spec:
        """The first piece with the windows of one kilogram mixed at that hour. Which hours leave more time does not
        hang on how much is mixed: so any sizes of pieces and any coats of a product ask the same few buckets."""
        return self._spec(0, 1, begins, a_kilogram=True)

    def _spec(self, first: int, end: int, begins: datetime | None = None, a_kilogram: bool = False) -> Spec:
        load = self.load(first, end)
        guess = self.guess_for(first)
        self.meter.work += A_BATCH
        stood_s = max(guess.stood_s, self.mixing_s)
        mixed = (begins or self.setting.begins) + timedelta(seconds=guess.mixed_s)
        mass_kg, mixed_l = load.amounts.mass_kg, load.amounts.mixed_l
        held = (1.0, round(mixed_l / mass_kg, 6)) if a_kilogram and mass_kg else (mass_kg, mixed_l)
        bucket = Bucketful(*held, stood_s)
        return Spec(load.amounts, load.times, *self._windows(mixed, mixed + timedelta(seconds=stood_s), bucket))

    def load(self, first: int, end: int) -> Load:
        """What these pieces take in one batch, whenever that is mixed."""
        alike = self._alike(first, end)
        known = self._loads.get(alike)
        if known is None:
            pieces = self.setting.pieces[first:end]
            found, times = amounts(self.setting.coat, self.setting.profile, pieces), self._times(pieces, first, end)
            quickest = {
                kind: min(span for span in row if span is not None) for kind, row in zip(self.kinds, times, strict=True)
            }
            first_strip = {kind: span for kind, span in quickest.items() if kind not in STRIP_OF}
            ends = soonest_ends(first_strip) if "roll" in quickest else {}
            known = self._loads[alike] = Load(found, times, quickest, ends)
        return known

    def _alike(self, first: int, end: int) -> Alike:
        return self._sizes[first:end], first == 0, end == self.pieces, self.setting.helped_by.get(first)

    @cached_property
    def _sizes(self) -> tuple[int, ...]:
        """Each piece by the number of its size: those of one number take as much and are as far to carry to."""
        numbers: dict[tuple[float, ...], int] = {}
        carry = self.setting.carry
        return tuple(
            numbers.setdefault(
                (piece.size_m2, piece.edge_m, piece.texture_um, piece.upright_m2, carry.get(piece.area, 0)),
                len(numbers),
            )
            for piece in self.setting.pieces
        )

    def _times(self, pieces: Sequence[FloorPiece], first: int, end: int) -> tuple[tuple[int | None, ...], ...]:
        at = self.setting
        alone, pair = not at.is_helped(first, end), at.helped_by.get(first)
        carry = at.carry.get(pieces[0].area, 0) * CARRY_S
        fixed = {
            "measure": practice.SET_UP_S.value,
            "mix": float(self.mixing_s),
            "pour": max(practice.POUR_S.value / at.strips, LEAST_POUR_S) + carry,
        }
        if at.profile.family in WASHED_OFF:
            del fixed["pour"]
            fixed["ready"] = acid.ready_s(at, at.pieces) if pieces[0] == at.pieces[0] else 0.0
        strip = [share_of(piece, at.strips) for piece in pieces] if at.strips > 1 else pieces
        rows: dict[tuple[str, bool], tuple[int | None, ...]] = {}  # a bucket has the same few kinds for each strip
        for kind, alike in zip(self.kinds, self._alike_kinds, strict=True):
            if alike not in rows:
                rows[alike] = self._row(kind, strip if alike[0] in IN_STRIPS else pieces, fixed, alone, pair)
        return tuple(rows[alike] for alike in self._alike_kinds)

    @cached_property
    def _alike_kinds(self) -> tuple[tuple[str, bool], ...]:
        """For each kind of step the work that it is, and whether it is done as a helper: alike kinds take as long."""
        return tuple((WORK_OF.get(kind, kind), kind in HELPED_BY) for kind in self.kinds)

    def _row(
        self,
        kind: str,
        pieces: Sequence[FloorPiece],
        fixed: Mapping[str, float],
        alone: bool,
        pair: tuple[int, int] | None,
    ) -> tuple[int | None, ...]:
        """How long a step on these pieces, or on a strip of them, takes each; what two do of the edges is half each,
        what two roll goes by their joined rates."""
        crew, work = self.setting.crew, WORK_OF.get(kind, kind)
        if alone and kind in HELPED_BY:
            return tuple(0 if may else None for may in crew.able_to_help(work))
        if work not in self.setting.helped or alone:
            return times_of(crew, work, pieces, fixed)
        if work == "roll":
            return times_by_two(crew, work, pieces, kind != work, self.setting.by_quickest, pair)
        spans = times_of(crew, work, pieces, fixed, helping=kind in HELPED_BY)
        return tuple(None if span is None else math.ceil(span * 0.5) for span in spans)

    def guess_for(self, first: int) -> Guess:
        """When the batch that begins with a piece is taken to be mixed."""
        if first in self.guesses:
            return self.guesses[first]
        known = [piece for piece in self.guesses if piece <= first]
        if not known:
            return self.guesses[min(self.guesses)] if self.guesses else Guess(0, self.mixing_s + 120.0)
        return self.guesses[max(known)]

    def _windows(self, mixed: datetime, poured: datetime, bucket: Bucketful) -> tuple[dict[str, int], dict[str, int]]:
        at = self.setting
        closes: dict[str, int] = {}
        opens: dict[str, int] = {}
        ended = mixed + timedelta(seconds=self.mixing_s)
        begun = {POUR_OUT: mixed, INDUCTION: ended}
        for name in tuple(self._shutting):
            shut = at.timing.closes(at.coat.product, name, begun.get(name, poured), bucket)
            if shut is None:
                self._shutting.remove(name)  # the sheet has no such edge at any hour
            elif name not in at.ignore:
                share = min(at.reserve, 1.0) if name == POUR_OUT else at.reserve  # no bucket is planned past its time
                closes[name] = math.floor(shut.early_s * share)
        for name in tuple(self._opening):
            opened = at.timing.opens(at.coat.product, name, begun.get(name, poured), bucket)
            if opened is None:
                self._opening.remove(name)
            else:
                opens[name] = math.ceil(opened.safe_open_s)
        acid.add_neutraliser(at, poured, bucket, closes, opens)
        return closes, opens

    def network(self, cuts: Cuts) -> Network:
        """The steps of these batches and how they are linked."""
        found = self.now.networks.get(cuts)
        if found is None:
            if len(self.now.networks) > MOST_CACHED:
                self.now.networks.clear()
            found = self.now.networks[cuts] = Links(self.division(cuts)).build()
            self.meter.work += A_STEP_BUILT * len(found.times)
        self.meter.work += len(found.times)  # who asks for it times it once
        return found

    def division(self, cuts: Cuts) -> Division:
        """The batches of a division, each with what it takes."""
        runs = tuple(pairwise((0, *cuts)))
        return Division(self.setting, self.kinds, runs, tuple(self.spec(*run) for run in runs), self._wet)

    def node(self, batch: int, kind: str) -> int:
        """The step of a batch."""
        return self.lead + batch * len(self.kinds) + self.kinds.index(kind)

    def pours(self, cuts: Cuts) -> list[int]:
        """The first and the last pour of each batch."""
        ends = ("pour", on_strip("pour", self.setting.strips))
        return sorted({self.node(batch, kind) for batch in range(len(cuts)) for kind in ends})

    def touching(self, piece: int) -> list[int]:
        """The earlier pieces that this one must be joined to wet."""
        return self._wet[piece]

    def joined(self, before: tuple[int, int], run: tuple[int, int]) -> bool:
        """Whether some piece of a run must be joined wet to the run before it."""
        return any(before[0] <= other < before[1] for piece in range(*run) for other in self.touching(piece))

    @cached_property
    def _wet(self) -> list[list[int]]:
        pieces, pairs = self.setting.pieces, self.setting.wet_pairs
        asked = self.setting.coat.wet_edge is not False and "squeegee" in self.kinds
        joints: list[list[int]] = []
        for index, piece in enumerate(pieces):
            beside = [other for other in range(index) if _touch(pieces[other], piece, pairs)] if asked else []
            joints.append(beside)
        return joints


def share_of(piece: FloorPiece, strips: int) -> FloorPiece:
    """What one of some equal strips takes of a piece."""
    return replace(
        piece, size_m2=piece.size_m2 / strips, edge_m=piece.edge_m / strips, upright_m2=piece.upright_m2 / strips
    )


def _touch(earlier: FloorPiece, later: FloorPiece, pairs: frozenset[tuple[str, str]]) -> bool:
    """Parts of one area touch the part before; areas touch with the last part of the one and the first of the other."""
    if earlier.area == later.area:
        return later.part == earlier.part + 1
    a, b = sorted((earlier.area, later.area))
    return (a, b) in pairs and earlier.part == earlier.parts and later.part == 1
