"""The links and limits between the steps of a coat's batches, for one division of the floor."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.crew import clean_up_s, times_of
from mixclock.decide.plan.floor.precedence import ROLLED_BY_TWO, WORK_OF, Lead, leads_among, on_strip
from mixclock.decide.plan.floor.setting import CoatSetting, Spec
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.network import Link, Network, network
from mixclock.job import practice
from mixclock.job.steps import BACK_ROLL, INDUCTION, NEUTRALISE, POUR_OUT, RINSE, WET_EDGE
from mixclock.values import dataclass


@dataclass(frozen=True)
class Division:
    """One division of a coat into batches: the steps of each, the pieces from where to where, what each takes, and
    for each piece the earlier ones that it is joined to wet."""

    setting: CoatSetting
    kinds: tuple[str, ...]
    runs: tuple[tuple[int, int], ...]
    specs: tuple[Spec, ...]
    touching: Sequence[Sequence[int]]

    def beside(self, batch: int) -> list[int]:
        """The batches that one is joined to wet, among those before it."""
        first, end = self.runs[batch]
        touched = {other for piece in range(first, end) for other in self.touching[piece] if not first <= other < end}
        return sorted({self._batch_of(other) for other in touched}) if touched else []

    def _batch_of(self, piece: int) -> int:
        return bisect_right(self.runs, piece, key=lambda run: run[1])


OPENED_SINCE = {("mix", "pour"): INDUCTION, ("pour", "broadcast"): "broadcast"}
"""The window that opens between two steps."""


def _opened_since(lead: Lead) -> str:
    return OPENED_SINCE.get((WORK_OF.get(lead.first, lead.first), WORK_OF.get(lead.then, lead.then)), "")


class Links:
    """Builds the network of one division into batches."""

    def __init__(self, division: Division) -> None:
        """Begin with no links."""
        self.division = division
        self.setting, self.runs, self.specs = division.setting, division.runs, division.specs
        self.links: list[Link] = []
        self.limits: list[Link] = []
        self.practice: list[Link] = []
        self.joints: list[tuple[int, int, int]] = []
        self._each, first = len(division.kinds), len(self.setting.waiting)
        self._place = {kind: first + at for at, kind in enumerate(division.kinds)}
        self._leads = tuple((lead, _opened_since(lead)) for lead in leads_among(division.kinds))
        cleaning = 1
        size = len(self.setting.waiting) + len(self.runs) * len(division.kinds) + cleaning
        self.release = [0] * size
        self.deadline = [self.setting.ends_s] * size
        self.tails = [0] * size

    def build(self) -> Network:
        """The network."""
        times: list[tuple[int | None, ...]] = [wait.times for wait in self.setting.waiting]
        for index, wait in enumerate(self.setting.waiting):
            self.release[index] = max(0, wait.release_s)
            self.deadline[index] = min(self.deadline[index], wait.deadline_s)
            if wait.first:
                self._before_its_areas(index, wait.areas)
            if wait.at_once:
                self._before_any_bucket(index)
            if wait.kind == "pour" and self.runs:
                self.link(index, self.at(0, "pour"))
        self._live()
        for batch, spec in enumerate(self.specs):
            times += spec.times
            self._inside(batch, spec)
            self._bounded(batch)
            if batch:
                self._one_after_the_other(batch)
                self._joined(batch)
        self._hold_back(times)
        times.append(times_of(self.setting.crew, "clean", (), {"clean": clean_up_s(self.setting.site)}))
        self._clean_up()
        free = self.setting.people_free_s
        return network(times, self.links, self.limits, self.release, self.deadline, free, self.practice, self.tails)

    def _before_its_areas(self, step: int, areas: Sequence[str]) -> None:
        """What has to be done on the floor below before a bucket is mixed for it."""
        for batch, (first, end) in enumerate(self.runs):
            if any(piece.area in areas for piece in self.setting.pieces[first:end]):
                self.link(step, self.at(batch, "mix"))

    def _before_any_bucket(self, step: int) -> None:
        for batch in range(len(self.runs)):
            for kind in ("ready", "measure", "mix"):
                if self.has(kind):
                    self.link(step, self.at(batch, kind))

    def at(self, batch: int, kind: str) -> int:
        """The step of a batch."""
        return self._place[kind] + batch * self._each

    def has(self, kind: str) -> bool:
        """Whether batches have such a step."""
        return kind in self._place

    def link(self, first: int, then: int, lag: int = 0) -> None:
        """`then` starts no sooner than `lag` after `first` ends."""
        self.links.append(Link(first, then, lag, 1, 0))

    def ends_within(self, start: int, step: int, span: int) -> None:
        """`step` ends at most `span` after the end of `start`."""
        self.limits.append(Link(step, start, -span, 1, 1))

    def starts_within(self, start: int, step: int, span: int) -> None:
        """`step` starts at most `span` after the end of `start`."""
        self.limits.append(Link(step, start, -span, 0, 1))

    def _live(self) -> None:
        """The steps of a batch that is under way keep the order of any batch, area by area."""
        for first, wait in enumerate(self.setting.waiting):
            for then, other in enumerate(self.setting.waiting):
                if wait.batch is None or wait.batch != other.batch:
                    continue
                if wait.strip != other.strip:
                    self._live_strips(first, then)
                elif (wait.kind, other.kind, wait.areas) == ("roll", ROLLED_BY_TWO, other.areas):
                    self._at_once(first, then)
                elif set(wait.areas) & set(other.areas):
                    for lead in leads_among((wait.kind, other.kind)):
                        if (lead.first, lead.then) == (wait.kind, other.kind):
                            self._lead(first, then, lead)

    def _live_strips(self, first: int, then: int) -> None:
        """One strip of a live bucket is poured and spread after the strip before it."""
        wait, other = self.setting.waiting[first], self.setting.waiting[then]
        follows = wait.strip is not None and other.strip == wait.strip + 1
        if follows and wait.kind == other.kind and wait.kind in ("pour", "squeegee"):
            self.link(first, then)

    def _lead(self, first: int, then: int, lead: Lead, opens_s: int = 0) -> None:
        """One row of the table of precedence; a window that has to open first counts from the end of the first."""
        if lead.end_to_start is not None:
            self.link(first, then, max(lead.end_to_start, opens_s))
        if lead.start_to_start is not None:
            self.links.append(Link(first, then, lead.start_to_start, 0, 0))
        if lead.end_to_end is not None:
            self.links.append(Link(first, then, lead.end_to_end, 1, 1))
        if lead.within is not None and not (lead.first == "measure" and self.has(RINSE)):  # an etch waits in its can
            self.practice.append(Link(then, first, -(opens_s + lead.within), 0, 1))

    def _inside(self, batch: int, spec: Spec) -> None:
        for lead, window in self._leads:
            first = self.at(0 if lead.first == "ready" else batch, lead.first)
            self._lead(first, self.at(batch, lead.then), lead, spec.opens.get(window, 0))
        mix, pour = self.at(batch, "mix"), self.at(batch, "pour")
        if POUR_OUT in spec.closes:
            self.limits.append(Link(self.last_pour(batch), mix, -spec.closes[POUR_OUT], 1, 0))
        if INDUCTION in spec.closes:
            self.starts_within(mix, pour, spec.closes[INDUCTION])
        for strip in range(1, self.setting.strips + 1):
            self._on_strip(batch, strip, spec)
        if self.has(ROLLED_BY_TWO) and self.setting.is_helped(*self.runs[batch]):
            self._at_once(self.at(batch, "roll"), self.at(batch, ROLLED_BY_TWO))
        if self.has(RINSE):
            self._washed_off(batch, spec)

    def last_pour(self, batch: int) -> int:
        """With this the bucket is empty."""
        return self.at(batch, on_strip("pour", self.setting.strips))

    def _on_strip(self, batch: int, strip: int, spec: Spec) -> None:
        """A strip is rolled and flaked in its own time, and meets the strip before it while that lives."""
        pour = self.at(batch, on_strip("pour", strip))
        for kind, window in (("roll", BACK_ROLL), (ROLLED_BY_TWO, BACK_ROLL), ("broadcast", "broadcast")):
            if self.has(kind) and window in spec.closes and (strip == 1 or kind != ROLLED_BY_TWO):
                self.ends_within(pour, self.at(batch, on_strip(kind, strip)), spec.closes[window])
        if strip == 1:
            return
        before, spread = self.at(batch, on_strip("pour", strip - 1)), self.at(batch, on_strip("squeegee", strip))
        self.link(before, pour)
        self.link(self.at(batch, on_strip("squeegee", strip - 1)), spread)
        if WET_EDGE in spec.closes and self.setting.coat.wet_edge is not False:
            self.starts_within(before, spread, spec.closes[WET_EDGE])
            if self.has("broadcast") and "broadcast" in spec.closes:
                self.starts_within(before, self.at(batch, on_strip("broadcast", strip)), spec.closes["broadcast"])

    def _at_once(self, first: int, second: int) -> None:
        """Two who do a step side by side begin together."""
        self.links.append(Link(first, second, 0, 0, 0))
        self.practice.append(Link(second, first, 0, 0, 0))

    def _washed_off(self, batch: int, spec: Spec) -> None:
        """Acid: the neutraliser, which is ready before any is poured, follows it over the floor; then all is rinsed."""
        before, rinse = self.at(batch, "pour"), self.at(batch, RINSE)
        if self.has(NEUTRALISE):
            neutralise = self.at(batch, NEUTRALISE)
            self._follows(before, neutralise, *acid.lying(spec))
            before = neutralise
        self._follows(self.at(batch, acid.rinsed_after(self.setting.profile)), rinse, *acid.rinsing(spec))
        self._follows(before, rinse, *acid.rinsing(spec, acid.RINSED_OFF))

    def _follows(self, first: int, then: int, least_s: int, most_s: int) -> None:
        """A step goes over the floor as the one before it did: what lies in between lies that long on every strip."""
        self.links += [Link(first, then, least_s, 0, 0), Link(first, then, least_s, 1, 1)]
        if most_s < NEVER_S:
            self.limits.append(Link(then, first, -most_s, 0, 0))
            self.ends_within(first, then, most_s)

    def _bounded(self, batch: int) -> None:
        first, end = self.runs[batch]
        pour, last = self.at(batch, "pour"), self.last_pour(batch)
        for piece in self.setting.pieces[first:end]:
            self.tails[last] = max(self.tails[last], self.setting.followed_s.get(piece.area, 0))
            bound = self.setting.bounds.get(piece.area)
            if bound is None:
                continue
            self.release[pour] = max(self.release[pour], bound.not_before_s)
            self.deadline[last] = min(self.deadline[last], bound.not_after_s)
            if self.has("squeegee") and piece.part == 1:
                self._meets_what_lies(piece.area, self.at(batch, "squeegee"))
                if self.has("broadcast") and bound.flaked_by_s < NEVER_S:
                    self._flaked_with_what_lies(batch, bound.flaked_by_s)

    def _meets_what_lies(self, area: str, spread: int) -> None:
        """The first spread on an area meets the film beside it, or what a live bucket still has to lay there."""
        pours, lying_by_s = self.setting.met_on(area)
        for pour in pours:
            self.starts_within(pour, spread, self.setting.waiting[pour].wet_s)
        self.deadline[spread] = min(self.deadline[spread], lying_by_s)

    def _flaked_with_what_lies(self, batch: int, flaked_by_s: int) -> None:
        """The flake of a batch is begun while it still sticks on the bare strip of the film that lies beside it."""
        spans = self.specs[batch].times[self.division.kinds.index("broadcast")]
        quickest_s = min(span for span in spans if span is not None)
        node = self.at(batch, "broadcast")
        self.deadline[node] = min(self.deadline[node], flaked_by_s + quickest_s)

    def _one_after_the_other(self, batch: int) -> None:
        self.link(self.last_pour(batch - 1), self.at(batch, "pour"))
        buckets = len(practice.vessels(self.setting.site).value) if self.setting.site.vessels else NEVER_S
        if batch >= buckets:
            self.link(self.last_pour(batch - buckets), self.at(batch, "mix"))

    def _joined(self, batch: int) -> None:
        """The joint is spread while every neighbour's wet edge lives, and its unflaked strip while flake still sticks.

        With one neighbour the new batch begins at the joint, so its start counts; with several its end does.
        """
        beside = self.division.beside(batch)
        spread = self.at(batch, "squeegee") if self.has("squeegee") else -1
        for other in beside:
            spec = self.specs[other]
            pour = self.last_pour(other)
            self.link(self.at(other, on_strip("squeegee", self.setting.strips)), spread)
            if WET_EDGE in spec.closes:
                self.joints.append((other, batch, spec.closes[WET_EDGE]))
                within = self.starts_within if len(beside) == 1 else self.ends_within
                within(pour, spread, spec.closes[WET_EDGE])
            if self.has("broadcast") and "broadcast" in spec.closes:
                self.starts_within(pour, self.at(batch, "broadcast"), spec.closes["broadcast"])

    def _hold_back(self, times: Sequence[Sequence[int | None]]) -> None:
        """A batch whose neighbour has to wait for the floor waits too, so that its wet edge still lives by then.

        Timing alone would find that, but long runs are settled from the front, where the last bays are not seen yet.
        """
        for other, batch, wet_s in reversed(self.joints):
            last = self.last_pour(other)
            soonest, latest = (
                [span for span in times[node] if span is not None] for node in (self.at(batch, "pour"), last)
            )
            held = self.release[self.at(batch, "pour")] + min(soonest) - wet_s - max(latest)
            self.release[last] = max(self.release[last], held)

    def _clean_up(self) -> None:
        clean = len(self.release) - 1
        for index, wait in enumerate(self.setting.waiting):
            if not wait.first:
                self.link(index, clean)
        kinds = self.division.kinds
        last = [kind for kind in kinds if WORK_OF.get(kind, kind) == "roll"] or kinds[-1:]
        for batch in range(len(self.runs)):
            for kind in last:
                self.link(self.at(batch, kind), clean)
