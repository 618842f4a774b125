"""The windows of every batch, before anybody asks what time it is.

A track holds what depends on the log alone: start, edges, reasons, who and by when. `mixclock.decide.windows` looks
at tracks at an instant. The daemon builds tracks when the log changes and looks at them on every tick.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import datetime, timedelta
from functools import cache

from mixclock.decide.batchknowledge import learned_of, mixing_s, of_lot
from mixclock.decide.buckets import Bucket, BucketAnswer, BucketModel
from mixclock.decide.crewsteps import DueTimes, due_of, person_for, time_needed
from mixclock.decide.edgemoves import bucket_move, slab_move
from mixclock.decide.edges import FoundEdge, edge_of, ripeness_at
from mixclock.decide.etching import treated_at
from mixclock.decide.hottesthour import hottest_hour_edge
from mixclock.decide.joints import joined_at, neighbours_waiting
from mixclock.decide.nextcoat import SANDED_SAID, next_pour, waits_sanded
from mixclock.decide.shapes import Edge, is_sure, open_from
from mixclock.decide.weather import Weather, are_alike, weather
from mixclock.job.profile import Profile, SheetSpan, WindowRule
from mixclock.job.progress import Batch, Portion, Standing, StatedFact
from mixclock.job.smallmixes import windows_of_spot
from mixclock.job.steps import BY_VERB, INDUCTION, POUR_OUT, RECOAT, SIGN_ENDS, TACK_FREE, TAPE, WET_EDGE, row_of
from mixclock.units import CrewUnits
from mixclock.values import dataclass, field


@dataclass(frozen=True)
class Track:
    """One window of one portion on one area: everything about it that the log settles."""

    name: str
    batch: Batch
    area: str | None
    portion: int
    starts: datetime
    opens: FoundEdge | None = None
    closes: FoundEdge | None = None
    bucket: BucketAnswer | None = None
    weather: Weather | None = None
    stated: StatedFact | None = None
    began: StatedFact | None = None
    due: DueTimes | None = None
    who: str | None = None
    provisional: bool = False
    because: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    neighbours: tuple[str, ...] = ()
    no_date: str = ""
    """Why no opening date is given: the slab is colder than the sheet's lowest."""

    @property
    def closing(self) -> Edge | None:
        """The edge by which the step must be finished: the bucket's, else the window's own."""
        if self.bucket is not None:
            return self.bucket.edge
        return self.closes.edge if self.closes else None

    @property
    def opening(self) -> Edge | None:
        """The edge from which the step is allowed; none where no date may be given."""
        return self.opens.edge if self.opens and not self.no_date else None

    @property
    def open_from(self) -> datetime | None:
        """From when a crew is told that it is open."""
        return open_from(self.opening, self.closing)

    @property
    def called(self) -> Edge | None:
        """The closing edge by which a crew is called: at its likely time if the doubt is wider than the window."""
        closing = self.closing
        return closing if closing is None or is_sure(self.opening, closing) else closing.at_likely

    def ripeness_opens(self, at: datetime) -> float | None:
        """How far the opening clock has run."""
        return ripeness_at(self.opens, self.weather, at) if self.opens and self.weather else None

    def ripeness_closes(self, at: datetime) -> float | None:
        """How far the closing clock has run."""
        if self.bucket is not None:
            return self.bucket.ripeness(at)
        return ripeness_at(self.closes, self.weather, at) if self.closes and self.weather else None


@dataclass(frozen=True)
class _Place:
    """One portion on one area, with what its windows share."""

    batch: Batch
    portion: Portion | None
    area: str
    profile: Profile
    answer: BucketAnswer | None
    conditions: Weather
    poured: datetime
    provisional: str | None


Place = tuple[str | None, float, datetime | None]
"""The key under which conditions are shared: areas with the same readings share them, and so do batches of one clock.

The third part is an instant: the conditions are then those known before a slab reading of that instant.
"""


