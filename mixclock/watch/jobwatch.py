"""One job as the daemon watches it: how it stands, and whether anything in it is live."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting import alerts
from mixclock.decide.alerting.agenda import Agenda
from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.alerting.muting import Mute
from mixclock.decide.alerting.raising import Silence
from mixclock.decide.buckets import BucketModel
from mixclock.decide.crewsteps import DAYS_FROM
from mixclock.decide.kepttracks import KeptTracks, tracks_since
from mixclock.decide.kitshapes import DayPace, KitAnswer
from mixclock.decide.plan.days.advice import plan_says
from mixclock.decide.plan.days.kitcalls import KitDesk, as_stated
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import Track
from mixclock.job.entry import KINDS, Delivered, Entry, Facts, Raised, Unreadable
from mixclock.job.pastreadings import LastReadings
from mixclock.job.profile import Profile
from mixclock.job.progress import Raising, Standing
from mixclock.job.readings import Readings
from mixclock.job.site import Site
from mixclock.job.steppedclock import LogTime
from mixclock.outside.book import Book
from mixclock.outside.clock import Clock
from mixclock.outside.coatshelf import sheets_of
from mixclock.outside.followedjob import FollowedJob
from mixclock.values import dataclass, replace
from mixclock.watch.foldbeside import FoldBeside
from mixclock.words.times import day_and_clock

AFTERMATH = timedelta(minutes=10)
"""How long a lost window still keeps the machine awake, so that the crew hears of the loss (judgement)."""


@dataclass(frozen=True)
class Reckoning:
    """What is needed to work out windows from a log: the bucket's model, and profiles of products not yet used."""

    bucket_model: BucketModel
    shelf: Callable[[], Mapping[str, Profile]] = dict
    mutes: tuple[Mute, ...] = ()
    beside: FoldBeside | None = None
    """Who works out a very long log beside the watch; without it the watch does that before its first look."""
    past: Callable[[Standing], DayPace] = as_stated
    """How fast a crew was on its finished jobs."""


