"""The tick: puts before the crew, now, what is due and not yet delivered or heard.

Nothing is scheduled. Each tick reads what was written since, asks what stands and what of it must be raised, writes
the intent, and hands the messages over. Start, restart, sleep and late statements all take this one path.
"""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime, timedelta
from functools import cache
from itertools import count

from mixclock.decide.alerting import to_raise
from mixclock.decide.alerting.raising import SAY_TOGETHER, doubted
from mixclock.decide.shapes import Alert
from mixclock.formulas.past import ForgottenError
from mixclock.job.drafts import Draft
from mixclock.job.entry import Entry, Heard, Raised, WatchEvent
from mixclock.job.progress import Raising, Standing
from mixclock.outside.book import Book, BookError, JobLine
from mixclock.outside.bookerrors import DiskFullError, HeldError
from mixclock.outside.clock import Clock, SystemClock
from mixclock.outside.stillness import Stillness, mark_of
from mixclock.outside.whichjob import LIVE_FOR
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, field, replace
from mixclock.watch.bulletins import Bulletin, bulletins_of, intents_of, reworded
from mixclock.watch.clockeye import ClockEye
from mixclock.watch.delivery import Delivery, SentMessage, write_all, write_drafts
from mixclock.watch.jobwatch import JobWatch, Reckoning

LOOK_FOR_JOBS_EVERY_S = 1.0
LOOK_AT_ALL_JOBS_EVERY_S = 60.0
SOONEST = timedelta(milliseconds=1)
"""An alert that falls due within this span is left to the look that is about to begin."""

NOW, SOON = "the tick", "the tick, looking ahead"
BOOK_WAIT_S = 0.15
"""How long each question of a look waits for another program that holds the book. After that an alert goes out first,
and is written when the book is free. A handful of such waits still fit into the two seconds of the promise (judgement).
"""

REWRITTEN_ON = "desktop"
"""The channel on which a message stays to be read. So it is shown anew there when a part of it is over."""

REWRITTEN_AT_ONCE, REWRITE_EVERY_S = 8, 10.0
"""A message that tells more things than this is shown anew only so often (judgement)."""

MANY_TRACKS = 500
"""A job with more windows than this is left out when Python looks for what nobody refers to any more (judgement)."""


@dataclass(frozen=True)
class TickResult:
    """What one tick did."""

    at: datetime
    bulletins: tuple[Bulletin, ...] = ()
    events: tuple[WatchEvent, ...] = ()
    changed: bool = False


