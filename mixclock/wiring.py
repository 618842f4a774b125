"""The house: what commands, daemon and board all ask.

It joins book, clock, profiles and decisions. What a cold statement does not need is imported where it is used.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from mixclock import __version__
from mixclock.formulas.past import ForgottenError
from mixclock.job.dayentries import BackAtWork, StoppedWork
from mixclock.job.drafts import Draft, by_the_machine, profiles_used
from mixclock.job.entry import KINDS, TOLD_BY_MACHINE, Entry, JobMended, JobStarted, Reading, Saw, Withdrawn
from mixclock.job.folding import cached_site, fold, site_of
from mixclock.job.instants import json_text
from mixclock.job.mistakes import quoted
from mixclock.job.progress import KeptStatement, Standing
from mixclock.job.saying import Attribution, CannotTellError
from mixclock.job.site import Site
from mixclock.job.statements import FinishedStatement, HeardStatement, MixingStatement, Statement
from mixclock.job.steppedclock import BootTime, LogTime, log_time, on_one_clock
from mixclock.outside.book import Book, BookError
from mixclock.outside.bucketmemory import BookMemory
from mixclock.outside.calledhere import with_calls
from mixclock.outside.clock import Clock, SystemClock
from mixclock.outside.coatshelf import product_meant, sheets_of, shelf_for
from mixclock.outside.statedlog import StatedLog, by_the_whole_log, in_words_of_why
from mixclock.outside.unrecorded import UnrecordedEntries
from mixclock.outside.whichjob import WhichJob, job_named, no_job
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, replace

if TYPE_CHECKING:
    from mixclock.decide.buckets import BucketModel
    from mixclock.decide.kepttracks import KeptTracks
    from mixclock.decide.plan.days.kitcalls import KitDesk
    from mixclock.decide.tracks import Track
    from mixclock.outside.bookdrawers import Beside
    from mixclock.outside.cupshelf import CupShelf
    from mixclock.outside.followedjob import FollowedJob
    from mixclock.outside.lessons import Lessons
    from mixclock.words.answers import Answer

BOOK_NAME = "book.sqlite3"

OF_THE_FILE = frozenset({JobStarted.kind, JobMended.kind, Withdrawn.kind})  # tell by which text a job goes


@dataclass(frozen=True)
class House:
    """All the parts, joined. Everybody shares one `bucket_model`, so that it calibrates each product once."""

    home: Path
    book: Book
    clock: Clock

    @cached_property
    def which(self) -> WhichJob:
        """Which job is meant where none is named."""
        return WhichJob(self.book)

    def job(self, name: str | None = None) -> str:
        """The job that is asked about: the one named, else the one in use."""
        meant = name if name is not None else self.which.asked()
        if meant is None:
            raise no_job(self.book)
        return meant

    def entries(self, job: str | None = None, skip: Iterable[str] = ()) -> tuple[Entry, ...]:
        """The log of a job; refused where there is none of that name."""
        name = self.job(job)
        found = self.book.entries(name, skip=skip)
        if not found:
            job_named(self.book, name)
        return found

    def site(self, job: str | None = None) -> Site:
        """The floor, the crew and the coats of a job."""
        name = self.job(job)
        of_the_file = self.book.entries(name, skip=KINDS.keys() - OF_THE_FILE)
        return site_of(of_the_file or self.entries(job))

    def zone(self, job: str | None = None) -> ZoneInfo:
        """The zone in which the crew's clocks run."""
        return self.site(job).wall

    def units(self) -> CrewUnits:
        """The units of the job in use; metric ones where there is none."""
        return self.site().units if self.which.asked() is not None else METRIC_CREW

    def standing(
        self,
        job: str | None = None,
        at: datetime | None = None,
        known: datetime | None = None,
        skip: Iterable[str] = (),
    ) -> Standing:
        """The job as it stands, or as it stood `at` an instant, by what the book held at the instant `known`."""
        return self._stood(self.job(job), self.entries(job, skip), at, known)

    def _stood(self, job: str, log: Sequence[Entry], at: datetime | None, known: datetime | None) -> Standing:
        if known is not None and known < log[0].written:
            since = json_text(log[0].written)
            raise CannotTellError(f"the book did not know the job by then; it has known it since {since}")
        if at is None and known is None:
            log = on_one_clock(log, self._boot_time())
        return with_calls(self.book, fold(job, log, at=at, known=known))

    def tracks(self, standing: Standing, kept: KeptTracks | None = None, in_words: bool = True) -> tuple[Track, ...]:
        """The windows of every batch; they do not depend on the time. A follower passes those that it `kept`."""
        from mixclock.decide.tracks import tracks

        try:
            return kept(standing) if kept else tracks(standing, self.bucket_model, in_words=in_words)
        finally:
            self._memory.flush()

    @cached_property
    def bucket_model(self) -> BucketModel:
        """What a bucket does, with its calibrations kept in the book."""
        from mixclock.decide.remembered import remembered

        return remembered(lambda: self._fresh_bucket_model, self._memory, __version__)

    @cached_property
    def kits(self) -> KitDesk:
        """Who answers whether the next kit may be opened."""
        from mixclock.decide.plan.days.kitcalls import KitDesk
        from mixclock.outside.pastpaces import past_pace_of

        return KitDesk(lambda: self.bucket_model, sheets_of, lambda standing: past_pace_of(self.book, standing))

    @cached_property
    def _memory(self) -> BookMemory:
        return BookMemory(self.book.drawers)

    @cached_property
    def _fresh_bucket_model(self) -> BucketModel:
        """The model itself, imported only where an answer is not remembered."""
        from mixclock.decide.bucketmodel import bucket_model
        from mixclock.outside.calibrations import kept_calibrations

        return bucket_model(kept_calibrations(self.book.drawers))

    @cached_property
    def lessons(self) -> Lessons:
        """What was seen in every job of the book; imported only where somebody saw something."""
        from mixclock.outside.lessons import Lessons

        return Lessons(self.book, self.bucket_model, self._memory)

    @property
    def cups(self) -> CupShelf:
        """The test cups of the book."""
        from mixclock.outside.cupshelf import CupShelf

        return CupShelf(self.book.drawers)

    def snapshot(
        self,
        now: datetime,
        job: str | None = None,
        at: datetime | None = None,
        known: datetime | None = None,
        in_words: bool = True,
    ) -> dict[str, Any]:
        """What `now --json` answers. Without words no window tells its reasons, unless the log is a long one."""
        from mixclock.outside.longlogs import LongLogs

        name, here = self.job(job), self._boot_time()
        long_logs = LongLogs(self.book, ask=lambda standing: self.lessons.draw_from(standing))

        def tell(standing: Standing, time: LogTime, in_words: bool = True) -> dict[str, Any]:
            return self._told(standing, time, time.now if time.is_doubted else at or now, in_words)

        if at is not None or known is not None:
            return tell(self._stood(name, self.entries(job), at, known), LogTime(at or now))
        if (told := long_logs.told(name, here, tell)) is not None:
            return told
        entries = self.entries(job)
        stood = self._stood(name, entries, at, known)
        return long_logs.told_of_whole(stood, entries, here, tell, lambda each, time: tell(each, time, in_words))

    def _told(self, standing: Standing, time: LogTime, moment: datetime, in_words: bool) -> dict[str, Any]:
        from mixclock.decide.plan.days.saidplan import said_by_plan
        from mixclock.decide.windows import counted_as_due
        from mixclock.words.nowjson import now_json
        from mixclock.words.watchtroubles import trouble_lines

        tracks = self.tracks(standing, in_words=in_words)
        found = tuple(counted_as_due(track, moment) for track in tracks) if time.is_doubted else tracks
        told = now_json(standing, found, moment, said_by_plan(standing, found, moment, lambda: self.kits))
        return {**told, "troubles": trouble_lines(standing, time, self.book.lost_entries(standing.job))}

    def time(self, job: str | None = None) -> LogTime:
        """What time it is by the log of a job: what the machine says, unless that is behind the log."""
        return log_time(self.entries(job), self._boot_time())

    def _boot_time(self) -> BootTime:
        return BootTime(self.clock.boot_id(), self.clock.boot_s(), self.clock.now())

    def state(
        self,
        statement: Statement,
        *,
        at: datetime | None = None,
        by: str | None = None,
        note: str | None = None,
        job: str | None = None,
        beside: Sequence[Beside] = (),
        from_kept: bool = False,
        followed: FollowedJob | None = None,
    ) -> KeptStatement:
        """Put a statement into the book. It is on the disk when this returns. A refused one writes nothing.

        Raises `CannotTellError` where it cannot be taken and `BookError` where it cannot be written, one line each.
        With `from_kept` what it gives may hold only the last readings of a long job. `followed` lends what is folded.
        """
        here = self._boot_time()
        name, now = job or self._job_meant(statement, here, Attribution(here.wall, at, by, note)), here.wall
        log = StatedLog(self.book, name, here, followed)
        product = statement.product if isinstance(statement, MixingStatement) else ""
        teaches = bool(product) and self.book.has_signs()
        meant = in_words_of_why(statement)

        def build(entries: Sequence[Entry]) -> Sequence[Draft]:
            if not entries:
                self.entries(name)
            nonlocal now
            now = log.time.now
            found = product_meant(entries, product) if product else None
            standing = log.standing(shelf_for(statement, found, entries))
            drafts = meant.drafts(standing, Attribution(now, at, by, note))
            learned = self.lessons.factors_for(drafts, standing, found.text if found else None) if teaches else ()
            cups = self.cups.due(drafts, standing) if product else ()
            used = profiles_used(standing, drafts, found.text, found.origin) if found else ()
            return by_the_machine((*used, *learned, *cups, *drafts), log.time)

        written = log.append(statement, build, beside, from_kept)
        if teaches:
            self.lessons.flush()
        return KeptStatement(written, log.standing_with(written), now, log.before)

    def _job_meant(self, statement: Statement, here: BootTime, said: Attribution) -> str:
        """The one job that a statement can be meant for."""
        heard = isinstance(statement, HeardStatement)

        def taken(name: str) -> Sequence[Draft]:
            if heard and not self.snapshot(here.wall, name, said.at)["alerts"]:
                raise CannotTellError("nothing is called out")
            entries = self.book.entries(name, skip=() if heard else TOLD_BY_MACHINE)
            found = product_meant(entries, statement.product) if isinstance(statement, MixingStatement) else None
            standing = fold(name, on_one_clock(entries, here), shelf_for(statement, found, entries))
            return statement.drafts(standing, said)

        if isinstance(statement, FinishedStatement):
            return self.which.to_finish()
        return self.which.stated(taken)

    def answer(self, stated: KeptStatement) -> Answer:
        """The answer to a statement: the line for the bucket, and what comes next."""
        try:
            return self._answered(stated)
        except ForgottenError:
            return self._answered(by_the_whole_log(self.book, stated, self._boot_time()))

    def _answered(self, stated: KeptStatement) -> Answer:
        from mixclock.decide.tracks import tracks
        from mixclock.words.answers import answer_to, batch_of
        from mixclock.words.objections import lies_under

        batch = batch_of(stated.entry, stated.standing)
        away = isinstance(stated.entry.facts, StoppedWork | BackAtWork)
        of_batch = tracks(stated.standing, self.bucket_model, {batch.id}) if batch else ()
        found = self.tracks(stated.standing) if away else of_batch
        below = lies_under(stated.entry.facts, stated.standing, batch)
        under = tracks(stated.standing, self.bucket_model, {each.id for each in below}) if below else ()
        answer = answer_to(stated.entry, stated.standing, found, stated.now, under)
        if isinstance(stated.entry.facts, Saw):
            from mixclock.words.lessons import taught

            seen = self.lessons.around(stated.entry, stated.standing)
            answer = replace(answer, learned=taught(stated.entry, stated.standing, seen))
            self.lessons.flush()
        if isinstance(stated.entry.facts, Reading) and stated.before is not None:
            answer = replace(answer, moved=self._moved(stated.before, stated.standing, stated.now))
        self._memory.flush()
        return answer

    def _moved(self, before: Standing, after: Standing, now: datetime) -> tuple[str, ...]:
        """The deadlines that a reading moved, of work that is still under way."""
        from mixclock.decide.tracks import tracks
        from mixclock.words.moveddeadlines import LIVE_FOR, moved_deadlines

        live = {batch.id for batch in after.batches if now - batch.combined.at < LIVE_FOR}
        was, found = (tracks(each, self.bucket_model, live, in_words=False) for each in (before, after))
        return moved_deadlines(was, found, now)

    def start(self, text: str, origin: str = "") -> Entry:
        """Start a job from the text of its file, and use it."""
        site = cached_site(text)

        def build(entries: Sequence[Entry]) -> Sequence[Draft]:
            if entries:
                raise CannotTellError(
                    f"a job {quoted(site.name)} is in the book already; `mixclock job use` goes on with it, "
                    "`mixclock job mend FILE` takes a mended file, or give the new one another name"
                )
            return (Draft(JobStarted(site.name, text, origin)),)

        (entry,) = self.book.append_within(site.name, build)
        # another crew's next statement must not go to the new floor just because that one began last
        self.book.use(None if self.which.others_live(site.name) else site.name)
        return entry

    def mend(self, text: str, origin: str, by: str | None = None, note: str | None = None) -> KeptStatement:
        """Give the job in use another text of its job file. The log keeps the old text.

        Raises `ProfileFileError` with every line where the text contradicts what was stated already.
        """
        site, name = cached_site(text), self.job()
        now = self.clock.now()
        seen: list[Entry] = []

        def build(entries: Sequence[Entry]) -> Sequence[Draft]:
            from mixclock.job.mending import mended
            from mixclock.job.mistakes import Mistakes
            from mixclock.outside.profilefiles import ProfileFileError
            from mixclock.words.mendedjobwords import site_changes

            if not entries:
                self.entries(name)
            seen[:] = entries
            standing = fold(name, entries)
            changed = site_changes(standing.site, site)
            try:
                told = Attribution(now, None, by, note)
                return mended(standing, told, site=site, text=text, origin=origin, changed=changed)
            except Mistakes as mistakes:
                raise ProfileFileError(*mistakes.lines(origin)) from mistakes

        written = self.book.append_within(name, build, skip=TOLD_BY_MACHINE)
        return KeptStatement(written, fold(name, (*seen, *written)), now)

    def close(self) -> None:
        """Close the book."""
        self.book.close()

    def __enter__(self) -> House:
        """Use the house in a `with` block."""
        return self

    def __exit__(self, kind: object, error: object, _: object) -> None:
        """Close it at the end. Where the book could not be written, say that nothing was kept."""
        if (line := self.book.only_read) and not isinstance(error, BookError):
            print(line, file=sys.stderr, flush=True)
        self.close()


def open_house(
    home: Path | None = None,
    clock: Clock | None = None,
    unrecorded: UnrecordedEntries | None = None,
    job: str | None = None,
) -> House:
    """Open the book in a home, or make one there. Without a home it is the one that `MIXCLOCK_HOME` names.

    With `unrecorded` a book that cannot be written stops nothing: statements are kept there. `job` is the job that is
    meant wherever none is named; an unknown name is refused.
    """
    if home is None:
        from mixclock.outside.home import home as usual_home

        home = usual_home()
    clock = clock or SystemClock()
    house = House(home, Book(home / BOOK_NAME, clock, unrecorded), clock)
    house.which.choose(job)
    for line in house.book.mended:  # whoever opens the book first after a repair is told of it, whatever the command
        print(line, file=sys.stderr, flush=True)
    return house


@contextmanager
def house_if_any(job: str | None = None) -> Iterator[House | None]:
    """The house, if there is a book already, with the job that is meant. A question makes no book."""
    from mixclock.outside.home import home

    if not (home() / BOOK_NAME).exists():
        yield None
        return
    with open_house(job=job) as house:
        yield house
