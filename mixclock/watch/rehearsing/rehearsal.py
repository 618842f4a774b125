"""Plays a job: the crew states, the real daemon calls out, and quiet stretches are skipped with a word."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting import alerts
from mixclock.decide.alerting.nextdue import next_due
from mixclock.decide.shapes import Rank
from mixclock.decide.tracks import Track
from mixclock.job.entry import Combined, Entry
from mixclock.job.statements import Statement
from mixclock.outside.clock import FastClock, SystemClock
from mixclock.units import write_span, write_time_of_day
from mixclock.values import dataclass, field
from mixclock.watch.daemon import Daemon
from mixclock.watch.jobwatch import JobWatch
from mixclock.watch.rehearsing.narrator import Narrator
from mixclock.watch.rehearsing.playedcrew import PlayedCrew, Script
from mixclock.wiring import House
from mixclock.words.alerting import bucket_line
from mixclock.words.nextkit import kit_entry, kit_short
from mixclock.words.saidback import said_back

IDLE = timedelta(minutes=10)
BEFORE = timedelta(seconds=20)
"""A skip ends this long before what comes next."""

LOOK_AGAIN = timedelta(seconds=15)
NOTICED_WITHIN_S = 10.0
SETTLED_WITHIN_S = 6.0
"""How long a skip waits for a voice to end its sentence."""

AFTERWARDS = timedelta(hours=30)
"""How long after the last step the rehearsal follows what still opens."""

MAY_STAND_LATE = timedelta(minutes=1)
SLOWEST, FASTEST, LAST_S = 60.0, 360.0, 3.0
"""The paces between which a crew can be followed, and what is always left for the next step (judgement)."""


@dataclass
class Rehearsal:
    """The stage on which a crew plays, with the real daemon."""

    house: House
    daemon: Daemon
    clock: FastClock
    narrator: Narrator
    script: Script
    ends_at_s: float | None = None
    """When it is to be over, by the machine's own clock; without it the clock keeps its pace."""
    stopped: Callable[[], bool] = lambda: False
    crew: PlayedCrew = field(init=False)

    def __post_init__(self) -> None:
        self.crew = PlayedCrew(self.house.site(), self.script, self)
        self.narrator.left = lambda: self.crew.left
        self._real = SystemClock()

    def play(self) -> None:
        """Play the job to its end, then follow what opens afterwards."""
        self.crew.begin(self.clock.now() + BEFORE)
        while (at := self.crew.next_at()) is not None and not self.stopped():
            self._keep_pace()
            if self._wait_until(at):
                self.crew.act(self.clock.now())
        self._play_on(self.clock.now() + AFTERWARDS)

    def _keep_pace(self) -> None:
        """Set the speed at which the rest of the job fits the time that is left."""
        if self.ends_at_s is None:
            return
        left_s = max(self.ends_at_s - self._real.monotonic_s(), LAST_S)
        self.clock.pace(min(max(self.crew.left_s / left_s, SLOWEST), FASTEST))

    def state(self, statement: Statement, by: str | None) -> int | None:
        """State through the commands' own code. Gives the batch's number, if the statement begins one."""
        crew = {person.name for person in self.house.site().crew}
        stated = self.house.state(statement, by=by if by in crew else None)
        self.narrator.stated += 1
        self.narrator.tell(said_back(stated.entry, stated.standing, stated.now), stated.now)
        self._wait_until_noticed(stated.entry)
        if not isinstance(stated.entry.facts, Combined):
            return None
        batch = stated.standing.batches[-1].id
        self._tell_bucket(batch)
        return batch

    def ask_next(self, by: str) -> None:
        """Ask `next` as the command does: log the answer and tell it."""
        job, now, site = self._job(), self.clock.now(), self.house.site()
        if job.standing is None:
            return
        answer = job.next_kit(now)
        crew = {person.name for person in site.crew}
        self.house.book.append(job.job, kit_entry(answer, job.standing, now), by=by if by in crew else None)
        self.narrator.tell(f"   next kit? {kit_short(answer, site, now)}", now)

    def tracks(self) -> Sequence[Track]:
        """The windows as the daemon sees them."""
        return self._job().tracks

    def tell(self, line: str) -> None:
        """Tell what no statement says."""
        self.narrator.tell(line)

    def _job(self) -> JobWatch:
        return self.daemon.ticker.watched[self.house.job()]

    def _tell_bucket(self, batch: int) -> None:
        track = next((one for one in self.tracks() if one.batch.id == batch and one.bucket is not None), None)
        zone = self.house.site().wall
        if track is not None and track.bucket is not None:
            line = bucket_line(batch, track.starts, track.bucket.edge.early, zone)
            self.narrator.tell(f"   on the bucket: {line}")

    def _wait_until_noticed(self, entry: Entry) -> None:
        """Wait until the daemon has noticed the statement: the crew's next step may rest on it."""
        until_s = self._real.monotonic_s() + NOTICED_WITHIN_S
        while self._job().last_number < entry.number and self._real.monotonic_s() < until_s:
            self._real.sleep(0.01)

    def _wait_until(self, at: datetime, idle: timedelta = IDLE) -> bool:
        """Let the job's time pass until an instant, and skip idle stretches. False where somebody stopped it."""
        while (now := self.clock.now()) < at and not self.stopped():
            coming = min(filter(None, (at, self._next_due(now))))
            if coming - now > idle and self._settled() and not self._something_stands(now):
                self._skip(self.clock.now(), coming)
            else:
                self.clock.sleep(min(at - now, LOOK_AGAIN).total_seconds())
        return not self.stopped()

    def _play_on(self, until: datetime) -> None:
        """After the last step, wait only for what opens."""
        while not self.stopped():
            now = self.clock.now()
            due = self._next_due(now)
            if due is None or due > until:
                return
            if not self._wait_until(due + MAY_STAND_LATE, MAY_STAND_LATE):
                return

    def _next_due(self, now: datetime) -> datetime | None:
        job = self._job()
        return next_due(job.seen(), job.tracks, now)

    def _settled(self) -> bool:
        """Whether the daemon has said all that is due by now, so that a skip may follow."""
        until_s = self._real.monotonic_s() + SETTLED_WITHIN_S
        while not self.daemon.look() or self.daemon.delivery.in_flight():
            if self._real.monotonic_s() >= until_s:
                break
            self._real.sleep(0.02)
        return True

    def _something_stands(self, now: datetime) -> bool:
        """Whether a critical alert repeats just now."""
        job = self._job()
        standing = job.seen()
        stands = alerts(standing, job.tracks, now)
        return any(alert.rank is Rank.CRITICAL and not alert.standing for alert in stands)

    def _skip(self, now: datetime, coming: datetime) -> None:
        zone = self.house.site().wall
        span_s = (coming - now - BEFORE).total_seconds()
        to = coming.astimezone(zone)
        day = "" if to.date() == now.astimezone(zone).date() else f"{to:%A} "
        until = f"{day}{write_time_of_day(to.timetz())}"
        self.narrator.tell(f"~~ Nothing falls due before {until}: {write_span(span_s)} skipped ~~", now)
        self.clock.jump(span_s)
