"""May the next kit be opened? By the plan's own model: one more bucket, beside all that is under way, at its pace.

If a plan that begins now mixes the bucket now, the answer is "yes". If that plan mixes it later, the crew waits that
long. If there is no plan, the answer is "no". Then one obstacle after another is left out until a plan is found. So
mixclock knows what would turn the "no" into a "yes", and never guesses it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.hot import hot_since
from mixclock.decide.hours import local
from mixclock.decide.kitshapes import AS_STATED, DayPace, Frees, KitAnswer, KitVerdict, StillOpen, Way, Why
from mixclock.decide.plan.days.advice import bought_l
from mixclock.decide.plan.days.asitwent import coat_as_it_went, crew_as_it_went
from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.comingbuckets import areas_left, buckets_left, coat_left, part_of
from mixclock.decide.plan.days.onebucket import BucketPlace, OneBucket, TooMuch, fits_in
from mixclock.decide.plan.days.outsidehours import beside_hours, is_at_it
from mixclock.decide.plan.days.standpoint import standpoint_of
from mixclock.decide.plan.floor.conditions import Stretch, allowed, objection, working_stretches
from mixclock.decide.plan.floor.coverage import used_l
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.quantities import kit_l
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.tracks import Track
from mixclock.job import practice
from mixclock.job.progress import Standing
from mixclock.job.site import Coat, in_file_order
from mixclock.job.slabmoisture import moisture_objection, slab_moisture
from mixclock.job.steps import POUR_OUT, WET_EDGE
from mixclock.values import dataclass, replace

AT_ONCE = timedelta(seconds=60)
"""If the plan begins a bucket within a minute, the crew may begin it now: nobody opens a kit to the second
(judgement)."""

MEASURING = timedelta(seconds=practice.SET_UP_S.value)

LEAST_L = 0.5
"""For less than this share of a kit it is not worth opening one (judgement)."""

SMALLER = (0.5, 0.25)
"""The smaller buckets to try when a whole one does not fit."""


@dataclass(frozen=True)
class _Goal:
    coat: Coat
    areas: tuple[str, ...]


def next_kit(
    standing: Standing,
    tracks: Sequence[Track],
    timing: SheetTiming,
    now: datetime,
    plans: Sequence[Plan] = (),
    measuring_since: datetime | None = None,
    past: DayPace = AS_STATED,
) -> KitAnswer:
    """The answer at an instant; `plans` are those of the log, the oldest first, and `past` is what finished jobs tell.

    `measuring_since` is when somebody opened the kit; from then on it is being measured out, and part B goes in soon.
    """
    if standing.finished is not None and standing.finished <= now:
        return KitAnswer(KitVerdict.NO, Why.FINISHED)
    spoilt = _spoilt(standing, tracks, now)
    if spoilt is not None:
        return spoilt
    goal = _goal(standing, plans)
    if goal is None:
        return KitAnswer(KitVerdict.NO, Why.DONE if standing.site.coats else Why.NO_FILE)
    if standing.profile(goal.coat.product) is None:
        return KitAnswer(KitVerdict.NO, Why.NO_SHEET, goal.coat.name, goal.coat.product, goal.areas,
                         ways=(Way(Frees.SHEET),))  # fmt: skip
    return _KitQuestion(standing, tracks, timing, now, tuple(plans), goal, measuring_since, past).answer()


def _spoilt(standing: Standing, tracks: Sequence[Track], now: datetime) -> KitAnswer | None:
    """The "no" for a bucket that runs hot or is gone: it must be dealt with before any other."""
    for batch in standing.batches:
        since = hot_since(standing, batch) if batch.emptied is None else None
        if since is not None and since <= now:
            return KitAnswer(KitVerdict.NO, Why.HOT, areas=batch.areas, batch=batch.id, ways=(Way(Frees.OUTSIDE),))
    for track in tracks:
        edge = track.closing
        stands = track.name == POUR_OUT and edge is not None and track.batch.emptied is None
        if stands and edge is not None and now >= edge.last:
            areas, number = track.batch.areas, track.batch.id
            return KitAnswer(KitVerdict.NO, Why.GONE, areas=areas, batch=number, ways=(Way(Frees.OUTSIDE),))
    return None


def _goal(standing: Standing, plans: Sequence[Plan]) -> _Goal | None:
    """What comes next: the plan's next batch. Without a plan, the first area left of the first coat that is not
    done."""
    planned = next(buckets_left(standing, plans[-1]), None) if plans else None
    coat = standing.site.coat(planned.coat) if planned else None
    if planned is not None and coat is not None:
        left = {area.name for area in areas_left(standing, coat)}
        return _Goal(coat, tuple(name for name in planned.areas if name in left))
    found = coat_left(standing)
    return _Goal(found[0], (found[1][0].name,)) if found else None


class _KitQuestion:
    """One question, with everything that the tries at an answer share."""

    def __init__(
        self,
        standing: Standing,
        tracks: Sequence[Track],
        timing: SheetTiming,
        now: datetime,
        plans: tuple[Plan, ...],
        goal: _Goal,
        measuring_since: datetime | None,
        past: DayPace,
    ) -> None:
        self.went = coat_as_it_went(standing, goal.coat)
        self.now, self.goal, self.plans, self.tracks = now, replace(goal, coat=self.went.coat), plans, tracks
        self.paced = crew_as_it_went(standing, now, past)
        site = self.paced.standing.site
        waste = self.went.coat.waste
        coats = (replace(coat, waste=waste) if coat.name == goal.coat.name else coat for coat in site.coats)
        site = replace(site, coats=tuple(coats))
        self.standing = replace(standing, site=replace(site, coats=in_file_order(site.coats)))
        profile = standing.profile(goal.coat.product)
        assert profile is not None
        self.profile = profile
        measured = min(MEASURING, max(timedelta(), now - measuring_since)) if measuring_since else timedelta()
        self.begins = now - measured
        self.bench = Bench(self.standing.site, standing.profiles, timing, timing, timing, self.begins)
        self.stood = self._standpoint()
        self.left_l = self._material_l(goal.coat)

    def answer(self) -> KitAnswer:
        """Yes, wait or no."""
        if self.left_l is not None and self.left_l < LEAST_L:
            return replace(self._blank(KitVerdict.NO, Why.MATERIAL), left_l=self.left_l, ways=(Way(Frees.FETCH),))
        gone = [(area, by) for area, by in self._edges() if by <= self.now and self._is_today(by)]
        if gone:
            return replace(self._blank(KitVerdict.NO, Why.EDGE_GONE), edge=gone[0][0], edge_by=gone[0][1],
                           ways=(Way(Frees.TAPE),))  # fmt: skip
        damp = self._damp_slab()
        if damp is not None:
            return replace(self._blank(KitVerdict.NO, Why.CONDITIONS), said=damp, ways=(Way(Frees.CONDITIONS),))
        stretch = self._stretch()
        if stretch is None:
            return self._no_time()
        found = self._try(stretch)
        return self._of_bucket(found, stretch) if isinstance(found, OneBucket) else self._refused(found, stretch)

    def _standpoint(self) -> Standpoint:
        """Where the job stands. Whoever measures out counts as free since the kit was opened; live steps begin now at
        the soonest."""
        found = standpoint_of(self.standing, self.tracks, self.bench, self.now).standpoint
        free = {name: self.begins if at <= self.now else at for name, at in found.people_free.items()}
        waiting = tuple((coat, step, max(opens or self.now, self.now), by) for coat, step, opens, by in found.waiting)
        return replace(found, people_free=free, waiting=waiting)

    def _material_l(self, planned: Coat) -> float | None:
        """How much material of the coat as it was planned is left; None if nobody knows how much was bought."""
        if not self.plans or kit_l(planned, self.profile) is None:
            return None
        return bought_l(self.standing, planned, self.plans[0]) - used_l(self.standing, planned)

    def _stretch(self) -> Stretch | None:
        """The present or next stretch of working time in which the sheet allows the product."""
        hours = working_stretches(self.standing.site, self.now)
        if self._works_late(hours):
            hours = [beside_hours(self.standing.site, self.now), *hours]
        found, _ = allowed(hours, self.profile.limits, self.bench.outlook, self.standing.site.units)
        return next((stretch for stretch in found if stretch.end > self.now), None)

    def _works_late(self, hours: Sequence[Stretch]) -> bool:
        """Whether somebody works outside the job file's hours, or has a wet edge then. Whoever is there needs no file's
        leave."""
        mine = (batch for batch in self.standing.batches if batch.coat == self.goal.coat.name)
        wet = any(name == self.goal.coat.name for name, _ in self.stood.joined_by)
        return (wet or is_at_it(mine, self.now)) and not any(stretch.holds(self.now) for stretch in hours)

    def _no_time(self) -> KitAnswer:
        said = self._objection()
        why, way = (Why.CONDITIONS, Frees.CONDITIONS) if said else (Why.HOURS, Frees.OTHER_DAY)
        return replace(self._blank(KitVerdict.NO, why), said=said, ways=(Way(way),))

    def _try(self, stretch: Stretch, share: float = 1.0, joined: bool = True) -> OneBucket | TooMuch:
        """Try one more bucket, for a share of the next areas, joined to the wet edges or not."""
        rest = {area.name: area for area in areas_left(self.standing, self.goal.coat)}
        left = tuple(part_of(rest[name], share) for name in self.goal.areas if name in rest)
        begins = self.begins if stretch.start <= self.now else stretch.start
        return fits_in(
            self.bench, self.stood, BucketPlace(self.goal.coat, self.profile, left, begins, stretch.end, joined)
        )

    def _of_bucket(self, found: OneBucket, stretch: Stretch) -> KitAnswer:
        opens = found.mix_at - MEASURING
        if opens <= self.now + AT_ONCE:
            return replace(self._blank(KitVerdict.YES, Why.FITS, found), mix_at=max(self.now, found.mix_at))
        today = self._is_today(opens)
        why, held = self._held_back(found, stretch)
        edge = next(self._edges(), None)
        return replace(
            self._blank(KitVerdict.WAIT if today else KitVerdict.NO, why, found),
            from_when=opens,
            held_by=held,
            said=self._objection() if why is Why.CONDITIONS else "",
            edge=edge[0] if edge else None,
            edge_by=edge[1] if edge else None,
            ways=tuple(self._ways_to_wait(found, opens, today, stretch)),
        )

    def _ways_to_wait(self, found: OneBucket, opens: datetime, today: bool, stretch: Stretch) -> Iterator[Way]:
        """The ways to a "yes" by waiting, and by a smaller bucket at once if one fits."""
        yield Way(Frees.WAIT if today else Frees.OTHER_DAY, opens, found.spec.amounts.mixed_l)
        smaller = self._smaller(stretch) if today else None
        if smaller is not None:
            yield smaller

    def _held_back(self, found: OneBucket, stretch: Stretch) -> tuple[Why, StillOpen | None]:
        """What the kit has to wait for: the conditions, the working day, somebody's step, or the floor below."""
        if self._objection():
            return Why.CONDITIONS, None
        if stretch.start > self.now:
            return Why.HOURS, None
        if found.floor_opens is not None and found.floor_opens > self.now:
            return Why.FLOOR, None
        return Why.BUSY, min(found.open_steps, key=lambda step: abs(step.ends - found.mix_at), default=None)

    def _refused(self, found: TooMuch, stretch: Stretch) -> KitAnswer:
        """The "no" when no order of work fits the bucket: what is in the way, and what would free it."""
        if found.floor_opens is not None and found.floor_opens >= stretch.end:
            return self._floor_shut(found.floor_opens)
        edges = dict(self._edges()) or self._edge_of_bucket()
        ways: list[Way] = []  # every smaller bucket was tried already
        why = Why.CREW
        free = self._try(stretch, joined=False) if edges else found
        if edges and isinstance(free, OneBucket):
            why = Why.EDGE
            ways.append(Way(Frees.TAPE, max(self.now, free.mix_at - MEASURING), free.spec.amounts.mixed_l))
        elif self._fits_tomorrow(stretch):
            why = Why.HOURS
            ways.append(Way(Frees.OTHER_DAY, self._next_start(stretch)))
        first = min(edges, key=lambda name: edges[name], default=None)
        return replace(
            self._blank(KitVerdict.NO, why),
            edge=first,
            edge_by=edges[first] if first else None,
            said=found.window or "",
            ways=tuple(ways) or (Way(Frees.HANDS),),
        )

    def _floor_shut(self, opens: datetime) -> KitAnswer:
        """The "no" when the coat below takes no other coat today."""
        hours = [each for each in working_stretches(self.standing.site, self.now) if each.end > opens]
        at = max(hours[0].start, opens) if hours else opens
        blank = self._blank(KitVerdict.NO, Why.FLOOR)
        return replace(blank, from_when=at, ways=(Way(Frees.OTHER_DAY, at),))

    def _is_today(self, at: datetime) -> bool:
        return local(self.standing.site, at).date() == local(self.standing.site, self.now).date()

    def _fits_tomorrow(self, stretch: Stretch) -> bool:
        """Whether only the end of the working day is in the way."""
        long = replace(stretch, end=stretch.end + timedelta(hours=12))
        return isinstance(self._try(long, joined=False), OneBucket)

    def _next_start(self, stretch: Stretch) -> datetime | None:
        hours = working_stretches(self.standing.site, self.now)
        return next((each.start for each in hours if each.start >= stretch.end), None)

    def _smaller(self, stretch: Stretch) -> Way | None:
        """The largest smaller bucket that may be opened now, if kits may be split."""
        if not self.goal.coat.split and (self.goal.coat.kit_l or self.goal.coat.kit_kg):
            return None
        for share in SMALLER:
            found = self._try(stretch, share)
            if isinstance(found, OneBucket) and found.mix_at - MEASURING <= self.now + AT_ONCE:
                return Way(Frees.SMALLER, self.now, found.spec.amounts.mixed_l)
        return None

    def _edges(self) -> Iterator[tuple[str, datetime]]:
        """The wet edges that the next bucket must meet, each with its early edge, the soonest first."""
        if self.goal.coat.wet_edge is False:
            return
        found = [
            (track.area, track.closing.early)
            for track in self.tracks
            if track.name == WET_EDGE and track.closing is not None and track.stated is None and track.area is not None
            and track.batch.coat == self.goal.coat.name and not track.provisional and self._is_met(track)
        ]  # fmt: skip
        yield from sorted(found, key=lambda edge: edge[1])

    def _edge_of_bucket(self) -> dict[str, datetime]:
        """The wet edge that a mixed bucket will leave, if the next bucket must meet it."""
        coat = self.goal.coat.name
        by = [at for (name, area), at in self.stood.joined_by.items() if name == coat and area in self.goal.areas]
        stand = [batch for batch in self.standing.batches if batch.coat == coat and batch.emptied is None]
        return {stand[-1].areas[-1]: min(by)} if by and stand and stand[-1].areas else {}

    def _is_met(self, track: Track) -> bool:
        """Whether the next bucket goes on beside this edge without a saw cut between."""
        cuts = {frozenset(pair) for pair in self.standing.site.saw_cuts}
        return any(
            name == track.area or (name in track.neighbours and frozenset((name, track.area)) not in cuts)
            for name in self.goal.areas
        )

    def _objection(self) -> str:
        """What the sheet has against the present conditions; None if nothing."""
        said = objection(self.profile.limits, self.bench.outlook.at(self.now), self.standing.site.units)
        return said or self._damp_slab() or ""

    def _damp_slab(self) -> str | None:
        """What the slab's moisture forbids to a coat that lies on it."""
        coat, standing = self.standing.site.coat(self.goal.coat.name), self.standing
        if coat is None or coat.after is not None:
            return None
        found = (slab_moisture(standing, area, self.profile.limits, self.now) for area in self.goal.areas)
        return next((said for each in found if (said := moisture_objection(each))), None)

    def _blank(self, verdict: KitVerdict, why: Why, found: OneBucket | None = None) -> KitAnswer:
        coat = self.goal.coat
        known = KitAnswer(verdict, why, coat.name, coat.product, self.goal.areas, pace=self.paced.pace,
                          paced=self.paced.said, went=self.went.said)  # fmt: skip
        if found is None:
            return known
        amounts = found.spec.amounts
        return replace(
            known,
            areas=found.areas,
            volume_l=amounts.mixed_l,
            mass_kg=amounts.mass_kg,
            kits=amounts.kits,
            mix_at=found.mix_at,
            pour_by=found.pour_by,
            left_l=self.left_l,
            strips=found.strips,
        )
