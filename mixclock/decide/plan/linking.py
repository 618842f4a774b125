"""The links and limits between the steps of a coat's batches, for one division of the floor."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from mixclock.decide.plan import acid
from mixclock.decide.plan.crew import CLEAN_S, times_of
from mixclock.decide.plan.network import NEVER_S, Link, Network, network
from mixclock.decide.plan.search import Cuts
from mixclock.job import practice

if TYPE_CHECKING:
    from mixclock.decide.plan.chain import CoatChain
    from mixclock.decide.plan.setting import Spec

FOLLOW_S = 60
"""The next tool follows a minute behind (judgement)."""

AT_ONCE_S = 120
"""A mixed bucket is poured, and what is poured is spread, within two minutes (judgement)."""


class Linking:
    """Builds the network of one division into batches."""

    def __init__(self, chain: CoatChain, cuts: Cuts) -> None:
        """Begin with no links."""
        self.chain = chain
        self.cuts = cuts
        self.runs = list(pairwise((0, *cuts)))
        self.links: list[Link] = []
        self.limits: list[Link] = []
        self.joints: list[tuple[int, int, int]] = []
        size = chain.lead + len(self.runs) * len(chain.kinds) + chain.tail
        self.release = [0] * size
        self.deadline = [chain.setting.ends_s] * size

    def build(self) -> Network:
        """The network."""
        times: list[tuple[int | None, ...]] = [wait.times for wait in self.chain.setting.waiting]
        for index, wait in enumerate(self.chain.setting.waiting):
            self.release[index] = max(0, wait.release_s)
            self.deadline[index] = min(self.deadline[index], wait.deadline_s)
            if wait.first:
                self.link(index, self.at(0, "mix"))
            if wait.at_once:
                self._before_any_bucket(index)
        for batch, (first, end) in enumerate(self.runs):
            spec = self.chain.spec(first, end)
            times += spec.times
            self._inside(batch, spec)
            self._bounded(batch)
            if batch:
                self._one_after_the_other(batch)
                self._joined(batch)
        self._hold_back(times)
        times.append(times_of(self.chain.setting.crew, "clean", (), {"clean": CLEAN_S}))
        self._clean_up()
        free = self.chain.setting.people_free_s
        return network(times, self.links, self.limits, self.release, self.deadline, free)

    def _before_any_bucket(self, step: int) -> None:
        for batch in range(len(self.runs)):
            for kind in ("ready", "measure", "mix"):
                if self.has(kind):
                    self.link(step, self.at(batch, kind))

    def at(self, batch: int, kind: str) -> int:
        """The step of a batch."""
        return self.chain.node(batch, kind)

    def has(self, kind: str) -> bool:
        """Whether batches have such a step."""
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
        elif self.has("rinse"):
            self._washed_off(batch, spec)

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

    def _washed_off(self, batch: int, spec: Spec) -> None:
        """Acid: the neutraliser, which is ready before any is poured, follows it over the floor; then all is rinsed."""
        before, rinse = self.at(batch, "pour"), self.at(batch, "rinse")
        if self.has("ready"):
            self.link(self.at(0, "ready"), before)
        if self.has("neutralise"):
            neutralise = self.at(batch, "neutralise")
            self._follows(before, neutralise, *acid.lying(spec))
            before = neutralise
        self.link(before, rinse)
        self._follows(self.at(batch, acid.rinsed_after(self.chain.setting.profile)), rinse, *acid.rinsing(spec))
        self._follows(before, rinse, *acid.rinsing(spec, acid.RINSED_OFF))

    def _follows(self, first: int, then: int, least_s: int, most_s: int) -> None:
        """A step goes over the floor as the one before it did: what lies in between lies that long on every strip."""
        self.behind(first, then, least_s, least_s)
        if most_s < NEVER_S:
            self.limits.append(Link(then, first, -most_s, 0, 0))
            self.ends_within(first, then, most_s)

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
                self.joints.append((other, batch, spec.closes["wet-edge"]))
                within = self.starts_within if len(beside) == 1 else self.ends_within
                within(pour, spread, spec.closes["wet-edge"])
            if self.has("broadcast") and "broadcast" in spec.closes:
                self.starts_within(pour, self.at(batch, "broadcast"), spec.closes["broadcast"])

    def _hold_back(self, times: Sequence[Sequence[int | None]]) -> None:
        """A batch whose neighbour has to wait for the floor waits too, so that its wet edge still lives by then.

        Timing alone would find that, but long runs are settled from the front, where the last bays are not seen yet.
        """
        for other, batch, wet_s in reversed(self.joints):
            soonest, latest = (
                [span for span in times[self.at(which, "pour")] if span is not None] for which in (batch, other)
            )
            held = self.release[self.at(batch, "pour")] + min(soonest) - wet_s - max(latest)
            self.release[self.at(other, "pour")] = max(self.release[self.at(other, "pour")], held)

    def _batch_of(self, piece: int) -> int:
        return next(batch for batch, (first, end) in enumerate(self.runs) if first <= piece < end)

    def _clean_up(self) -> None:
        clean = len(self.release) - 1
        last = "roll" if self.has("roll") else self.chain.kinds[-1]
        for batch in range(len(self.runs)):
            self.link(self.at(batch, last), clean)
