"""Fits the real house to what the board asks. It reads a job's log again only when somebody has written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from mixclock.board.askedkit import ask_kit, told_kit
from mixclock.board.boardstore import BoardKeepsakes
from mixclock.board.cuptaps import say_of_cup
from mixclock.board.firstword import UNLISTED, first_word
from mixclock.board.house import (
    ALONE,
    Along,
    CoatChoice,
    ComingBatch,
    CupStatement,
    Floor,
    RecentStatement,
    RefusedError,
    RunningCup,
    TapAnswer,
)
from mixclock.board.joineddoors import JoinedDoors
from mixclock.board.office import Foreman
from mixclock.decide.alerting.closing import calls_to_come
from mixclock.decide.kepttracks import KeptTracks
from mixclock.decide.plan.days.advice import plan_says
from mixclock.decide.plan.days.comingbuckets import bucket_for, buckets_left, coat_left
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.shapes import Alert
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.formulas.past import ForgottenError
from mixclock.job.entry import Combined, Entry
from mixclock.job.instants import json_text
from mixclock.job.origins import is_said
from mixclock.job.progress import KeptStatement, Standing
from mixclock.job.rounds import RoundName
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import HeardStatement, Statement, WithdrawStatement
from mixclock.job.steps import CLOSING_STAGES
from mixclock.outside.bookerrors import BookError
from mixclock.outside.clock import SystemClock
from mixclock.outside.coatshelf import with_sheets
from mixclock.outside.followedjob import FollowedJob
from mixclock.outside.stillness import ASKED_BESIDE_WATCH_S, Stillness, mark_of
from mixclock.units import says_month_first, says_twelve_hours
from mixclock.values import replace
from mixclock.wiring import House
from mixclock.words.alerting import alert_words
from mixclock.words.answers import OF_THE_CREW
from mixclock.words.byfinger import by_finger
from mixclock.words.gritwords import grit_of
from mixclock.words.jumpwords import asked_by
from mixclock.words.nowjson import is_told, now_json
from mixclock.words.saidback import said_back

_RECENT_AT_MOST = 12
T = TypeVar("T")
Asked = ParamSpec("Asked")


def by_all_readings(
    ask: Callable[Concatenate[JoinedHouse, Asked], T],
) -> Callable[Concatenate[JoinedHouse, Asked], T]:
    """Ask again by the whole log where an answer rests on old readings of a very long job that are not at hand."""

    @wraps(ask)
    def asked(house: JoinedHouse, /, *what: Asked.args, **how: Asked.kwargs) -> T:
        try:
            return ask(house, *what, **how)
        except ForgottenError:
            house.read_whole()
            return ask(house, *what, **how)

    return asked


class JoinedHouse:
    """The house as the board sees it. Only one thread may call it; it closes the house that it was given."""

    def __init__(self, house: House, job: str | None = None) -> None:
        """`job` is the job in view, whichever is in use."""
        self._house, self._job = house, job
        self.doors = JoinedDoors(house, job)
        self._keepsakes = BoardKeepsakes(house.book.drawers, house.clock, lambda: house.book.data_version()[-1])
        self._followed: FollowedJob | None = None
        self._of_jobs: dict[str, JoinedHouse] = {}
        self._foreman = Foreman(house)
        self._stillness = Stillness(lambda: mark_of(house.book), SystemClock().monotonic_s, ASKED_BESIDE_WATCH_S)

    def jobs(self) -> Sequence[str]:
        """The jobs that are under way."""
        return self._house.which.live()

    def of_job(self, name: str | None) -> JoinedHouse:
        """The same with one job in view."""
        if name is None or name == self._in_view():
            return self
        if name not in self._of_jobs:
            if name not in {line.name for line in self._house.book.all_jobs()}:
                raise RefusedError(f"there is no job {name} in this book any more: choose one under Who holds this")
            self._of_jobs[name] = JoinedHouse(self._house, name)
        return self._of_jobs[name]

    def _in_view(self) -> str | None:
        return self._job or self._house.book.current_job()

    def version(self) -> int:
        """A number that changes whenever anything was written, but for what the board kept for itself."""
        self._keepsakes.catch_up()
        generation, by_others, by_us = self._house.book.data_version()
        return hash((generation, by_others, by_us - self._keepsakes.changes))

    def is_still(self) -> bool:
        """Whether the book's files tell that nothing was written since."""
        return self._stillness.holds()

    @by_all_readings
    def snapshot(self, now: datetime) -> Mapping[str, Any]:
        """What `now --json` answers, and two facts that only a board needs: who is on a step, by when to begin it."""
        standing = self._read()
        if standing is None:
            return {"at": json_text(now), "job": None, "conditions": {}, "batches": [], "areas": [], "alerts": []}
        assert self._followed is not None
        time = self._followed.time(self._house.clock)
        found, now = self._followed.windows_at(time), now + time.behind
        plans = self._followed.plans
        kits = self._house.kits
        says = plan_says
        told = now_json(
            standing, found, now, lambda: kits.says(standing, found, now, plans, says(standing, found, plans, now))
        )
        for batch in told["batches"]:
            own = [track for track in found if track.batch.id == batch["id"] and _is_told(standing, track)]
            batch["grit"] = _grit(standing, batch["id"])
            for window, track in zip(batch["windows"], own, strict=True):
                window.update(_for_the_crew(standing, track, now))
        for alert in told["alerts"]:
            alert["claimed_by"] = self._claimed_by(alert)
        return told

    @by_all_readings
    def floor(self) -> Floor:
        """Areas, crew and coats of the job in use."""
        standing = self._read()
        if standing is None:
            return Floor()
        site = standing.site
        names = tuple(area.name for area in site.areas)
        crew = tuple(person.name for person in site.crew)
        coats = tuple(CoatChoice(coat.name, coat.product, coat.kit_l, coat.kit_kg, coat.areas) for coat in site.coats)
        wall = says_twelve_hours(site.wall), says_month_first(site.wall)
        return Floor(standing.job, site.zone, names, crew, coats, site.units, *wall)

    def office(self, now: datetime, trouble: str) -> str:
        """A page of all jobs under way, only to be looked at."""
        from mixclock.board.officepage import office_page

        return office_page(self._foreman.looks(now), now, trouble)

    @by_all_readings
    def planned_next(self, now: datetime) -> Sequence[ComingBatch]:  # noqa: ARG002
        """The plan's next batches. Without a plan, the next areas of the coat under way, each with its own amount."""
        standing = self._read()
        if standing is None or standing.finished is not None or self._followed is None:
            return ()
        plans = self._followed.plans
        return (list(_from_plan(standing, plans[-1])) if plans else []) or list(_by_order(with_sheets(standing)))

    @by_all_readings
    def next_kit(self, now: datetime) -> Mapping[str, Any] | None:
        """Whether the next kit may be opened."""
        standing = self._read()
        if standing is None or standing.finished is not None:
            return None
        return told_kit(self._house, self._followed, now)

    @by_all_readings
    def rounds(self, now: datetime) -> Mapping[str, Any]:
        """The questions of each round."""
        from mixclock.words.rounds import questions, round_json

        standing = self._read()
        if standing is None or self._followed is None:
            return {}
        whole = with_sheets(standing)
        return {name.value: round_json(questions(whole, self._followed.tracks, name, now), name) for name in RoundName}

    @by_all_readings
    def ask_next_kit(self, now: datetime, by: str | None) -> Mapping[str, Any]:
        """The same, kept in the book."""
        if self._read() is None:
            raise RefusedError("no job is under way: start one on the laptop")
        return ask_kit(self._house, self._followed, now, by)

    @by_all_readings
    def recent(self, now: datetime) -> Sequence[RecentStatement]:
        """The latest statements, newest first."""
        standing = self._read()
        if standing is None:
            return ()
        said = [entry for entry in standing.entries if is_said(entry) and not isinstance(entry.facts, UNLISTED)]
        return [
            RecentStatement(
                each.number, said_back(each, standing, now), each.happened, each.by, each.number in standing.withdrawn
            )
            for each in reversed(said[-_RECENT_AT_MOST:])
        ]

    def state(self, statement: Statement, at: datetime, by: str | None, along: Along = ALONE) -> TapAnswer:
        """Put a statement into the book, with what goes along."""
        if isinstance(statement, HeardStatement):
            statement = statement.but(alerts=self._raised_of(statement.alerts))
        return self._state(statement, at, by, along)

    def withdraw(self, entry: int, at: datetime, by: str | None) -> TapAnswer:  # noqa: ARG002
        """Withdraw an entry; a withdrawal happens when it is said."""
        return self._state(WithdrawStatement(entry), None, by)

    @by_all_readings
    def stated_at(self, at: datetime, by: str | None) -> TapAnswer | None:
        """This person's statement of exactly this instant: its answer may have been lost."""
        standing = self._read()
        said = [] if standing is None else standing.entries
        found = [each for each in said if each.happened == at and each.by == by and is_said(each)]
        return self._answer(found[-1], standing) if found and standing else None

    def cups(self, now: datetime) -> Sequence[RunningCup]:
        """The test cups that are running."""
        running = self._house.cups.running(now)
        return [RunningCup(cup.began, cup.product, cup.lot, cup.read[-1][1] if cup.read else None) for cup in running]

    def state_cup(self, said: CupStatement, at: datetime) -> Sequence[str]:
        """Keep what was read or seen of a cup."""
        try:
            return tuple(say_of_cup(self._house, said, at))
        except (CannotTellError, BookError) as refused:
            raise RefusedError(str(refused)) from refused

    def read_whole(self) -> None:
        """Read the whole log of the job in view, whatever was kept of it."""
        if self._followed is not None:
            self._followed.read_whole(self._house.book)

    def setting(self, name: str) -> str | None:
        """A setting kept in the book."""
        return self._keepsakes.get(name)

    def put_setting(self, name: str, value: str) -> None:
        """Keep a setting in the book, durably where the book can be written."""
        self._keepsakes.put(name, value)

    def close(self) -> None:
        """Close the book."""
        self._house.close()

    def _state(self, statement: Statement, at: datetime | None, by: str | None, along: Along = ALONE) -> TapAnswer:
        beside = self._keepsakes.beside(along.settings)
        try:
            self._read(windows_later=True)
            shown = self._followed  # what the page shows
            job = shown.job if shown is not None else None
            stated = self._house.state(statement, at=at, by=by, job=job, beside=beside, followed=shown)
        except (CannotTellError, BookError) as refused:
            raise RefusedError(by_finger(str(refused))) from refused
        self._keepsakes.were_put(along.settings, in_book=not self._house.book.unrecorded)
        answer = self._said(stated)

        def say_first() -> None:
            if along.heard is not None:
                now = self._house.clock.now()
                along.heard(first_word(statement, stated.entry, stated.standing, answer.said, now))

        return self._with_cautions(answer, stated, say_first)

    def _with_cautions(self, answer: TapAnswer, stated: KeptStatement, say_first: Callable[[], None]) -> TapAnswer:
        """Add what the command line would say too. A defect in that changes nothing that is in the book."""
        try:
            say_first()
            told = self._house.answer(stated)
        except (Exception, ForgottenError) as defect:
            sorry = f"what comes next could not be worked out, a defect of mixclock ({type(defect).__name__}: {defect})"
            return replace(answer, look_out=(" ".join(sorry.split()),))
        look_out = _touched((*told.warnings, *asked_by(stated.entry, stated.standing)))
        is_whole = isinstance(stated.entry.facts, OF_THE_CREW)
        first = [each for each in told.next if is_whole or "grit" in each]
        return replace(answer, look_out=look_out, cautions=told.cautions, moved=_touched((*told.moved, *first)))

    def _said(self, stated: KeptStatement) -> TapAnswer:
        try:
            return self._answer(stated.entry, stated.standing)
        except ForgottenError:  # it is in the book: only its words rest on old readings
            return self._answer(stated.entry, self._house.standing(stated.entry.job))

    def _answer(self, entry: Entry, standing: Standing) -> TapAnswer:
        batch = getattr(entry.facts, "batch", None)
        if isinstance(entry.facts, Combined):
            batch = next((each.id for each in standing.batches if each.combined.entry == entry.number), None)
        said = said_back(entry, standing, self._house.clock.now())
        unrecorded = self._house.book.unrecorded
        if unrecorded and unrecorded.of(entry.job, entry.number - 1, ()):
            said = f"NOT BEING RECORDED, only in the laptop's memory: {said}"
        return TapAnswer(entry.number, said, batch)

    def _raised_of(self, alerts: Sequence[str]) -> tuple[str, ...]:
        """Those alerts on a phone's glass that were raised. The others will sound as soon as they are raised."""
        standing = self._read(windows_later=True)
        raised = standing.alerts_raised if standing else ()
        known = tuple(alert for alert in alerts if alert in raised)
        if not known:
            raise RefusedError("none of these was called out yet: state the step when it is done")
        return known

    def _claimed_by(self, alert: Mapping[str, Any]) -> str | None:
        for track in self._followed.tracks if self._followed is not None else ():
            same = (track.batch.id, track.name) == (alert["batch"], alert["step"])
            if same and alert["area"] in (None, track.area) and track.began is not None:
                return track.began.by or "somebody"
        return None

    def _read(self, windows_later: bool = False) -> Standing | None:
        """The job as it stands. Windows are reckoned again only after a statement, and later where that is enough."""
        book = self._house.book
        job = self._in_view()
        if job is None:
            self._followed = None
            return None
        if self._followed is None or self._followed.job != job:
            kept = KeptTracks(self._house.bucket_model)  # from one look to the next only moved windows are reckoned
            self._followed = FollowedJob(job, lambda standing: self._house.tracks(standing, kept), recalls=True)
        self._followed.refresh(book, windows_later)
        return self._followed.standing