def tracks(
    standing: Standing, bucket_model: BucketModel, of: Collection[int] | None = None, *, in_words: bool = True
) -> tuple[Track, ...]:
    """All windows of all batches, or of those whose numbers are named. Without words they carry no reasons."""
    maker = TrackMaker(standing, bucket_model, in_words=in_words)
    asked = standing.batches if of is None else [batch for batch in standing.batches if batch.id in of]
    return tuple(track for batch in asked for track in maker.of_batch(batch))


@dataclass
class TrackMaker:
    """Makes the windows of a job's batches; `conditions` are worked out once for each place."""

    standing: Standing
    bucket_model: BucketModel
    conditions: dict[Place, Weather] = field(default_factory=dict)
    in_words: bool = True
    """Whether reasons and assumptions are told: they take a third of the time, and not everybody reads them."""

    def __post_init__(self) -> None:
        self.units: CrewUnits = self.standing.site.units
        self._said_in = self.units if self.in_words else None
        self._are_alike = are_alike(self.standing)
        self._person = cache(lambda step: person_for(self.standing.site, step))

    def of_batch(self, batch: Batch) -> Iterator[Track]:
        """The windows of one batch."""
        profile = self.standing.profile(batch.product)
        if profile is None:
            return
        bucket = self._bucket(batch, profile)
        answer = self.bucket_model(bucket)
        if answer is not None:
            yield self._pour_out(batch, bucket, answer)
        induction = profile.window(INDUCTION)
        if induction is not None and stands(induction):
            yield self._induction(batch, profile, induction)
        for place in self._places(batch, profile, answer):
            yield from self._of_place(place)

    def _bucket(self, batch: Batch, profile: Profile) -> Bucket:
        vessel = self.standing.site.vessel(batch.vessel) if batch.vessel else None
        if vessel is None and len(self.standing.site.vessels) == 1:
            vessel = self.standing.site.vessels[0]
        learned = learned_of(batch, POUR_OUT)
        return Bucket(
            profile=profile,
            mass_kg=batch.mass_kg,
            across_m=vessel.across_m if vessel else None,
            material_c=batch.material_c,
            air=self._weather(batch, None).air.around_a_bucket(),
            combined=batch.combined.at,
            readings=self.standing.readings.bucket(batch.id),
            learned_factor=learned.factor,
            learned_sigma=learned.sigma,
            observations=learned.observations,
            observed_kg=learned.mass_kg,
            mixing_s=mixing_s(batch, profile),
            cups=batch.cups,
            units=self.units,
        )

    def _pour_out(self, batch: Batch, bucket: Bucket, answer: BucketAnswer) -> Track:
        starts, early = batch.combined.at, answer.edge.early
        site = self.standing.site
        asked = self.in_words and not batch.emptied
        moved = bucket_move(bucket, answer, self.bucket_model, self.units) if asked else None
        who = self._person(POUR_OUT)
        return Track(
            name=POUR_OUT,
            batch=batch,
            area=None,
            portion=0,
            starts=starts,
            bucket=answer,
            stated=batch.emptied,
            began=batch.began.get(POUR_OUT),
            due=due_of(site, POUR_OUT, starts, early, timedelta()),
            who=who.name if who else None,
            because=(*answer.because, moved) if moved else answer.because,
            assumed=(*answer.assumed, *batch.assumed),
        )

    def _induction(self, batch: Batch, profile: Profile, rule: WindowRule) -> Track:
        conditions = self._weather(batch, None)
        starts = batch.mixing_ended
        learned = learned_of(batch, rule.name)
        opens, closes = (
            edge_of(rule.name, span, profile, conditions, starts, 0.0, learned, self._said_in, closing=closing)
            if span
            else None
            for span, closing in ((rule.opens, False), (rule.closes, True))
        )
        poured = batch.portions[0].poured if batch.portions else None
        who = self._person(rule.name)
        return Track(
            name=rule.name,
            batch=batch,
            area=None,
            portion=0,
            starts=starts,
            opens=opens,
            closes=closes,
            weather=conditions,
            stated=poured,
            who=who.name if who else None,
            because=_merged(opens, closes, "because"),
            assumed=(
                *(() if batch.mixing_stated else ("end of mixing taken from the mixing time",)),
                *_merged(opens, closes, "assumed"),
            ),
        )

    def _places(self, batch: Batch, profile: Profile, answer: BucketAnswer | None) -> Iterator[_Place]:
        for portion in batch.portions:
            for area in portion.areas:
                conditions = self._weather(batch, area)
                yield _Place(batch, portion, area, profile, answer, conditions, portion.poured.at, portion.assumed)
        if batch.emptied is None:
            starts = max(answer.edge.early, batch.mixing_ended) if answer else batch.mixing_ended
            why = "not poured yet: counted from the moment it must be poured"
            for area in batch.areas:
                yield _Place(batch, None, area, profile, answer, self._weather(batch, area), starts, why)

    def _of_place(self, place: _Place) -> Iterator[Track]:
        found: dict[str, Track] = {}
        asked = windows_of_spot(self.standing, place.batch)
        for rule in place.profile.windows:
            if rule.name in (INDUCTION, POUR_OUT) or (asked is not None and rule.name not in asked):
                continue
            track = self._floor(place, rule, found)
            found[rule.name] = track
            yield track

    def _floor(self, place: _Place, rule: WindowRule, before: dict[str, Track]) -> Track:
        starts, provisional = _start_of(place, rule, before)
        used = 0.0
        if place.answer is not None and row_of(rule.name).from_bucket and rule.after == "poured":
            used = min(0.999, place.answer.used(place.poured))
        learned = of_lot(learned_of(place.batch, rule.name), rule, place.answer)

        shuts = self._closing_span(place, rule)

        def edge_in(conditions: Weather, span: SheetSpan, closing: bool) -> FoundEdge:
            carried = used if closing or rule.name == TACK_FREE else 0.0
            found = edge_of(
                rule.name, span, place.profile, conditions, starts, carried, learned, self._said_in, closing=closing
            )
            by_row = rule.hottest_hour and span is rule.closes
            return hottest_hour_edge(found, conditions, self.units) if by_row else found

        opens = edge_in(place.conditions, rule.opens, False) if rule.opens else None
        closes = edge_in(place.conditions, shuts, True) if shuts else None
        stated = self._stated(place, rule)
        because = _merged(opens, closes, "because")
        if rule.name == RECOAT and shuts is None and rule.closes is not None:
            because = (*because, SANDED_SAID)
        if self.in_words and used >= 0.02:
            because = (*because, f"{round(used * 100)} % was used up in the bucket")
        if self.in_words and shuts is not None and closes is not None and stated is None:
            moved = slab_move(
                self.standing,
                place.area,
                starts,
                closes,
                lambda before: edge_in(self._weather(place.batch, place.area, before), shuts, True),
                self.units,
            )
            because = (*because, moved) if moved else because
        return self._finished(place, rule, opens, closes, stated, starts, because, provisional)

    def _finished(
        self,
        place: _Place,
        rule: WindowRule,
        opens: FoundEdge | None,
        closes: FoundEdge | None,
        stated: StatedFact | None,
        starts: datetime,
        because: tuple[str, ...],
        provisional: str | None,
    ) -> Track:
        site = self.standing.site
        needed = time_needed(site, rule.name, place.portion, place.area)
        who = self._person(rule.name)
        began = place.portion.began.get((rule.name, place.area)) if place.portion else None
        waiting = neighbours_waiting(self.standing, place.batch, place.area) if rule.name == WET_EDGE else ()
        no_date = self._no_date(place, opens)
        opening = opens.edge if opens and not no_date else None
        shuts = closes.edge if closes else None
        called = shuts.at_likely if shuts is not None and not is_sure(opening, shuts) else shuts
        return Track(
            name=rule.name,
            batch=place.batch,
            area=place.area,
            portion=place.portion.number if place.portion else 0,
            starts=starts,
            opens=opens,
            closes=closes,
            weather=place.conditions,
            stated=stated,
            began=began,
            due=due_of(site, rule.name, starts, called.early, needed, open_from(opening, shuts)) if called else None,
            who=who.name if who else None,
            provisional=provisional is not None,
            because=because,
            assumed=(*((provisional,) if provisional else ()), *_merged(opens, closes, "assumed")),
            neighbours=waiting,
            no_date=no_date,
        )

    def _no_date(self, place: _Place, opens: FoundEdge | None) -> str:
        """Why a limit's opening has no date: at its likely instant the slab is colder than its sheet allows."""
        slab_c = place.profile.limits.slab_c
        if opens is None or slab_c is None or not opens.clock.limit or not opens.clock.depends:
            return ""
        then_c = place.conditions.slab.likely.at(opens.edge.likely.timestamp())
        if then_c >= slab_c[0]:
            return ""
        return f"no date until the slab is over {self.units.write_temp(slab_c[0])}"

    def _closing_span(self, place: _Place, rule: WindowRule) -> SheetSpan | None:
        """When a window closes by its sheet. If the sheet tells the following coats apart, a recoat goes by these. That
        of a film that was sanded does not close."""
        if rule.name == RECOAT and place.portion and waits_sanded(self.standing, place.batch, place.area, place.poured):
            return None
        return rule.closing_span(following(self.standing, place.batch.coat)) if rule.closes_for else rule.closes

    def _stated(self, place: _Place, rule: WindowRule) -> StatedFact | None:
        if place.portion is None:
            return None
        if rule.name == RECOAT:
            return next_pour(self.standing, place.batch, place.area, place.poured)
        if rule.name == WET_EDGE:
            joined = joined_at(self.standing, place.batch, place.area, place.poured)
            taped = place.portion.step(TAPE, place.area)
            return min((each for each in (taped, joined) if each), key=lambda each: each.at, default=None)
        if row_of(rule.name).ended_by:
            return treated_at(self.standing, place.batch, place.portion, rule.name, place.area, place.poured)
        for sign in place.batch.signs:
            if SIGN_ENDS.get(sign.sign) == rule.name and sign.area in (None, place.area):
                return sign.stated
        return place.portion.step(rule.name, place.area)

    def _weather(self, batch: Batch, area: str | None, slab_before: datetime | None = None) -> Weather:
        read = self.standing.readings.place(area)
        place = (read if self._are_alike else area), batch.combined.moved_s, slab_before
        if place not in self.conditions:
            self.conditions[place] = weather(self.standing, area, slab_before, batch.combined.moved_s)
        return self.conditions[place]