@dataclass
class Ticker:
    """Asks, raises, sends. `fault` takes a line for each thing that went wrong; the ticking goes on."""

    book: Book
    clock: Clock
    delivery: Delivery
    reckoning: Reckoning
    fault: Callable[[str], None]
    eye: ClockEye = field(init=False)
    watched: dict[str, JobWatch] = field(default_factory=dict)
    current: str | None = None
    not_recorded: str = ""
    is_alone: bool = True
    """Whether this is surely the only watch, so that nobody else calls out the same."""

    def __post_init__(self) -> None:
        self.eye = ClockEye(self.clock)
        self._busy = threading.Lock()
        self._versions: dict[int, tuple[int, int, int]] = {}
        self._stillness, self._is_read = Stillness(lambda: mark_of(self.book), SystemClock().monotonic_s), False
        self._looked_s = self._looked_at_all_s = float("-inf")
        self._looked_at: datetime | None = None
        self._stale: dict[str, int] = {}
        self._unwritten = count(-1, -1)
        self._rewritten_s: dict[str, float] = {}

    def tick(self) -> TickResult | None:
        """Look once. None where another thread looks now."""
        if not self._busy.acquire(blocking=False):
            return None
        try:
            with self.book.hurried(BOOK_WAIT_S):
                return self._tick()
        finally:
            self._busy.release()

    def tell(self, event: WatchEvent) -> None:
        """Write what befell the daemon into every job that is watched."""
        for job in tuple(self.watched):
            try:
                write_all(self.book, job, [event])
                self.not_recorded = ""
            except BookError as error:
                self._could_not_write(error)
                self.fault(f"'{event.event}' could not be written: {error}")

    def heard(self, message_id: str, by: str | None = None) -> None:
        """Somebody pressed "heard" on a message: mark every alert in it as heard."""
        if (bulletin := self.delivery.bulletin(message_id)) is not None:
            self.book.append(bulletin.job, Heard(tuple(sorted(bulletin.alerts))), by=by)

    @property
    def units(self) -> CrewUnits:
        """The units of the job in use; metric ones where there is none."""
        job = self.watched.get(self.current or "")
        return job.standing.site.units if job is not None and job.standing is not None else METRIC_CREW

    def next_call_s(self) -> float | None:
        """Seconds until the next alert falls due, by the last look; None where it knew of none."""
        now = self.clock.now()
        waits = (
            (due - now).total_seconds()
            for job in tuple(self.watched.values())
            if (due := job.next_call(now + SOONEST, NOW)) is not None
        )
        return min(waits, default=None)

    def is_behind(self) -> bool:
        """Whether something fell due while the last look was at work, so that only another one finds it."""
        looked = self._looked_at
        return looked is not None and any(
            (due := job.next_call(looked, NOW)) is not None and due <= self.clock.now()
            for job in tuple(self.watched.values())
        )

    def _tick(self) -> TickResult:
        events = self.eye.look()
        self._write_what_was_kept()
        on_their_way = self.delivery.in_flight()  # taken before the log is read, because a receipt may land in between
        for job in self.watched.values():
            job.owed = self.delivery.owed(job.job)
        is_still = self._stillness.holds() and self._is_read
        self._look_for_jobs(bool(events), is_still)
        for event in events:
            self.tell(event)
        changed = self._refresh(is_still)
        now = self._looked_at = self.clock.now()
        self._note_clocks()
        bulletins: list[Bulletin] = []
        for job in self.watched.values():
            if job.standing is not None:
                try:
                    bulletins += self._looked_at_job(job, now, on_their_way)
                except Exception as error:  # one job's trouble must silence neither the others nor the next tick
                    self.fault(f"{job.job}: cannot be worked out: {type(error).__name__}: {error}")
        return TickResult(now, tuple(bulletins), tuple(events), changed or bool(bulletins))

    def _could_not_write(self, error: BookError) -> None:
        """Note that nothing is recorded. A book that another program holds does not count: it is soon free."""
        if not isinstance(error, HeldError):
            self.not_recorded = "the disk is full" if isinstance(error, DiskFullError) else "the book cannot be written"

    def _note_clocks(self) -> None:
        """See for each job whether the machine's clock is behind its log, as after a reboot with an empty battery."""
        for job in self.watched.values():
            job.clock_behind = job.time(self.clock).behind

    def _looked_at_job(self, job: JobWatch, now: datetime, on_their_way: frozenset[int]) -> list[Bulletin]:
        """Look at one job. Where that rests on old readings that are not at hand, its whole log is read first."""
        try:
            return self._tick_job(job, now, on_their_way)
        except ForgottenError:
            job.read_whole(self.book)
            return self._tick_job(job, self.clock.now(), on_their_way)

    def _tick_job(self, job: JobWatch, looked: datetime, on_their_way: frozenset[int]) -> list[Bulletin]:
        now = looked + job.clock_behind
        stands = job.alerts(now, NOW)
        standing = job.seen()
        ahead = cache(lambda: job.alerts(now + SAY_TOGETHER, SOON))
        wanted = to_raise(standing, stands, now, ahead, on_their_way, job.silence)
        soon: Sequence[Alert] = ahead() if wanted or self._may_be_over(job, stands) else ()
        if (age_s := job.doubted_for_s(self.clock)) is not None:
            wanted = doubted(wanted, now - timedelta(seconds=age_s))
        self._withdraw_ended(job, (*stands, *soon), now)
        for sent in self.delivery.due_retries(job.job):
            self._retry(job, sent, stands, now)
        bulletins = bulletins_of(standing, wanted, now, self._prefix(job), is_alone=self.is_alone)
        for trouble in (sentence.said.trouble for bulletin in bulletins for sentence in bulletin.sentences):
            if trouble is not None:
                self.fault(f"{job.job}: {trouble}")
        return [self._raise(job, bulletin) for bulletin in bulletins]

    def _prefix(self, job: JobWatch) -> str:
        """Alerts of two jobs may have the same name; those of the job in use keep it short."""
        return "" if job.job == self.current else f"{job.job}: "

    def _raise(self, job: JobWatch, bulletin: Bulletin) -> Bulletin:
        """Intent first, then send."""
        intents = intents_of(bulletin)
        try:
            entries = write_all(self.book, job.job, intents)
            self.not_recorded = ""
        except BookError as error:
            self._could_not_write(error)
            self.fault(f"an alert goes out now and is written later: {error}")
            entries = self._kept_in_mind(job, bulletin, intents)
        self.delivery.send(SentMessage(bulletin, tuple(entry.number for entry in entries)))
        return bulletin

    def _kept_in_mind(self, job: JobWatch, bulletin: Bulletin, intents: Iterable[Raised]) -> tuple[Entry, ...]:
        now = self.clock.now()
        entries = tuple(Entry(next(self._unwritten), bulletin.job, now, now, intent) for intent in intents)
        job.unwritten += [Raising(entry) for entry in entries]
        self._secure_calls()
        return entries

    def _secure_calls(self) -> None:
        """Save what was called out, so that after a kill a repeat is still marked as a repeat."""
        if self.book.unrecorded is not None:
            self.book.unrecorded.secure_calls(entry for job in self.watched.values() for entry in job.only_in_mind)

    def _write_what_was_kept(self) -> None:
        """Write the intents that went out while another program held the book, each with the time of its call."""
        for job in self.watched.values():
            kept = job.only_in_mind
            drafts = [Draft(entry.facts, entry.happened) for entry in kept]
            try:
                written = write_drafts(self.book, job.job, drafts) if drafts else ()
            except BookError:
                return  # still held: the crew was told so when they went out
            if written:
                self.not_recorded = ""
                self.delivery.numbered({old.number: new.number for old, new in zip(kept, written, strict=True)})
                job.unwritten = [Raising(entry) for entry in written]
                self._secure_calls()

    def _retry(self, job: JobWatch, sent: SentMessage, stands: Sequence[Alert], now: datetime) -> None:
        """Ask one channel again, in words that fit now, for alerts that still stand and nobody has heard.

        An alert that no channel at all has taken is not retried here: the next tick raises it again.
        """
        if not _is_taken(job, sent):
            return
        told = frozenset(sent.raised)
        standing = job.seen()
        unheard = [alert for alert in stands if not _is_heard(standing, alert.id, told)]
        fresh = reworded(standing, sent.bulletin, unheard, now)
        if fresh is None:
            return
        numbers = dict(zip((one.alert.id for one in sent.bulletin.raises), sent.raised, strict=True))
        left = tuple(numbers[one.alert.id] for one in fresh.raises)
        message = replace(fresh.message, alert_id=sent.bulletin.message.alert_id)
        self.delivery.send(replace(sent, bulletin=replace(fresh, message=message), raised=left))

    def _may_be_over(self, job: JobWatch, stands: Sequence[Alert]) -> bool:
        """Whether a shown alert does not stand now. It may be a warning that was called a little early."""
        live = {(alert.id, alert.stage) for alert in stands}
        return any(not sent.bulletin.stages <= live for sent in self.delivery.shown(job.job))

    def _withdraw_ended(self, job: JobWatch, stands: Sequence[Alert], now: datetime) -> None:
        """Take away alerts that are over or were heard. A message that told several is shown anew with the rest."""
        live, standing = {(alert.id, alert.stage) for alert in stands}, job.seen()
        for sent in self.delivery.shown(job.job):
            stages = sent.bulletin.stages
            left = {(name, stage) for name, stage in stages & live if not _is_heard(standing, name)}
            if not left:
                self.delivery.withdraw(sent.bulletin.message.alert_id)
            elif left != stages and self._may_rewrite(sent):
                self._retry(job, replace(sent, only=REWRITTEN_ON), stands, now)

    def _may_rewrite(self, sent: SentMessage) -> bool:
        """Whether a message may be shown anew now. A long one waits a while: nobody reads as fast as its alerts end."""
        name, now_s = sent.bulletin.message.alert_id, self.clock.monotonic_s()
        lately = {shown: at_s for shown, at_s in self._rewritten_s.items() if now_s - at_s < REWRITE_EVERY_S}
        if len(sent.raised) > REWRITTEN_AT_ONCE and name in lately:
            return False
        self._rewritten_s = lately
        self._rewritten_s[name] = now_s
        return True

    def _refresh(self, is_still: bool) -> bool:
        """Read every entry written since the last look of this thread. A book that is still is not asked."""
        for job in self.watched.values():
            self._prove(job)
        clock_was_set = any(job.clock_was_set(self.clock) for job in self.watched.values())
        if is_still and not clock_was_set:
            return False
        self._is_read, here = False, threading.get_ident()
        try:
            version = self.book.data_version()
            known = self._versions.get(here) == version and not clock_was_set
            changed = [] if known else [self._refresh_job(job) for job in self.watched.values()]
            self._versions[here], self._is_read = version, True
        except BookError as error:
            self.fault(f"the book cannot be read, going on with what is known: {error}")
            return False
        return any(changed)

    def _prove(self, job: JobWatch) -> None:
        """Hold some more of a long job's old readings against their hashes."""
        try:
            if job.is_recalled or job.wants_whole:
                job.prove(self.book)
        except Exception as error:  # whatever is damaged, the look goes on with what is known
            self.fault(f"{job.job}: its old readings cannot be read: {type(error).__name__}: {error}")

    def _refresh_job(self, job: JobWatch) -> bool:
        try:
            changed = job.refresh(self.book)
            job.unfolded = ""
            return changed
        except BookError:
            raise
        except Exception as error:  # a log that cannot be folded must not silence the other jobs
            job.unfolded = f"its log cannot be read, and nothing of it is called out: check its floor. {error}"
            self.fault(f"{job.job}: its log cannot be read: {type(error).__name__}: {error}")
            return False

    def _look_for_jobs(self, at_once: bool, is_still: bool) -> None:
        now_s = self.clock.monotonic_s()
        if not at_once and (is_still or now_s - self._looked_s < LOOK_FOR_JOBS_EVERY_S):
            return
        self._looked_s = now_s
        try:
            self.current = self.book.current_job()
            lines = self.book.all_jobs() if self._looks_at_all(at_once) else self.book.running_jobs(self.watched)
            lost = self._unlisted({line.name for line in lines})
        except Exception as error:  # whatever the disk gave back, the known jobs are still called out
            self.fault(f"the book cannot be read, going on with what is known: {error}")
            return
        long_ago = self.clock.now() - LIVE_FOR  # the log of a finished job is not even read
        ours = [
            line for line in lines if line.own and line.stated > long_ago and (line.name in self.watched or _runs(line))
        ]
        wanted = {line.name for line in ours if self._stale.get(line.name) != line.entries}
        wanted |= {self.current, *lost} if self.current else lost
        for name in self.watched.keys() - wanted:
            del self.watched[name]
        sizes = {line.name: line.entries for line in lines}
        for name in wanted - self.watched.keys():
            self._watch(name, sizes.get(name, 0))

    def _looks_at_all(self, at_once: bool) -> bool:
        """Whether every line of the book is due for a look: one of a finished job may be damaged, and the job run."""
        now_s = self.clock.monotonic_s()
        is_due = at_once or now_s - self._looked_at_all_s >= LOOK_AT_ALL_JOBS_EVERY_S
        self._looked_at_all_s = now_s if is_due else self._looked_at_all_s
        return is_due

    def _unlisted(self, listed: set[str]) -> set[str]:
        """Watched jobs that are in the log and missing in the list of jobs: one flipped bit may hide a job there."""
        lost = {name for name in self.watched.keys() - listed if self.book.last_number(name)}
        for name in lost:
            self.fault(f"{name}: the book's list of jobs does not name it any more; it is called out all the same")
        return lost

    def _watch(self, name: str, entries: int) -> None:
        job = JobWatch(name, self.reckoning)
        self._refresh_job(job)
        if (line := job.left_out(self.clock.now())) is not None:
            self.fault(line)
        stale = job.statement_at is not None and self.clock.now() - job.statement_at > LIVE_FOR
        if name != self.current and stale:
            self._stale[name] = entries
        else:
            self.watched[name] = job
            if len(job.tracks) >= MANY_TRACKS:
                # to go through all that stays for the day takes a tenth of a second in the middle of a look
                gc.collect()
                gc.freeze()


def _runs(line: JobLine) -> bool:
    """Whether a job is under way: nobody finished it, or somebody stated something since."""
    return line.finished is None or line.stated > line.finished


def _is_heard(standing: Standing, alert: str, numbers: frozenset[int] = frozenset()) -> bool:
    """Whether somebody heard the last raising of an alert, or the raisings of these numbers."""
    told = standing.raised(alert)
    if numbers:
        told = [raising for raising in told if raising.entry.number in numbers]
    return bool(told) and told[-1].heard is not None


def _is_taken(job: JobWatch, sent: SentMessage) -> bool:
    """Whether any channel took any raising in a message."""
    standing = job.seen()
    told = (raising for one in sent.bulletin.raises for raising in standing.raised(one.alert.id))
    return any(raising.may_have_reached for raising in told if raising.entry.number in sent.raised)