def _is_told(standing: Standing, track: Track) -> bool:
    return is_told(standing, track.batch.coat, track.name, track.stated is not None)


def _grit(standing: Standing, number: int) -> str | None:
    batch = standing.batch(number)
    coat = standing.site.coat(batch.coat) if batch is not None and batch.coat else None
    return grit_of(coat, batch.volume_l, standing.site.units) if batch is not None else None


def _touched(lines: Iterable[str]) -> tuple[str, ...]:
    return tuple(map(by_finger, lines))


def _for_the_crew(standing: Standing, track: Track, now: datetime) -> dict[str, Any]:
    """Add what only a board needs of a window: whose it is, and the calls to come, in words for the ear."""
    seen = seen_at(track, now, ripe=False)
    began = track.began
    return {
        "who": seen.who,
        "latest_start": json_text(seen.latest_start) if seen.latest_start else None,
        "began": {"by": began.by or "somebody", "at": json_text(began.at)} if began else None,
        "calls": [_call(standing, alert) for alert in calls_to_come(standing, track, CLOSING_STAGES)]
        if standing.calls(track.batch)
        else [],
    }


def _call(standing: Standing, alert: Alert) -> dict[str, Any]:
    said = alert_words(alert, standing, alert.due)
    return {
        "id": alert.id,
        "stage": alert.stage.value,
        "rank": alert.rank.value,
        "at": json_text(alert.due),
        "do": said.do,
        "text": said.body,
        "speech": said.speech,
        "who": alert.who,
    }


def _from_plan(standing: Standing, plan: Plan) -> Iterator[ComingBatch]:
    """The batches of a plan that nobody has mixed yet."""
    mixes = {step.batch: step for step in plan.steps if step.kind == "mix"}
    for batch in buckets_left(standing, plan):
        grit = grit_of(standing.site.coat(batch.coat), batch.volume_l, standing.site.units)
        mixer = mixes[batch.number].who if batch.number in mixes else None
        yield ComingBatch(
            batch.product, batch.areas, batch.volume_l, batch.mass_kg, batch.coat, mixer, batch.mixed_at, grit
        )


def _by_order(standing: Standing) -> Iterator[ComingBatch]:
    """Without a plan: what is left of the first coat that is not on everywhere, a bucket for each area."""
    coat, areas = coat_left(standing) or (None, ())
    profile = standing.profile(coat.product) if coat else None
    for area in areas:
        assert coat is not None
        volume_l = bucket_for(standing.site, coat, profile, area).mixed_l if profile else coat.kit_l
        grit = grit_of(coat, volume_l or 0.0, standing.site.units)
        yield ComingBatch(coat.product, (area.name,), volume_l, coat=coat.name, grit=grit)