def stands(rule: WindowRule) -> bool:
    """Whether the sheet asks for a stand at all: "opens 0 min" does not."""
    return any(point.span_s > 0.0 for span in (rule.opens, rule.closes) if span for point in span.points)


def _start_of(place: _Place, rule: WindowRule, before: dict[str, Track]) -> tuple[datetime, str | None]:
    """From when a window counts, and the reason if that is an assumption."""
    if rule.after == "mixed":
        return place.batch.mixing_ended, None
    if rule.after == "poured":
        return place.poured, place.provisional
    step = BY_VERB.get(rule.after, rule.after)
    stated = place.portion.step(step, place.area) if place.portion else None
    if stated is not None:
        return stated.at, None
    earlier = before.get(step)
    edge = (earlier.closes or earlier.opens) if earlier else None
    why = place.provisional or f"{step} not stated yet: counted from its early edge"
    return (edge.edge.early if edge else place.poured), why


def following(standing: Standing, coat: str | None) -> tuple[Profile, ...]:
    """The products of the coats that go on after this one, as far as they are known."""
    coats = standing.site.next_coats(coat) if coat else ()
    return tuple(found for each in coats if (found := standing.profile(each.product)) is not None)


def _merged(opens: FoundEdge | None, closes: FoundEdge | None, what: str) -> tuple[str, ...]:
    """The phrases of both edges, each once."""
    both = [phrase for edge in (closes, opens) if edge is not None for phrase in getattr(edge, what)]
    return tuple(dict.fromkeys(both))
