"""The plan of a job: every coat in turn, each on what lies below it, until the floor is done or something is in the
way.

Pure: the same job, clocks and beginning give the same plan. A callback hears the progress. Whoever stops a search gets
the best plan found so far.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.days.alone import refused_alone
from mixclock.decide.plan.days.assumptions import assumed_for
from mixclock.decide.plan.days.begunfirst import laid_begun_first
from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.besides import breaks_left_out
from mixclock.decide.plan.days.coattask import CoatRefusal, CoatTask, Session
from mixclock.decide.plan.days.followed import MOST_FOLLOWED, WORTH_FOLLOWING, followed_by, laid_to_be_followed
from mixclock.decide.plan.days.jointdoubt import opens_above, told_as_planned
from mixclock.decide.plan.days.liveedges import asks_wet_edge, flaked_by_of
from mixclock.decide.plan.days.liverolling import padded
from mixclock.decide.plan.days.refusals import obstacle_of
from mixclock.decide.plan.days.scraping import scraping
from mixclock.decide.plan.days.timetable import SessionTimetable, film_of, tell
from mixclock.decide.plan.days.waits import APART, LaterStart, later_starts, roomiest
from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.conditions import Refusal, Stretch, allowed, from_then_on, working_stretches
from mixclock.decide.plan.floor.crew import Crew, clean_up_said, crew_of, times_of
from mixclock.decide.plan.floor.dampnight import wet_in_the_damp
from mixclock.decide.plan.floor.films import Ground, LaidFilm, below_of, coats_in_order, coats_under
from mixclock.decide.plan.floor.pailsinuse import small_buckets
from mixclock.decide.plan.floor.pieces import as_it_meets, hops, neighbours, ordered_areas, uncut
from mixclock.decide.plan.floor.plans import FloorPiece, Obstacle, Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.setting import CoatSetting, OpenStep
from mixclock.decide.plan.floor.sheetlimits import beyond_the_sheet
from mixclock.decide.plan.search.schedule import Ways
from mixclock.formulas.arrays import numpy_at_hand
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.site import Area, Coat, in_file_order
from mixclock.job.steps import RECOAT, WET_EDGE
from mixclock.units import write_day
from mixclock.values import dataclass, replace

LATEST = timedelta(days=3650)
MOST_WAITS = 6


def make_plan(bench: Bench, ways: Ways | None = None, standpoint: Standpoint | None = None) -> Plan:
    """The plan of a job from `bench.begins` on, or what is in the way of one."""
    numpy_at_hand(worth_loading=True)  # a search asks for many buckets, so numpy is worth its loading
    site = replace(bench.site, coats=in_file_order(bench.site.coats))
    planner = _Planner(replace(bench, site=site), ways or Ways(), standpoint or Standpoint())
    return planner.refused() or planner.plan()


def starts_for(bench: Bench, plan: Plan) -> list[dict[str, datetime]]:
    """Other starts for coats that get another coat within their recoat. The starts that leave the upper coat most to
    spare come first."""
    planner = _Planner(bench, Ways(), Standpoint())
    films = [film_of(batch, plan.steps) for batch in plan.batches]
    by_coat: dict[str, list[LaterStart]] = {}
    for upper in coats_in_order(bench.site):
        names = {name for each in coats_under(bench.site, bench.profiles, upper).values() for name in each}
        under = [film for film in films if film.coat in names]
        starts = planner.later_starts(under, upper, bench.begins) if under else []
        if starts:
            by_coat[under[0].coat] = roomiest(starts, min(min(film.ended.values()) for film in under), bench.site.wall)
    most = max((len(starts) for starts in by_coat.values()), default=0)
    return [
        {coat: starts[min(place, len(starts) - 1)].at for coat, starts in by_coat.items() if starts}
        for place in range(most)
    ]


def setting_of(bench: Bench, coat: Coat) -> CoatSetting:
    """What a coat's search rests on, as it would be laid on a floor that is open from the first working hour on."""
    planner = _Planner(bench, Ways(), Standpoint())
    profile = bench.profiles[coat.product.casefold()]
    task = planner._task(coat, profile, planner._areas_left(coat), Ground())
    hours = working_stretches(bench.site, bench.begins)
    return replace(task.setting, begins=hours[0].start if hours else bench.begins)


