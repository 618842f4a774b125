"""A solved session as batches and steps, with the windows of the hours that came out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import cached_property

from mixclock.decide.plan.days.coattask import Session
from mixclock.decide.plan.days.neutraliser import ended_on, neutraliser_batches, neutraliser_steps, stricter
from mixclock.decide.plan.days.stepnotes import flake_note, meets_what_lies, met_by, neutralised_with
from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.films import LaidFilm
from mixclock.decide.plan.floor.flake import flake_of
from mixclock.decide.plan.floor.handybuckets import handy, room_to_round_l
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.plan.floor.plans import FROM_THE_JOINT, FloorPiece, PlannedBatch, PlannedStep, PlannedWindow
from mixclock.decide.plan.floor.precedence import (
    FOLLOWING,
    IN_STRIPS,
    ROLLED_BY_TWO,
    SHUT_BY,
    STEP_OF,
    STRIP_OF,
    WORK_OF,
    on_strip,
)
from mixclock.decide.plan.floor.quantities import Amounts, in_whole_kits, most_l, planned_bucket
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.floor.timing import NEVER_S, Bucketful, Timing, is_sure_span
from mixclock.decide.plan.search.chain import CoatChain
from mixclock.decide.plan.search.divisions import possible, too_slow_for
from mixclock.job.profile import Profile
from mixclock.job.site import Coat
from mixclock.job.steps import NEUTRALISE, POUR_OUT, RINSE, WET_EDGE
from mixclock.values import dataclass, replace

JOINED_BY = (("squeegee", WET_EDGE), ("broadcast", "broadcast"))
"""The steps by which a later batch joins an earlier one, each with the window of the earlier batch that it must
keep."""

AS_LATE_S, NO_TIME = 1e-6, timedelta()
LEAST_SHARE = 0.02
"""Less of an area than this share of a strip is not named with it."""

TOGETHER: Mapping[str, str] = {
    "cut-in": "half of the edge, {other} cuts in the other half",
    "roll": "together with {other}, side by side",
}
"""What each of two people who share a step is told."""


@dataclass(frozen=True)
class SessionTimetable:
    """A session in the shapes of a plan."""

    batches: tuple[PlannedBatch, ...]
    steps: tuple[PlannedStep, ...]


def tell(session: Session, coat: Coat, profile: Profile, exact: Timing, number: int) -> SessionTimetable:
    """The batches and steps of a session; batches are counted from `number`."""
    return _SessionTeller(session, coat, profile, exact, number).tell()


def film_of(batch: PlannedBatch, steps: Sequence[PlannedStep]) -> LaidFilm:
    """A planned batch as the film that the next coat goes on."""
    ended = ended_on(batch, steps)
    stood_s = (batch.poured_at - batch.mixed_at).total_seconds()
    bucket = Bucketful(batch.mass_kg, batch.volume_l, stood_s)
    return LaidFilm(batch.coat, batch.product, batch.areas, ended, bucket, batch.number, batch.size_m2)


def shared(steps: list[PlannedStep], kind: str) -> list[PlannedStep]:
    """The shares of two people in a step of one batch. Each is told of the other; if one person does both, they become
    one step."""
    halves = sorted((step for step in steps if step.kind == kind), key=lambda step: step.starts)
    if len(halves) < 2:
        return steps
    one, other = halves
    if one.who != other.who:
        told = [
            replace(mine, beside=theirs.who, note=TOGETHER[kind].format(other=theirs.who))
            for mine, theirs in ((one, other), (other, one))
        ]
    else:
        told = [replace(one, ends=other.ends)] if one.ends == other.starts else halves
    return [*(step for step in steps if step.kind != kind), *told]


class _SessionTeller:
    def __init__(self, session: Session, coat: Coat, profile: Profile, exact: Timing, number: int) -> None:
        self.session = session
        self.chain: CoatChain = session.laid.chain
        self.coat = coat
        self.profile = profile
        self.exact = exact
        self.first = number
        self.number = number + len(acid.bucketfuls(self.chain.setting, self.chain.setting.pieces))
        self.cuts = session.laid.solution.cuts
        self.net = self.chain.network(self.cuts)
        self.windows: dict[int, dict[str, PlannedWindow]] = {}
        self.strips = self.chain.setting.strips
        exact_amounts = [self.chain.spec(*self._run(index)).amounts for index in range(len(self.cuts))]
        self.room_l = room_to_round_l(exact_amounts, coat, profile)

    def tell(self) -> SessionTimetable:
        batches = tuple(self._batch(index) for index in range(len(self.cuts)))
        steps = [*self._waiting_steps()]
        for index in range(len(self.cuts)):
            steps += self._steps(index)
        steps.append(self._clean_up())
        before = tuple(neutraliser_batches(self.chain.setting, steps, self.first))
        return SessionTimetable((*before, *batches), tuple(steps))

    def _run(self, index: int) -> tuple[int, int]:
        return (self.cuts[index - 1] if index else 0), self.cuts[index]

    def _span(self, node: int) -> tuple[datetime, datetime]:
        solution = self.session.laid.solution
        start = solution.found.starts[node]
        length = self.net.span(node, solution.staff[node])
        begins = self.session.begins
        return begins + timedelta(seconds=start), begins + timedelta(seconds=start + length)

    def _who(self, node: int) -> str:
        return self.chain.setting.crew.people[self.session.laid.solution.staff[node]].name

    def _batch(self, index: int) -> PlannedBatch:
        first, end = self._run(index)
        pieces = self.chain.setting.pieces[first:end]
        mixed, poured = self._span(self.chain.node(index, "mix"))[0], self._poured(index, self.strips)
        amount, windows = self._weighed_out(index, mixed, poured)
        self.windows[index] = {window.name: window for window in windows}
        out = self.windows[index].get(POUR_OUT)
        set_by, site = self._set_by(first, end), self.chain.setting.site
        return replace(
            planned_bucket(
                site, self.coat, self.profile, tuple(pieces), amount, self.number + index, mixed, poured, set_by
            ),
            pour_by=out.closes if out else None,
            windows=windows,
            flake_kg=flake_of(self.coat, sum(piece.size_m2 for piece in pieces)).thrown_kg,
            strips=self.strips,
        )

    def _poured(self, index: int, strip: int) -> datetime:
        """When a strip of a bucket is poured out; with the last the bucket is empty."""
        return self._span(self.chain.node(index, on_strip("pour", strip)))[1]

    def _sooner(self, index: int, strip: int, window: PlannedWindow) -> timedelta:
        """By how much a strip's window shuts before that of the last strip, from which a bucket's windows count."""
        poured = self._poured(index, self.strips)
        return poured - self._poured(index, strip) if window.starts == poured else timedelta(0)

    def _weighed_out(self, index: int, mixed: datetime, poured: datetime) -> tuple[Amounts, tuple[PlannedWindow, ...]]:
        """The handiest amount that makes no step of this bucket later than the exact amount would."""
        at = self.chain.setting
        exact = self.chain.spec(*self._run(index)).amounts
        most = min(most_l(at.site, self.coat, self.profile)[0], exact.mixed_l + self.room_l)
        for amount in handy(exact, self.coat, self.profile, at.site.units, most):
            windows = self._windows_for(index, amount, mixed, poured)
            late_s = 0.0 if amount is exact else self._late_by(index, windows)
            best_s = self._late_by(index, self._windows_for(index, exact, mixed, poured)) if late_s > AS_LATE_S else 0.0
            if late_s <= best_s + AS_LATE_S:
                break
        return amount, windows

    def _windows_for(self, index: int, amount: Amounts, mixed: datetime, poured: datetime) -> tuple[PlannedWindow, ...]:
        stood_s = (poured - mixed).total_seconds()
        return self._windows_of(index, mixed, poured, Bucketful(amount.mass_kg, amount.mixed_l, stood_s))

    def _late_by(self, index: int, windows: Sequence[PlannedWindow]) -> float:
        """How many seconds, in all, the steps of a batch and those that join it end after these edges."""
        asked = {window.name: window for window in windows}
        own = [(kind, name) for kind in self.chain.kinds for name in SHUT_BY.get(WORK_OF.get(kind, kind), ())]
        over = [(name, self._over(index, kind, asked[name])) for kind, name in own if name in asked]
        for other in self._later(index):
            for kind, name in ((each, name) for each, name in JOINED_BY if each in self.chain.kinds):
                starts, ends = self._span(self.chain.node(other, kind))
                over.append((name, ends if kind == "squeegee" and len(self._beside[other]) > 1 else starts))
        shuts = [(ends, asked[name].closes) for name, ends in over if name in asked]
        return sum(max(0.0, (ends - shut).total_seconds()) for ends, shut in shuts if shut is not None)

    def _over(self, index: int, kind: str, window: PlannedWindow) -> datetime:
        """When a step is over, as if its strip had been poured with the last."""
        return self._span(self.chain.node(index, kind))[1] + self._sooner(index, STRIP_OF.get(kind, 1), window)

    def _set_by(self, first: int, end: int) -> str:
        """Why the batch does not take the next piece of floor as well."""
        if end == self.chain.pieces:
            return "what is left of the floor" if first else "the floor: one batch does it"
        if not self.chain.fits(first, end + 1):
            return most_l(self.chain.setting.site, self.coat, self.profile)[1]
        window = too_slow_for(self.chain, first, end + 1) if not possible(self.chain, first, end + 1) else None
        if window is not None:
            more = areas_said([self.chain.setting.pieces[end].said])
            return f"{window}: with {more} as well this crew would be too slow for it"
        kits = [self.chain.spec(first, last).amounts.kits for last in (end, end + 1)]
        if in_whole_kits(self.coat, self.profile) and kits[0] != kits[1]:
            return "the kit: one piece of floor more would open another"
        return "the wet edge and the crew's time between batches"

    def _windows_of(
        self, index: int, mixed: datetime, poured: datetime, bucket: Bucketful
    ) -> tuple[PlannedWindow, ...]:
        number, product = self.number + index, self.coat.product
        found = []
        ended = mixed + timedelta(seconds=self.chain.mixing_s)
        for name, after in self._windows_asked().items():
            start = mixed if name == POUR_OUT else self._since(index, after, ended, poured)
            opens = self.exact.opens(product, name, start, bucket)
            closes = self.exact.closes(product, name, start, bucket)
            sure = is_sure_span(opens, closes)
            opens_s = None if opens is None else opens.safe_open_s if sure else opens.likely_s
            closes_s = None if closes is None else closes.early_s if sure else closes.likely_s
            window = PlannedWindow(
                name,
                number,
                start,
                None if opens_s is None else start + timedelta(seconds=opens_s),
                None if closes_s is None else start + timedelta(seconds=closes_s),
                start + timedelta(seconds=closes.likely_s) if closes else None,
                sure,
            )
            since = self._since(index, acid.AFTER.get(name, after), ended, poured)
            window = stricter(window, self.chain.setting, self.exact, bucket, since)
            if window.opens is not None or window.closes is not None:
                found.append(window)
        return tuple(found)

    def _windows_asked(self) -> dict[str, str]:
        """The windows of the sheet, each with what it counts from. Those of a neutraliser belong to its etch."""
        asked = acid.AFTER if self.chain.setting.neutraliser is not None else {}
        return {POUR_OUT: "", **asked, **{rule.name: rule.after for rule in self.profile.windows}}

    def _since(self, index: int, after: str, ended: datetime, poured: datetime) -> datetime:
        if after == "mixed":
            return ended
        kind = STEP_OF.get(after, after)
        done = [each for each in self.chain.kinds if WORK_OF.get(each, each) == kind]
        return max((self._span(self.chain.node(index, each))[1] for each in done), default=poured)

    def _steps(self, index: int) -> list[PlannedStep]:
        steps: list[PlannedStep] = []
        for kind in self.chain.kinds:
            node = self.chain.node(index, kind)
            starts, ends = self._span(node)
            if ends > starts:
                steps.append(self._step(index, kind, node, starts, ends))
        for kind in TOGETHER if self.strips == 1 else ():
            steps = shared(steps, kind)
        if steps and steps[0].kind == "ready":
            steps = [*neutraliser_steps(self.chain.setting, steps[0], self.first), *steps[1:]]
        return steps

    def _step(self, index: int, each: str, node: int, starts: datetime, ends: datetime) -> PlannedStep:
        kind, strip = WORK_OF.get(each, each), STRIP_OF.get(each, 1)
        to_the_joint = strip > 1 or len(self._beside[index]) == 1
        window, by = self._due(index, kind, strip, ends - starts if to_the_joint else NO_TIME)
        at = starts if window and kind == "squeegee" and to_the_joint else ends
        told = self.strips > 1 and kind in IN_STRIPS
        return PlannedStep(
            kind=kind,
            who=self._who(node),
            starts=starts,
            ends=ends,
            coat=self.coat.name,
            batch=self.number + index,
            areas=self._places(index, strip if told else None),
            window=window,
            by=by,
            slack_s=self._slack_s(index, kind, at, by) if by else None,
            note=self._strip_note(index, kind, strip) if told else self._note(index, kind),
            strip=strip if told else None,
        )

    def _places(self, index: int, strip: int | None) -> tuple[str, ...]:
        """Where a step is done: the pieces of its batch, or those that its strip goes over."""
        pieces = self._pieces(index)
        if strip is None:
            return tuple(piece.said for piece in pieces)
        each = sum(piece.size_m2 for piece in pieces) / self.strips
        begins, found = 0.0, []
        for piece in pieces:
            begun = max(begins, (strip - 1) * each)
            if min(begins + piece.size_m2, strip * each) - begun > LEAST_SHARE * each:
                found.append(piece.area)
            begins += piece.size_m2
        return tuple(dict.fromkeys(found))

    def _strip_note(self, index: int, kind: str, strip: int) -> str:
        """What is to be minded at the joints of a strip; those of its bucket are said by that bucket's own notes."""
        if kind == "broadcast":
            return self._flake_note(index, strip == 1, strip == self.strips)
        return self._note(index, kind) if strip == 1 or kind != "squeegee" else FROM_THE_JOINT

    def _slack_s(self, index: int, kind: str, at: datetime, by: datetime) -> float:
        """The time left until the edge. A step that follows another over the floor must also begin soon enough behind
        it."""
        slack = by - at
        before = acid.rinsed_after(self.profile) if kind == RINSE else "pour"
        if kind in FOLLOWING:
            begun, ended = self._span(self.chain.node(index, before))
            starts = self._span(self.chain.node(index, kind))[0]
            slack = min(slack, (begun - starts) + (by - ended))
        return slack.total_seconds()

    def _due(self, index: int, kind: str, strip: int, before_end: timedelta) -> tuple[str | None, datetime | None]:
        """The early edge that a step must keep: that of its own window, or the wet edge of the strip or the batches
        that it joins. Film that lies is met by the end of a spread, which is `before_end` later than what is told."""
        if kind == "squeegee" and strip > 1:
            edge = self.windows[index].get(WET_EDGE) if self.coat.wet_edge is not False else None
            if edge is None or edge.closes is None:
                return None, None
            return WET_EDGE, edge.closes - self._sooner(index, strip - 1, edge)
        if kind == "squeegee":
            edges = [self.windows[other].get(WET_EDGE) for other in self._beside[index]]
            closing = [edge.closes for edge in edges if edge is not None and edge.closes is not None]
            at, poured = self.chain.setting, lambda place: self._span(place)[1]
            lying = met_by(at, self._pieces(index), self.session.begins, poured)
            closing += [by - before_end for by in lying]
            return (WET_EDGE, min(closing)) if closing else (None, None)
        own = [edge for name in SHUT_BY.get(kind, ()) if (edge := self.windows[index].get(name)) is not None]
        shut = [(edge.closes - self._sooner(index, strip, edge), edge.name) for edge in own if edge.closes is not None]
        by, name = min(shut, default=(None, None))
        return name, by

    @cached_property
    def _beside(self) -> list[list[int]]:
        """The batches before each that it is joined to wet."""
        division = self.chain.division(self.cuts)
        return [division.beside(index) for index in range(len(self.cuts))]

    def _later(self, index: int) -> list[int]:
        return [other for other in range(index + 1, len(self.cuts)) if index in self._beside[other]]

    def _note(self, index: int, kind: str) -> str:
        if kind == "broadcast":
            return self._flake_note(index)
        if kind == NEUTRALISE:
            return neutralised_with(self.chain.setting, self._pieces(index), self.first)
        if kind == "squeegee" and self._joins(index):
            return FROM_THE_JOINT
        return ""

    def _flake_note(self, index: int, begins: bool = True, ends: bool = True) -> str:
        later = self._later(index) if ends else []
        before = self._first_area_of(later[0]) if later else ""
        return flake_note(self.chain.setting, begins and self._joins(index), before)

    def _first_area_of(self, index: int) -> str:
        """Where a batch begins: its pieces of the first area."""
        pieces = self._pieces(index)
        return areas_said([piece.said for piece in pieces if piece.area == pieces[0].area])

    def _joins(self, index: int) -> bool:
        return bool(self._beside[index]) or meets_what_lies(self.chain.setting, self._pieces(index))

    def _pieces(self, index: int) -> tuple[FloorPiece, ...]:
        return self.chain.setting.pieces[slice(*self._run(index))]

    def _waiting_steps(self) -> list[PlannedStep]:
        steps = []
        for node, wait in enumerate(self.chain.setting.waiting):
            starts, ends = self._span(node)
            by = self.session.begins + timedelta(seconds=wait.deadline_s) if wait.deadline_s < NEVER_S else None
            slack_s = (by - ends).total_seconds() if by else None
            coat = self.coat.after or self.coat.name if wait.first else self.coat.name
            other = self._rolls_beside(wait)
            steps.append(
                PlannedStep(
                    kind=WORK_OF.get(wait.kind, wait.kind),
                    who=self._who(node),
                    starts=starts,
                    ends=ends,
                    coat=coat,
                    batch=wait.batch,
                    areas=wait.areas,
                    window=wait.window,
                    by=by,
                    slack_s=slack_s,
                    note=wait.note if other is None else TOGETHER["roll"].format(other=other),
                    strip=wait.strip,
                    beside=other,
                )
            )
        return steps

    def _rolls_beside(self, wait: OpenStep) -> str | None:
        """Who rolls the same film of a batch that is under way, where two do."""
        mine = (wait.batch, wait.areas, {"roll": ROLLED_BY_TWO, ROLLED_BY_TWO: "roll"}.get(wait.kind))
        waiting = self.chain.setting.waiting
        others = [at for at, other in enumerate(waiting) if (other.batch, other.areas, other.kind) == mine]
        return self._who(others[0]) if others else None

    def _clean_up(self) -> PlannedStep:
        node = self.net.size - 1
        starts, ends = self._span(node)
        return PlannedStep("clean", self._who(node), starts, ends, self.coat.name)
