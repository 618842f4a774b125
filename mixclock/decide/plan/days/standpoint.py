"""The rest of a job planned again from where it stands: late, short of material, or with a kit damaged.

It keeps what was poured or is in buckets, films with their real times, and steps under way with their deadlines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.bucketrest import BucketUnderWay, RestInStrips, free_behind, rest_in_strips, rest_said
from mixclock.decide.plan.days.liveedges import bucketful_of, flake_edge, track_of
from mixclock.decide.plan.days.liverolling import in_two, is_sooner_by_two, rolled_by_two
from mixclock.decide.plan.days.sanding import as_sanded
from mixclock.decide.plan.days.sincelast import changes_since
from mixclock.decide.plan.days.standingacid import AcidStanding, AcidStep, is_washed_off
from mixclock.decide.plan.days.stepnotes import late_said
from mixclock.decide.plan.floor.acid import neutraliser_beside
from mixclock.decide.plan.floor.coverage import Coverage, batches_of, covered, in_bucket_m2
from mixclock.decide.plan.floor.crew import Crew, crew_of, times_of
from mixclock.decide.plan.floor.films import LaidFilm
from mixclock.decide.plan.floor.plans import FloorPiece, Plan
from mixclock.decide.plan.floor.precedence import FOLLOW_S, leads_among
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.tracks import Track
from mixclock.job import practice
from mixclock.job.progress import Batch, Portion, Standing
from mixclock.job.site import Coat
from mixclock.job.steps import BACK_ROLL, NEUTRALISE, RINSE, TAPE, WET_EDGE
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, field, replace

DONE_AS = {BACK_ROLL: "roll"}
"""Steps that have one name in the plan and another in the statements."""
STEPS = ((BACK_ROLL, "roll"), ("broadcast", "broadcast"))


@dataclass
class _StandpointNotes:
    """What is gathered from one coat after the other."""

    films: list[LaidFilm] = field(default_factory=list)
    left_m2: dict[tuple[str, str], float] = field(default_factory=dict)
    joined_by: dict[tuple[str, str], datetime] = field(default_factory=dict)
    flaked_by: dict[tuple[str, str], datetime] = field(default_factory=dict)
    edges: dict[tuple[str, str], datetime] = field(default_factory=dict)
    waiting: list[tuple[str, OpenStep, datetime | None, datetime | None]] = field(default_factory=list)
    people_free: dict[str, datetime] = field(default_factory=dict)
    said: list[str] = field(default_factory=list)

    def busy(self, who: str | None, until: datetime) -> None:
        if who is not None and until > self.people_free.get(who, datetime.min.replace(tzinfo=until.tzinfo)):
            self.people_free[who] = until


@dataclass(frozen=True)
class StandpointReport:
    """Where a plan begins, and what to say of that: late steps and lost joints."""

    standpoint: Standpoint
    said: tuple[str, ...] = ()


def with_changes(
    plan: Plan, stood: StandpointReport | None, before: Plan | None, units: CrewUnits = METRIC_CREW
) -> Plan:
    """The plan, with words on where it begins and on what changed since the last plan."""
    said = stood.said if stood is not None else ()
    return replace(plan, warnings=(*plan.warnings, *said), changed=changes_since(before, plan, units))


def standpoint_of(standing: Standing, tracks: Sequence[Track], bench: Bench, now: datetime) -> StandpointReport:
    """Where the job stands: what lies on the floor, what is left, which wet edges and steps are still open."""
    found = _StandpointNotes(people_free={person.name: now for person in crew_of(standing.site).people})
    for coat in standing.site.coats:
        _CoatStanding(standing, tracks, bench, now, coat, found).at_coat()
    return StandpointReport(
        Standpoint(
            films=as_sanded(standing, found.films),
            left_m2=found.left_m2,
            joined_by=found.joined_by,
            flaked_by=found.flaked_by,
            edges=found.edges,
            waiting=tuple(found.waiting),
            people_free=found.people_free,
            next_number=max((batch.id for batch in standing.batches), default=0) + 1,
            kept=tuple(batch.id for batch in standing.batches),
            neutraliser_beside=neutraliser_beside(standing),
        ),
        tuple(dict.fromkeys(found.said)),
    )


class _CoatStanding:
    """One coat, looked at."""

    def __init__(
        self,
        standing: Standing,
        tracks: Sequence[Track],
        bench: Bench,
        now: datetime,
        coat: Coat,
        found: _StandpointNotes,
    ) -> None:
        self.standing, self.tracks, self.bench, self.now = standing, tracks, bench, now
        self.coat, self.found = coat, found
        self.crew: Crew = crew_of(standing.site)
        self.covered: Coverage = covered(standing, coat)
        self.out: dict[int, datetime] = {}
        self.strips: dict[int, int] = {}
        self.wet: dict[int, tuple[int, datetime]] = {}

    def at_coat(self) -> None:
        for area in self.standing.site.areas:
            self.found.left_m2[self.coat.name, area.name] = self.covered.left_m2(area)
        for batch in batches_of(self.standing, self.coat):
            for portion in batch.portions:
                self._laid(batch, portion)
            if batch.emptied is None and batch.left_l > 0.0:
                self._in_bucket(batch)
        self._joints()

    def _laid(self, batch: Batch, portion: Portion) -> None:
        """A film on the floor, area by area, with the steps that it still needs."""
        poured = portion.poured.at
        acid = self._acid(batch)
        if acid is not None:
            self._acid_laid(batch, portion, acid)
            return
        for area in portion.areas:
            self._film(batch, area, poured, self._ended(batch, portion, area))
        ahead: OpenStep | None = None
        for window, kind in STEPS:
            open_on = tuple(area for area in portion.areas if portion.step(window, area) is None)
            if open_on and self._asks(batch, window) and not self._gone_on(portion, window):
                track = track_of(self.tracks, batch, portion.number, window, open_on[0])
                by = track.closes.edge.early if track is not None and track.closes else None
                began = track.began.at if track is not None and track.began is not None else None
                opens = self._behind(kind, open_on, portion.covered_m2, ahead)
                ahead = self._step(batch, kind, window, open_on, portion.covered_m2, opens, by, began)

    def _behind(
        self, kind: str, areas: tuple[str, ...], covered_m2: float | None, ahead: OpenStep | None
    ) -> datetime | None:
        """When a live step can be done at the soonest: behind the step before it, by whoever is quickest."""
        if ahead is None:
            return None
        times = self._times(kind, self._open_m2(areas, covered_m2))
        span_s = min(_quickest_s(row) for row in (ahead.times, *ahead.by_two[:1]))
        then_s = _quickest_s(times)
        hands = {who for row in (ahead.times, *ahead.by_two, times) for who, span in enumerate(row) if span is not None}
        after_s = float(span_s) if len(hands) == 1 else 0.0
        for lead in leads_among((ahead.kind, kind)):
            after_s = max(after_s, lead.start_to_start or 0, span_s + (lead.end_to_end or 0) - then_s)
        return self.now + timedelta(seconds=after_s)

    def _acid_laid(self, batch: Batch, portion: Portion, acid: AcidStanding) -> None:
        """Acid on the floor: what it still needs, and a slab that dries from the rinse on."""
        size_m2 = portion.covered_m2 or self._sum_m2(portion.areas)
        pour_s, neutralise_s = (_quickest_s(self._times(kind, size_m2)) for kind in ("pour", NEUTRALISE))
        dues = list(acid.due_on_floor(portion, pour_s, neutralise_s))
        for area in portion.areas:
            ended = {**self._ended(batch, portion, area), **self._rinsed(dues, area), **acid.ended(portion, area)}
            self._film(batch, area, portion.poured.at, ended)
        for due in dues:
            self._step(batch, due.kind, due.kind, due.areas, portion.covered_m2, due.opens, due.by, None)

    def _rinsed(self, dues: Sequence[AcidStep], area: str) -> Mapping[str, datetime]:
        """When a rinse that is still to come will be over: at its edge, or as soon after as possible."""
        found = {}
        for due in dues:
            if due.kind == RINSE and area in due.areas:
                soonest = max(due.opens, self.now) + timedelta(
                    seconds=_quickest_s(self._times(RINSE, self._sum_m2(due.areas)))
                )
                found[RINSE] = max(soonest, due.by or soonest)
        return found

    def _acid(self, batch: Batch) -> AcidStanding | None:
        if not is_washed_off(self.standing.profile(batch.product)):
            return None
        return AcidStanding(self.standing, self.tracks, self.bench, self.coat, batch)

    def _gone_on(self, portion: Portion, window: str) -> bool:
        """Whether a later step of the film was stated. Then the unstated steps before it are done too."""
        names = [name for name, _ in STEPS]
        later = names[names.index(window) + 1 :]
        return any(portion.step(name, area) is not None for name in later for area in portion.areas)

    def _ended(self, batch: Batch, portion: Portion, area: str) -> Mapping[str, datetime]:
        ended = {"mix": batch.mixing_ended, "pour": portion.poured.at}
        ended |= {DONE_AS.get(name, name): stated.at for (name, on), stated in portion.steps.items() if on == area}
        if self.coat.flake_kg_m2:
            ended.setdefault("broadcast", portion.poured.at)
        return ended

    def _film(self, batch: Batch, area: str, poured: datetime, ended: Mapping[str, datetime]) -> None:
        if (floor := self.standing.site.area(area)) is not None:
            bucket = bucketful_of(batch, poured)
            laid = LaidFilm(self.coat.name, batch.product, (area,), ended, bucket, batch.id, floor.size_m2)
            self.found.films.append(laid)

    def _films_of(self, batch: Batch, out: datetime) -> None:
        ended = {"mix": batch.mixing_ended, "pour": out} | ({"broadcast": out} if self.coat.flake_kg_m2 else {})
        for area in batch.areas:
            self._film(batch, area, out, ended)

    def _in_bucket(self, batch: Batch) -> None:
        """A bucket that is mixed or being mixed. The crew pours, spreads and rolls it before anything new."""
        acid = self._acid(batch)
        if acid is not None:
            self._acid_in_bucket(batch, acid, self._sum_m2(batch.areas))
            return
        rest = in_bucket_m2(self.standing, self.coat, batch)
        in_strips = self._in_strips(batch, rest)
        if in_strips is not None:
            self._strips(batch, in_strips)
            return
        size_m2 = sum(rest.values())
        out = max(self.now, batch.mixing_ended) + timedelta(seconds=practice.POUR_S.value)
        bucket = bucketful_of(batch, out)
        self.found.busy(batch.combined.by or self._who("pour"), out)
        self.found.busy(self._who("squeegee"), out + timedelta(seconds=_quickest_s(self._times("squeegee", size_m2))))
        self._films_of(batch, out)
        lag_s = float(FOLLOW_S)
        for window, kind in STEPS:
            if not self._asks(batch, window):
                continue
            shut = self.bench.exact.closes(batch.product, window, out, bucket)
            by = out + timedelta(seconds=shut.early_s) if shut else None
            self._step(batch, kind, window, batch.areas, size_m2, out + timedelta(seconds=lag_s), by, None)
            lag_s += practice.FLAKE_LAG_S.value

    def _in_strips(self, batch: Batch, rest_m2: Mapping[str, float]) -> RestInStrips | None:
        """What is left in a bucket that outlives its film, in strips, behind the live steps before it."""
        site = self.standing.site
        pieces = [
            FloorPiece(name, size_m2, practice.edge_m(area).value * size_m2 / area.size_m2)
            for name, size_m2 in rest_m2.items()
            if size_m2 > 0.0 and (area := site.area(name)) is not None
        ]
        beside = [by for area, by in self._edges(poured_only=True) if area in batch.areas[:1] and by > self.now]
        free = free_behind(self.found.people_free, self.found.waiting, self.crew, self.now)
        under_way = BucketUnderWay(
            batch, tuple(pieces), self.crew, self.bench.exact, free, self.now, min(beside, default=None),
            flaked=self._asks(batch, "broadcast"), joined=self.coat.wet_edge is not False,
        )  # fmt: skip
        return rest_in_strips(under_way)

    def _strips(self, batch: Batch, rest: RestInStrips) -> None:
        """What is still to be laid of a bucket, strip by strip."""
        self.out[batch.id], self.strips[batch.id] = rest.out, len(batch.portions) + rest.strips
        self._films_of(batch, rest.out)
        units = self.standing.site.units
        each = f"{units.write_volume(batch.left_l / rest.strips)} on {units.write_area(rest.size_m2 / rest.strips)}"
        self.found.said.append(rest_said(batch, rest, each))
        for one in rest.steps:
            if one.late:
                self.found.said.append(f"{one.step.window} of batch {batch.id}, strip {one.step.strip}, comes too late")
            wait = replace(one.step, note=each if one.step.kind == "pour" else "", at_once=one.late)
            self.found.waiting.append((self.coat.name, wait, one.starts, None if one.late else one.by))

    def _acid_in_bucket(self, batch: Batch, acid: AcidStanding, size_m2: float) -> None:
        """A bucket of acid goes on at once; a bucket of neutraliser waits for its acid."""
        if not acid.is_acid:
            return
        begins = max(self.now, batch.mixing_ended)
        ends = begins + timedelta(seconds=_quickest_s(self._times("pour", size_m2)))
        self.found.busy(batch.combined.by or self._who("pour"), ends)
        dues = list(acid.due_from_bucket(begins, ends, _quickest_s(self._times(NEUTRALISE, size_m2))))
        for area in batch.areas:
            self._film(batch, area, ends, {"mix": batch.mixing_ended, "pour": ends, **self._rinsed(dues, area)})
        for due in dues:
            self._step(batch, due.kind, due.kind, due.areas, None, due.opens, due.by, None)

    def _step(
        self,
        batch: Batch,
        kind: str,
        window: str,
        areas: tuple[str, ...],
        covered_m2: float | None,
        opens: datetime | None,
        by: datetime | None,
        began: datetime | None,
    ) -> OpenStep | None:
        """Add a step that a live batch still needs, by whoever does it; at once if it is late already."""
        size_m2, begins = self._open_m2(areas, covered_m2), max(self.now, opens or self.now)
        times, left = self._times(kind, size_m2), 1.0
        if began is not None:
            spent_s, whole_s = int((self.now - began).total_seconds()), _quickest_s(times)
            times = tuple(None if time is None else max(1, time - spent_s) for time in times)
            left = _quickest_s(times) / max(1, whole_s)
        by_two = rolled_by_two(self.crew, kind, size_m2, left)
        wait = OpenStep(kind, batch.id, areas, times, by_two, window=window)
        shares: tuple[OpenStep, ...] = (wait,)
        if by is not None and begins + timedelta(seconds=_quickest_s(times)) > by:
            if by < self.now - timedelta(hours=1):
                return None  # nobody stated it, and its hour is long past: a plan can do nothing for it
            if is_sooner_by_two(wait, self.crew, self.found.people_free, begins):
                shares = in_two(wait)
            if begins + timedelta(seconds=_quickest_s(shares[0].times)) > by:
                self.found.said.append(late_said(window, batch.id, by < self.now))
                by, shares = None, tuple(replace(share, at_once=True) for share in shares)
        self.found.waiting += [(self.coat.name, share, opens, by) for share in shares]
        return wait

    def _open_m2(self, areas: tuple[str, ...], covered_m2: float | None) -> float:
        size_m2 = self._sum_m2(areas)
        return size_m2 if covered_m2 is None else min(size_m2, covered_m2)

    def _joints(self) -> None:
        """Note by when the first spread on each unfinished area must meet the live wet edges beside it."""
        if self.coat.wet_edge is False:
            return
        cuts = {frozenset(pair) for pair in self.standing.site.saw_cuts}
        for area, by in self._edges():
            for other in (area, *self.standing.site.neighbours.get(area, ())):
                floor = self.standing.site.area(other)
                asked = self.coat.goes_on(other)
                if floor is None or not asked or frozenset((area, other)) in cuts or self.covered.left_m2(floor) <= 0.0:
                    continue
                if other != area and (self.covered.by_area.get(other, 0.0) > 0.0 or self._is_begun(area)):
                    continue  # the neighbour is begun, so it was joined then; or the rest of this area lies between
                if by <= self.now:
                    self.found.said.append(f"the wet edge of {area} is gone: tape a straight line there")
                    continue
                key = (self.coat.name, other)
                self.found.joined_by[key] = min(self.found.joined_by.get(key, by), by)
                self.found.edges[self.coat.name, area] = by
                self._flake_too(area, key)
        self._met_after_strips()

    def _flake_too(self, area: str, key: tuple[str, str]) -> None:
        """Note by when flake still sticks on the bare strip of an area beside which another one is laid."""
        by = flake_edge(self.tracks, self.coat, area) if self.coat.flake_kg_m2 else None
        if by is not None and by <= self.now:
            self.found.said.append(f"flake no longer sticks on {area}: the strip at its joint stays bare")
        elif by is not None:
            self.found.flaked_by[key] = min(self.found.flaked_by.get(key, by), by)

    def _met_after_strips(self) -> None:
        """What must meet a bucket in strips counts from its last pour, whenever that is."""
        for place, (coat, step, opens, by) in enumerate(self.found.waiting):
            wet = self.wet.get(step.batch or 0) if step.kind == "pour" and coat == self.coat.name else None
            if wet is not None and step.strip == wet[0]:
                meets = tuple(area for (name, area), at in self.found.joined_by.items() if (name, at) == (coat, wet[1]))
                wet_s = int((wet[1] - self.out[step.batch or 0]).total_seconds())
                self.found.waiting[place] = (coat, replace(step, meets=meets, wet_s=wet_s), opens, by)

    def _is_begun(self, area: str) -> bool:
        floor = self.standing.site.area(area)
        return floor is not None and self.covered.left_m2(floor) > 0.0

    def _edges(self, poured_only: bool = False) -> Iterator[tuple[str, datetime]]:
        """The last poured wet edge of each area, with its early edge."""
        last: dict[str, datetime] = {}
        for batch in batches_of(self.standing, self.coat):
            for portion in batch.portions:
                for area in portion.areas:
                    track = track_of(self.tracks, batch, portion.number, WET_EDGE, area)
                    taped = portion.step(TAPE, area) is not None  # a taped edge is left, and nothing joins it
                    if track is not None and track.closes is not None and not taped:
                        last[area] = max(last.get(area, track.closes.edge.early), track.closes.edge.early)
            if batch.emptied is None and batch.left_l > 0.0 and not poured_only:
                out = max(self.now, batch.mixing_ended) + timedelta(seconds=practice.POUR_S.value)
                out = self.out.get(batch.id, out)
                shut = self.bench.exact.closes(batch.product, WET_EDGE, out, bucketful_of(batch, out))
                if shut is not None:
                    last |= {area: out + timedelta(seconds=shut.early_s) for area in batch.areas}
                    self.wet[batch.id] = self.strips.get(batch.id, 0), out + timedelta(seconds=shut.early_s)
        yield from last.items()

    def _asks(self, batch: Batch, window: str) -> bool:
        """Whether product and coat ask for this step at all."""
        if window == "broadcast":
            return bool(self.coat.flake_kg_m2)
        profile = self.standing.profile(batch.product)
        return profile is not None and profile.window(window) is not None

    def _size_m2(self, areas: Sequence[str]) -> Iterator[float]:
        for name in areas:
            area = self.standing.site.area(name)
            if area is not None:
                yield min(area.size_m2, self.covered.by_area.get(name) or area.size_m2)

    def _sum_m2(self, areas: Sequence[str]) -> float:
        return sum(self._size_m2(areas))

    def _times(self, kind: str, size_m2: float) -> tuple[int | None, ...]:
        return times_of(self.crew, kind, (FloorPiece("", size_m2, 0.0),), {})

    def _who(self, kind: str) -> str | None:
        able = (person.name for person, may in zip(self.crew.people, self.crew.able(kind), strict=True) if may)
        return next(able, None)


def _quickest_s(times: Sequence[int | None]) -> int:
    return min((time for time in times if time is not None), default=0)