@dataclass(frozen=True)
class _Mark:
    """How far a plan was at some coat."""

    films: tuple[LaidFilm, ...]
    free: tuple[datetime, ...]
    batches: tuple[PlannedBatch, ...]
    steps: tuple[PlannedStep, ...]
    assumed: tuple[str, ...]
    number: int
    sessions: Mapping[str, tuple[Session, ...]]


@dataclass(frozen=True)
class _Stuck:
    """What is in the way of the coat at a place, where a plan got no further: what was laid by then, and which coats
    had waited for that."""

    at: int
    obstacle: Obstacle
    mark: _Mark
    waits: Mapping[str, datetime]


class _Planner:
    def __init__(self, bench: Bench, ways: Ways, standpoint: Standpoint) -> None:
        self.bench = bench
        self.ways = ways
        self.start = standpoint
        self.crew: Crew = crew_of(bench.site)
        self.films = list(standpoint.films)
        self.free = [standpoint.people_free.get(person.name, bench.begins) for person in self.crew.people]
        self.batches: list[PlannedBatch] = []
        self.steps: list[PlannedStep] = []
        self.assumed: list[str] = [*practice.completed(bench.site)[1], *clean_up_said(bench.site)]
        self.number = standpoint.next_number
        self.waits: dict[str, datetime] = dict(standpoint.starts)
        self.starts: dict[tuple[str, datetime | None], list[LaterStart]] = {}
        self.tried: dict[str, list[datetime]] = {}
        self.waited = 0
        self.sessions: dict[str, tuple[Session, ...]] = {}
        self.thorough, self.roughed = ways, list[int]()

    def refused(self) -> Plan | None:
        """No plan, where a coat does not fit even alone."""
        alone = (self._coat(coat, alone=True) for coat in coats_in_order(self.bench.site)[1:])
        obstacle = next((each for each in alone if each is not None), None)
        return self._answer(obstacle) if obstacle is not None else None

    def plan(self) -> Plan:
        """The plan, coat by coat, until one does not fit even if the coat below it begins later. The hours at which it
        may begin are looked at roughly; the first at which all fits is worked out."""
        ordered = coats_in_order(self.bench.site)
        marks: list[_Mark] = []
        furthest: _Stuck | None = None
        at = 0
        while at < len(ordered):
            marks = [*marks[:at], self._mark()]
            obstacle = self._coat(ordered[at])
            if obstacle is None:
                at = at + 1 if at + 1 < len(ordered) else self._worked_out_from(marks)
                continue
            if furthest is None or at > furthest.at:
                furthest = _Stuck(at, obstacle, self._mark(), dict(self.waits))
            below = self._made_to_wait(ordered, at, obstacle)
            if below is None:
                self.waits = dict(furthest.waits)
                self._back_to(furthest.mark)
                for coat in ordered:
                    self._still_due(coat)
                return self._answer(furthest.obstacle)
            self._back_to(marks[below])
            at = below
            if not self.roughed:
                self.ways = replace(self.thorough, rough=True)
            self.roughed.append(below)
        for upper in range(1, len(ordered)):
            for _ in range(MOST_FOLLOWED):
                if not self._opens_sooner(ordered, marks, upper):
                    break
        return self._answer(None)

    def _worked_out_from(self, marks: Sequence[_Mark]) -> int:
        """Where to go on when all coats fit: back at the first that was only looked at roughly, or at the end."""
        if self.ways is self.thorough or self.thorough.rough:
            return len(marks)
        self.ways, at = self.thorough, min(self.roughed)
        self._back_to(marks[at])
        return at

    def _opens_sooner(self, ordered: Sequence[Coat], marks: list[_Mark], upper: int) -> bool:
        """Lay what lies under a coat once more, so that the floor opens sooner. If all is done sooner so, `marks` tell
        how far that plan is at each coat; else nothing is changed."""
        under = coats_under(self.bench.site, self.bench.profiles, ordered[upper]).values()
        names = {name for each in under for name in each}
        place = next((place for place, coat in enumerate(ordered[:upper]) if names == {coat.name}), None)
        again = self._to_be_followed(ordered[place], ordered[upper]) if place is not None else None
        if place is None or again is None:
            return False
        before, done, anew = self._mark(), self._done(), list(marks)
        self._back_to(replace(marks[place], assumed=before.assumed))
        self._take(ordered[place], [again])
        fits = True
        for at in range(place + 1, len(ordered)):
            anew[at] = self._mark()
            fits = fits and self._coat(ordered[at]) is None
        if fits and len(self.batches) <= len(before.batches) and self._done() <= done - WORTH_FOLLOWING:
            marks[:] = anew
            return True
        self._back_to(before)
        return False

    def _to_be_followed(self, coat: Coat, upper: Coat) -> Session | None:
        """A coat laid so that the one above it, which waits for the floor, is done sooner."""
        at, sessions, above = self.bench, self.sessions.get(coat.name, ()), self.sessions.get(upper.name, ())
        if len(sessions) != 1 or not above or self.ways.rough or self.ways.stop():
            return None
        ground = below_of(at.site, upper, self.films, at.profiles, at.timing, at.ignore)
        own, over = (self._stretches(at.profiles[each.product.casefold()])[0] for each in (coat, upper))
        follows = followed_by(ground, above[-1], over)
        return laid_to_be_followed(sessions[0], follows, own, self.ways) if follows is not None else None

    def _done(self) -> datetime:
        return max(step.ends for step in self.steps)

    def _answer(self, obstacle: Obstacle | None) -> Plan:
        at, batches = self.bench, told_as_planned(self.bench, self.films, self.batches)
        return Plan(
            job=self.bench.site.name,
            begins=self.bench.begins,
            batches=tuple(batches),
            steps=tuple(sorted(self.steps, key=lambda step: (step.starts, step.who))),
            assumed=tuple(dict.fromkeys(self.assumed)),
            obstacle=obstacle,
            stopped_early=self.ways.stop(),
            kept=self.start.kept,
            warnings=(
                *self._waits_said(),
                *beyond_the_sheet(at.site, at.profiles, batches, at.outlook),
                *wet_in_the_damp(at.site, at.profiles, batches, at.outlook),
                *small_buckets(batches, at.site, at.profiles),
                *breaks_left_out(at.site, self.steps),
            ),
        )

    def _mark(self) -> _Mark:
        done = tuple(self.films), tuple(self.free), tuple(self.batches), tuple(self.steps), tuple(self.assumed)
        return _Mark(*done, self.number, dict(self.sessions))

    def _back_to(self, mark: _Mark) -> None:
        self.films, self.free, self.batches = list(mark.films), list(mark.free), list(mark.batches)
        self.steps, self.assumed, self.number = list(mark.steps), list(mark.assumed), mark.number
        self.sessions = dict(mark.sessions)

    def _made_to_wait(self, ordered: Sequence[Coat], at: int, obstacle: Obstacle) -> int | None:
        """The place of the coat below, if it can begin later so that its recoat falls into the upper coat's working
        hours; else None."""
        under = coats_under(self.bench.site, self.bench.profiles, ordered[at]).values()
        names = {name for each in under for name in each}
        place = next((place for place, coat in enumerate(ordered[:at]) if coat.name in names), None)
        films = [film for film in self.films if film.coat in names]
        begun = any(film.coat in names for film in self.start.films)
        worth_it = obstacle.constraint in (RECOAT, "hours") and not begun and self.waited < MOST_WAITS
        if not worth_it or place is None or not films or self.ways.stop():
            return None
        below = ordered[place].name
        key = below, self.waits.get(ordered[at].name)
        if key not in self.starts:
            self.starts[key] = self.later_starts(films, ordered[at])
        before = self.tried.get(below, ())
        new = (each for each in self.starts[key] if all(abs(each.at - start) >= APART for start in before))
        start = next(new, None)
        if start is None:
            return None
        self.waited += 1
        self.tried.setdefault(below, []).append(start.at)
        self.waits[below] = start.at
        return place

    def later_starts(self, films: Sequence[LaidFilm], upper: Coat, since: datetime | None = None) -> list[LaterStart]:
        """Later starts of what lies under a coat, or all since an instant. The start with which the upper coat is done
        soonest comes first."""
        profiles = self.bench.profiles
        own, above = (profiles[product.casefold()] for product in (films[0].product, upper.product))
        size_m2 = sum(area.size_m2 for area in self._areas_left(upper))
        hands = len(self.crew.people)
        spread = times_of(self.crew, "squeegee", (FloorPiece("", size_m2 / hands, 0.0),), {})
        needs = timedelta(seconds=min((span for span in spread if span is not None), default=0))
        hours, open_hours = self._stretches(own)[0], from_then_on(self._stretches(above)[0], self.waits.get(upper.name))
        numbers = {film.number for film in films}
        mine = [
            step for step in self.steps if step.batch in numbers or (step.kind, step.coat) == ("clean", films[0].coat)
        ]
        worked = (min(step.starts for step in mine), max(step.ends for step in mine)) if mine else None
        return later_starts(films, profiles, self.bench.timing, hours, open_hours, needs, since, worked)

    def _waits_said(self) -> Iterator[str]:
        """Why a coat begins later than it could."""
        site, zone = self.bench.site, self.bench.site.wall
        for name in self.waits:
            batches = [batch for batch in self.batches if batch.coat == name]
            at = opens_above(self.bench, self.films, name) if batches else None
            if at is not None:
                begins = min(step.starts for step in self.steps if step.batch in {each.number for each in batches})
                opens = at.astimezone(zone)
                day = begins.astimezone(zone)
                when = "" if day.date() == self.bench.begins.astimezone(zone).date() else f" on {day:%a} {day.day}"
                yield (
                    f"start {name} at {site.units.write_clock(begins, zone)}{when}, not sooner: the recoat then opens "
                    f"{write_day(opens)} at {site.units.write_clock(opens, zone, up=True)}"
                )

    def _still_due(self, coat: Coat) -> None:
        """Keep the steps that a live batch still needs in the plan, even if the rest does not fit."""
        live = {wait.batch for name, wait, _, _ in self.start.waiting if name == coat.name}
        if live and not live & {step.batch for step in self.steps}:
            self._coat(coat, live_only=True)

    def _coat(self, coat: Coat, live_only: bool = False, alone: bool = False) -> Obstacle | None:
        with_etch = acid.etch_under(self.bench.site, self.bench.profiles, coat) is not None
        areas = [] if with_etch or live_only else self._areas_left(coat)
        waiting = [wait for wait in self.start.waiting if wait[0] == coat.name]
        if not areas and not waiting:
            return None
        at, profile = self.bench, self.bench.profiles[coat.product.casefold()]
        below = below_of(at.site, coat, self.films, at.profiles, at.timing, at.ignore)
        stretches, refusals = self._stretches(profile)
        stretches = from_then_on(stretches, self.waits.get(coat.name))
        task = self._task(coat, profile, areas, below)
        if alone:
            refused = refused_alone(task, stretches, self.ways)
            return obstacle_of(coat, refused, stretches, refusals) if refused is not None else None
        self.assumed += assumed_for(at.site, self.crew, coat, profile, task.setting.pieces)
        last = coat.name == coats_in_order(at.site)[-1].name
        found = laid_begun_first(task, self.start, stretches, replace(self.ways, ends_the_work=last))
        if isinstance(found, CoatRefusal):
            return obstacle_of(coat, found, stretches, refusals)
        self._take(coat, found)
        return None

    def _areas_left(self, coat: Coat) -> list[Area]:
        left = []
        site, profiles = self.bench.site, self.bench.profiles
        for area in (as_it_meets(site, profiles, coat, each) for each in ordered_areas(site, coat)):
            size_m2 = self.start.left_m2.get((coat.name, area.name), area.size_m2)
            if size_m2 > 0.0:
                share = size_m2 / area.size_m2
                edge_m = practice.edge_m(area).value * share
                left.append(replace(area, size_m2=size_m2, edge_m=edge_m) if share < 1.0 else area)
        return left

    def _stretches(self, profile: Profile) -> tuple[list[Stretch], list[Refusal]]:
        hours = working_stretches(self.bench.site, self.bench.begins)
        if "hours" in self.bench.ignore:
            hours = [Stretch(self.bench.begins, self.bench.begins + LATEST)]
        if "conditions" in self.bench.ignore or "hours" in self.bench.ignore:
            return hours, []
        return allowed(hours, profile.limits, self.bench.outlook, self.bench.site.units)

    def _task(self, coat: Coat, profile: Profile, areas: list[Area], below: Ground) -> CoatTask:
        site = self.bench.site
        pairs, assumed = neighbours(site, ordered_areas(site, coat))
        wet = asks_wet_edge(coat, profile) and WET_EDGE not in self.bench.ignore
        if assumed and wet and len(areas) > 1:
            self.assumed.append("no neighbours are named: each area is taken to touch the one before it")
        setting = CoatSetting(
            site=site,
            coat=coat if wet else replace(coat, wet_edge=False),
            profile=profile,
            crew=self.crew,
            timing=self.bench.timing,
            begins=self.bench.begins,
            pieces=uncut(areas),
            wet_pairs=pairs if wet else frozenset(),
            carry=hops(site, site.mixing_at),
            reserve=self.bench.loosened.get(coat.name, self.bench.reserve),
            ignore=self.bench.ignore,
            neutraliser=acid.neutraliser_of(site, self.bench.profiles, coat),
            beside=self.start.neutraliser_beside,
        )
        return CoatTask(
            setting=setting,
            areas=tuple(areas),
            below=below,
            joined_by={area: at for (name, area), at in self.start.joined_by.items() if wet and name == coat.name},
            flaked_by=flaked_by_of(self.bench, self.start, coat) if wet else {},
            waiting=(*self._live_steps(coat), *scraping(self.bench, self.crew, below)),
            people_free=tuple(self.free),
            ignore_hours="hours" in self.bench.ignore,
        )

    def _live_steps(self, coat: Coat) -> list[tuple[OpenStep, datetime | None, datetime | None]]:
        """The steps that live batches still need, by those who are there now."""
        return [
            (padded(wait, len(self.crew.people)), opens, by)
            for name, wait, opens, by in self.start.waiting
            if name == coat.name
        ]

    def _take(self, coat: Coat, sessions: Sequence[Session]) -> None:
        self.sessions[coat.name] = tuple(sessions)
        for session in sessions:
            self._take_one(coat, session)

    def _take_one(self, coat: Coat, session: Session) -> None:
        profile = self.bench.profiles[coat.product.casefold()]
        told: SessionTimetable = tell(session, coat, profile, self.bench.exact, self.number)
        self.number += len(told.batches)
        self.batches += told.batches
        self.steps += told.steps
        self.films += [film_of(batch, told.steps) for batch in told.batches]
        for index, person in enumerate(self.crew.people):
            ends = [step.ends for step in told.steps if step.who == person.name]
            self.free[index] = max([self.free[index], *ends])
