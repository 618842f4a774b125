"""A day on a clock that jumps: the real ticker looks at every instant at which anything can fall due, and between."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from mixclock.decide.alerting.nextdue import all_due
from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import BucketModel
from mixclock.job.drafts import Draft
from mixclock.job.entry import Delivered, Entry, JobStarted, ProfileUsed, Raised, WatchEvent
from mixclock.job.profilereading import read_profile
from mixclock.job.saying import Attribution
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import RANKS, Message, Outcome, Rank, Receipt
from mixclock.outside.clock import FakeClock
from mixclock.watch.bulletins import Bulletin
from mixclock.watch.delivery import TRY_AGAIN_S, Delivery
from mixclock.watch.jobwatch import Reckoning
from mixclock.watch.tick import Ticker
from tests.days.memorybook import MemoryBook
from tests.saying import as_said

MORNING = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)  # 8 o'clock in Lisbon, a Monday
TICK = timedelta(seconds=0.4)
REPEATS = timedelta(seconds=20)


@dataclass
class RecordingChannel:
    """A channel that takes what it is sent, or answers as told, and remembers it."""

    clock: FakeClock
    name: str = "desktop"
    ranks: frozenset[Rank] = frozenset(RANKS)
    limit_s: float = 5.0
    outcome: Outcome = Outcome.SENT
    sent: list[tuple[datetime, Message]] = field(default_factory=list)
    withdrawn: list[tuple[datetime, str]] = field(default_factory=list)

    def send(self, message: Message) -> Receipt:
        self.sent.append((self.clock.now(), message))
        return Receipt(self.name, self.outcome, "recorded", self.outcome is Outcome.SENT)

    def withdraw(self, alert_id: str) -> Receipt:
        self.withdrawn.append((self.clock.now(), alert_id))
        return Receipt(self.name, Outcome.SENT, "recorded", None)

    def probe(self) -> Receipt:
        return Receipt(self.name, self.outcome, "recorded", None)

    def of(self, alert: str) -> list[tuple[datetime, Message]]:
        """What was sent of one alert, alone or said together."""
        return [(at, message) for at, message in self.sent if alert in message.alert_id.split("+")]


@dataclass
class Day:
    """One job on one fake clock. `lost_power` stands for a process that was killed: its memory is gone."""

    site: str
    profiles: Sequence[str]
    begins: datetime = MORNING
    channels: Sequence[Any] = ()
    model: BucketModel | None = None
    run: Callable[[Callable[[], None]], None] = lambda work: work()
    book_of: Callable[[FakeClock], Any] = MemoryBook

    def __post_init__(self) -> None:
        self.clock = FakeClock(self.begins)
        self.book = self.book_of(self.clock)
        self.desktop = RecordingChannel(self.clock)
        self.every = tuple(self.channels) or (self.desktop,)
        self.faults: list[str] = []
        self.bulletins: list[tuple[datetime, Bulletin]] = []
        self.shelf = {profile.name.casefold(): profile for profile in map(read_profile, self.profiles)}
        self.model = self.model or bucket_model()
        self.book.append(self.job, JobStarted(self.job, self.site))
        for text in self.profiles:
            self.book.append(self.job, ProfileUsed(read_profile(text).name, text))
        self.start()

    @property
    def job(self) -> str:
        return next(line.split('"')[1] for line in self.site.splitlines() if line.startswith("name"))

    def start(self) -> None:
        """Start the daemon's inside anew, from the book alone, and look once."""
        self.delivery = Delivery(Sender(self.every), self.book, self.clock, self.faults.append, self.run)
        self.ticker = Ticker(
            self.book, self.clock, self.delivery, Reckoning(self.model, lambda: self.shelf), self.faults.append
        )
        self.ticker.eye.stall_from_s = float("inf")  # this clock jumps from due to due: that is no stall
        self.look()

    def look(self) -> list[Bulletin]:
        """One tick at this instant."""
        ticked = self.ticker.tick()
        assert ticked is not None
        self.bulletins += [(ticked.at, bulletin) for bulletin in ticked.bulletins]
        return list(ticked.bulletins)

    def at(self, clock: str) -> datetime:
        """The instant at a time of the first day, in UTC."""
        hours, minutes, *seconds = (int(part) for part in clock.split(":"))
        return self.begins.replace(hour=hours, minute=minutes, second=seconds[0] if seconds else 0)

    def until(self, when: datetime | str) -> None:
        """Let time pass, looking wherever anything can fall due."""
        end = self.at(when) if isinstance(when, str) else when
        while True:
            reached = self.next_look(end)
            self.clock.set(reached)
            self.look()
            if reached >= end:
                return

    def next_look(self, end: datetime) -> datetime:
        """The first instant after now at which a tick may find something."""
        now = self.clock.now()
        job = self.ticker.watched.get(self.job)
        assert job is not None, self.faults
        job.refresh(self.book)
        coming = [at + TICK for at in all_due(job.seen(), job.tracks, now) if at + TICK > now]
        coming += [at for at in self._repeats(now) if at > now]
        coming += [now + timedelta(seconds=after) for after in TRY_AGAIN_S if self.delivery._retries]
        coming += [at for at in self._tries() if at > now]
        return min([*coming, end])

    def _tries(self) -> Iterable[datetime]:
        """When what no channel took is tried again, also by a process that did not live to see it refused."""
        for raising in self.ticker.watched[self.job].seen().raisings[-12:]:
            if raising.deliveries and not raising.may_have_reached:
                yield from (raising.entry.happened + timedelta(seconds=after) for after in TRY_AGAIN_S)

    def _repeats(self, now: datetime) -> Iterable[datetime]:
        """When what repeats may do so next: 20 s after its last raising, and while it is paused every 20 s."""
        job = self.ticker.watched[self.job]
        repeating = ("now", "late")
        critical = [alert for alert in job.alerts(now) if alert.rank == "critical" and alert.stage in repeating]
        if critical:
            raised = [raising.entry.happened for raising in job.seen().raisings if raising.entry.happened <= now]
            yield from (at + REPEATS for at in raised[-12:])
            yield now + REPEATS

    def say(self, verb: str, *, at: datetime | None = None, by: str | None = None, **what: Any) -> tuple[Entry, ...]:
        """State something now, perhaps of an earlier instant, by the code that the command uses."""

        def build(entries: Sequence[Entry]) -> Sequence[Draft]:
            job = self.ticker.watched[self.job]
            job.refresh(self.book)
            return as_said(verb, what).drafts(job.seen(), Attribution(self.now_by_the_log(), at, by))

        return self.book.append_within(self.job, build, skip=("delivered",))

    def now_by_the_log(self) -> datetime:
        """What time it is by the log, which is the clock's unless that is behind it."""
        return self.ticker.watched[self.job].time(self.clock).now

    def raised(self, alert: str = "", stage: str = "") -> list[Entry]:
        """What the log says was raised."""
        found = [entry for entry in self.book.log if isinstance(entry.facts, Raised)]
        return [
            entry
            for entry in found
            if (not alert or entry.facts.alert == alert) and (not stage or entry.facts.stage == stage)
        ]

    def delivered(self, raised: Entry) -> list[Delivered]:
        """What the log says of a raising's delivery."""
        facts = [entry.facts for entry in self.book.log]
        return [fact for fact in facts if isinstance(fact, Delivered) and fact.raised == raised.number]

    def events(self) -> list[WatchEvent]:
        """What the log says befell the daemon."""
        return [entry.facts for entry in self.book.log if isinstance(entry.facts, WatchEvent)]