class JobWatch(FollowedJob):
    """A followed job, with entries that only memory holds while the book cannot be written."""

    def __init__(self, job: str, reckoning: Reckoning) -> None:
        super().__init__(job, self._of_readings_at_hand, reckoning.shelf, recalls=True)
        self._model, self._kept_tracks = reckoning.bucket_model, KeptTracks(reckoning.bucket_model)
        self._beside, self._may_go_by_last = reckoning.beside, reckoning.beside is not None
        self.wants_whole = False
        self._mutes = reckoning.mutes
        self._kits = KitDesk(lambda: reckoning.bucket_model, self._sheets, reckoning.past)
        self._shelf_of: tuple[Site, Mapping[str, Profile]] | None = None
        self._agendas: dict[str, Agenda] = {}
        self._speaks: dict[str, bool] = {}
        self.silence = Silence()
        self._asking = threading.Lock()
        self.unwritten: list[Raising] = []
        self.owed: tuple[Delivered, ...] = ()
        self.clock_behind = timedelta()
        self.unfolded = ""
        """Why the job cannot be worked out at all, in a line."""

        self._doubted_s: float | None = None

    def seen(self) -> Standing:
        """The job as it stands, with the entries that only memory holds."""
        assert self.standing is not None
        kept = [each for each in self.unwritten if not 0 < each.entry.number <= self.last_number]
        if not kept and not self.owed:
            return self.standing
        answered = {fact.raised for fact in self.owed}
        raisings = (*self.standing.raisings, *kept)
        return replace(
            self.standing,
            raisings=tuple(self._answered(one) if one.entry.number in answered else one for one in raisings),
        )

    @property
    def only_in_mind(self) -> list[Entry]:
        """The calls that went out and stand in no book yet: their numbers are below zero."""
        return [raising.entry for raising in self.unwritten if raising.entry.number < 0]

    def _answered(self, raising: Raising) -> Raising:
        """A raised alert with the answers that only memory holds."""
        kept = tuple(replace(raising.entry, facts=fact) for fact in self.owed if fact.raised == raising.entry.number)
        return replace(raising, deliveries=(*raising.deliveries, *kept))

    def doubted_for_s(self, clock: Clock) -> float | None:
        """Seconds since it was found that the disk may have lost calls; None where it lost none."""
        hides_calls = self.lost or any(may_be_call(entry.facts) for entry in self.unreadable)
        self._doubted_s = (self._doubted_s or clock.boot_s()) if hides_calls else None
        return None if self._doubted_s is None else clock.boot_s() - self._doubted_s

    def alerts(self, now: datetime, asked_by: str = "screens") -> tuple[Alert, ...]:
        """The alerts that stand at an instant. Whoever asks often has an agenda of its own, kept by name.

        Raises `ForgottenError` where that rests on old readings that are not at hand.
        """
        with self._asking:
            standing, found = self.seen(), self.windows_at(LogTime(now, self.clock_behind))
            agenda = self._agendas.setdefault(asked_by, Agenda())
            ask = agenda.alerts if found is self.tracks else alerts  # without a sure time all windows are new
            if self.goes_by_last:  # what is told of the air is told by the readings at hand alone
                standing = replace(standing, readings=Readings(standing.readings.entries))
            every = ask(standing, found, now, lambda: self._says(standing, found, now))
            self._speaks[asked_by] = bool(every)
            return tuple(one for one in every if not any(mute.covers(standing, one) for mute in self._mutes))

    def next_call(self, now: datetime, asked_by: str) -> datetime | None:
        """When the next alert falls due, by the last look under this name; unknown while the time is in doubt."""
        agenda = self._agendas.get(asked_by) if not self.clock_behind else None
        return agenda.next_call(now) if agenda is not None else None

    def is_quiet(self, until: datetime, asked_by: str) -> bool:
        """Whether nothing stood at the last look under this name, and nothing is under way or changes by an instant."""
        agenda, standing = self._agendas.get(asked_by), self.standing
        return (
            agenda is not None
            and standing is not None
            and agenda.is_quiet(until)
            and not (self._speaks.get(asked_by, True) or self.unwritten or self.owed or self.unfolded)
            and not (self.is_recalled or self.wants_whole)
            and standing.site.check_in_s is None
        )

    def next_kit(self, now: datetime) -> KitAnswer:
        """Whether the next kit may be opened."""
        return self._kits.answer(self.seen(), self.tracks, now, self.plans)

    def prove(self, book: Book) -> None:
        """Read some more of the old readings; where nothing was kept of them, have them worked out beside."""
        if not self.goes_by_last and not self.wants_whole:
            super().prove(book)
        elif self.wants_whole or self._beside is None or self._beside.is_over(self.job):
            self.wants_whole, self._may_go_by_last = False, False
            self.read_anew(book)

    def left_out(self, now: datetime) -> str | None:
        """What is not called out yet, in a line: the batches before the readings at hand."""
        past = self.standing.readings.past if self.standing is not None else None
        if self.standing is None or past is None or not self.goes_by_last:
            return None
        since = day_and_clock(past.tail_from, now, self.standing.site.wall)
        return (
            f"{self.job}: its old readings are being worked out; until then what was mixed since {since} is called out"
        )

    def _of_readings_at_hand(self, standing: Standing) -> tuple[Track, ...]:
        past = standing.readings.past
        if isinstance(past, LastReadings):
            return tracks_since(standing, self._model, past.tail_from)
        return self._kept_tracks(standing)

    def _sheets(self, site: Site) -> Mapping[str, Profile]:
        """The sheets of all coats, read once as long as the job file stays as it is."""
        if self._shelf_of is None or self._shelf_of[0] is not site:
            self._shelf_of = (site, {**sheets_of(site), **self._shelf()})
        return self._shelf_of[1]

    def _says(self, standing: Standing, found: Sequence[Track], now: datetime) -> PlanSays:
        return self._kits.says(standing, found, now, self.plans, plan_says(standing, found, self.plans, now))

    def is_live(self, now: datetime) -> bool:
        """Whether resin is in a bucket, or a window of minutes is running on the floor."""
        if self.standing is None or self.standing.finished is not None:
            return False
        return any(_runs(track, now) for track in self.tracks)


def may_be_call(facts: Facts) -> bool:
    """Whether an unreadable entry may have been a call: its kind says so, or its kind is lost too."""
    return isinstance(facts, Unreadable) and (facts.was == Raised.kind or facts.was not in KINDS)


def _runs(track: Track, now: datetime) -> bool:
    edge = track.called
    if edge is None or track.stated is not None or edge.early - track.starts >= DAYS_FROM:
        return False
    return now < edge.last + AFTERMATH
