"""A crew that works by rules: coat after coat, batch after batch, each statement when its step is done.

The mixer times the next batch so that it is poured when the roller comes free. A coat begins when the coat below is
ready for it and the working day has time left. The crew decides each step only when its time comes, because the
windows may have moved until then.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import count
from typing import Any, Protocol

from mixclock.decide.hours import is_working, next_working_instant
from mixclock.decide.tracks import Track
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Site
from mixclock.job.statements import (
    VERBS,
    DidStatement,
    DumpedStatement,
    FlakedStatement,
    HeardStatement,
    MixingStatement,
    NotedStatement,
    PouredStatement,
    ReadingStatement,
    RolledStatement,
    SawStatement,
    Statement,
)
from mixclock.job.steps import POUR_OUT, RECOAT, SCRAPE
from mixclock.outside.bookreading import LONG_AGO
from mixclock.units import Amount
from mixclock.values import dataclass, field
from mixclock.watch.rehearsing.crewwork import BatchPiece, CoatWork, conditions_at, person_who, rolling_s_m2, work_of

POUR_S, SET_UP_S, FLAKE_LAG_S = 75.0, 20.0, 90.0
"""Shorter than a crew would plan: everything is measured out, and somebody is watching (judgement)."""

SCRAPE_S_M2 = 3600.0 / 45.0
READ_EVERY = timedelta(hours=2)
HEARD_AFTER = timedelta(seconds=50)
READY = (("cloth", "clean"), ("oil", "clean"), ("dump spot", "the sand heap by the gate"))
EVENING = (("doors", "shut"), ("heater", "off"), ("barrier", "up"))
DUMPED_S = 60.0
FORGOTTEN_S, AFTER_IT_S = 25 * 60.0, 6 * 60.0
"""How much a bucket that is forgotten adds to what is played, and what opens after the last step (judgement)."""

TOO_LATE_SHARE = 1.3
"""When the forgotten bucket is poured, as a share of its likely time."""

SUN_WARM_C = 27.0
"""How warm the pails of that bucket are: they stood in the sun, so it goes off sooner than its neighbours."""


class Scene(Protocol):
    """The stage of the crew: it takes their statements and shows them the windows."""

    def state(self, statement: Statement, by: str | None) -> int | None:
        """State something now. Gives the batch's number, if the statement begins one."""

    def tracks(self) -> Sequence[Track]:
        """The windows as they stand now."""

    def ask_next(self, by: str) -> None:
        """Ask whether the next kit may be opened, and say the answer."""

    def tell(self, line: str) -> None:
        """Say what the crew does where no statement says it."""


@dataclass(frozen=True)
class Script:
    """What the crew plays: the sheets by product, the plan's buckets for each coat, and what goes wrong.

    `late` names the area whose first bucket is forgotten and poured all the same. `dumps` names the area whose first
    bucket is forgotten and thrown away, as the calls say; then the crew mixes another.
    """

    profiles: Mapping[str, Profile]
    planned: Mapping[str, Sequence[BatchPiece]] = field(default_factory=dict)
    late: str | None = None
    dumps: str | None = None


@dataclass
class PlayedCrew:
    """The crew with what it has planned to do."""

    site: Site
    script: Script
    stage: Scene
    plans: list[tuple[datetime, int, Callable[[datetime], None]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.works = [
            work_of(self.site, coat, self._profile(coat), self.script.planned.get(coat.name, ()))
            for coat in self._in_order()
        ]
        self._dumps = self.script.dumps
        self.mixer = _name(person_who(self.site, "mix"))
        self.roller = _name(person_who(self.site, "roll"))
        self.roller_free = self.mixer_free = LONG_AGO
        self._orders = count()
        self._read_at: datetime | None = None
        self._at = (0, 0)

    @property
    def left(self) -> int:
        """Roughly how many statements they will still make."""
        place, number = self._at
        begun = self.works[place]
        later = sum(work.statements_each * len(work.pieces) + 2 for work in self.works[place + 1 :])
        return len(self.plans) + begun.statements_each * (len(begun.pieces) - number) + later

    @property
    def left_s(self) -> float:
        """Roughly how much of the job's time is still to be played; skipped stretches do not count."""
        place, number = self._at
        cycles = [self._cycle_s(work) for work in self.works]
        begun = cycles[place] * (len(self.works[place].pieces) - number)
        later = sum(each * len(work.pieces) for each, work in list(zip(cycles, self.works, strict=True))[place + 1 :])
        forgotten = sum(FORGOTTEN_S for area in (self.script.late, self._dumps) if place == 0 and area is not None)
        return begun + later + forgotten + AFTER_IT_S

    def _cycle_s(self, work: CoatWork) -> float:
        """From one bucket to the next: the longer of the mixer's round and the roller's, or both in a row."""
        size_m2 = sum(piece.size_m2 for piece in work.pieces) / len(work.pieces)
        mixer_s = work.mixing_s + work.stand_s + POUR_S + SET_UP_S + work.squeegee_s_m2 * size_m2
        roller_s = ((work.roll_s_m2 or 0.0) + (work.flake_s_m2 or 0.0)) * size_m2
        return mixer_s + roller_s if self.alone else max(mixer_s, roller_s)

    @property
    def alone(self) -> bool:
        """Whether one person does everything."""
        return self.mixer == self.roller

    def begin(self, at: datetime) -> None:
        """Plan the first coat."""
        self._plan(at, lambda now: self._begin_coat(0, now))

    def next_at(self) -> datetime | None:
        """When the crew does something next."""
        return self.plans[0][0] if self.plans else None

    def act(self, now: datetime) -> None:
        """Do what is next."""
        heapq.heappop(self.plans)[2](now)

    def _plan(self, at: datetime, act: Callable[[datetime], None]) -> None:
        heapq.heappush(self.plans, (at, next(self._orders), act))

    def _state_at(self, at: datetime, statement: Statement, by: str) -> None:
        def act(_: datetime) -> None:
            self.stage.state(statement, by)

        self._plan(at, act)

    def _begin_coat(self, place: int, now: datetime) -> None:
        work = self.works[place]
        buckets = f"{len(work.pieces)} batches" if len(work.pieces) > 1 else "one batch"
        self.stage.tell(f"The {work.coat.name} begins: {work.coat.product}, {buckets}.")
        if place == 0:
            self._go_through("ready", READY)
        self._read(now)
        starts = now
        if place > 0 and self._is_scraped(self.works[place - 1]):
            starts = self._scrape(self.works[place - 1], now)
        self.mixer_free = self.roller_free = starts
        self._plan(starts + timedelta(seconds=SET_UP_S), lambda at: self._begin_batch(place, 0, at))

    def _is_scraped(self, work: CoatWork) -> bool:
        """Whether a flaked coat is scraped: not one whose sheet has no time for it."""
        profile = self._profile(work.coat)
        return work.flake_s_m2 is not None and profile.window(SCRAPE) is not None

    def _scrape(self, work: CoatWork, now: datetime) -> datetime:
        size_m2 = sum(piece.size_m2 for piece in work.pieces)
        ends = now + timedelta(seconds=SCRAPE_S_M2 * size_m2 / (1 if self.alone else 2))
        areas = tuple(dict.fromkeys(area for piece in work.pieces for area in piece.areas))
        self._state_at(ends, DidStatement(SCRAPE, areas=areas), self.roller)
        return ends

    def _begin_batch(self, place: int, number: int, now: datetime) -> None:
        """Part B goes in; what follows is planned from there."""
        work = self.works[place]
        piece = work.pieces[number]
        self._at = (place, number + 1)
        self._read(now, READ_EVERY)
        if number == 0:
            self.stage.ask_next(self.mixer)
        dumped = place == 0 and self._dumps in piece.areas
        forgotten = dumped or (place == 0 and self.script.late in piece.areas)
        if forgotten:
            self.stage.tell(
                f"The pails for {piece.areas[0]} stood in the sun: {self.site.units.write_temp(SUN_WARM_C)}."
            )
        material_c = SUN_WARM_C if forgotten else None
        mixing = MixingStatement(
            work.coat.product, Amount(piece.litres), piece.areas, work.coat.name, material_c=material_c
        )
        batch = self.stage.state(mixing, self.mixer)
        assert batch is not None
        ends = now + timedelta(seconds=work.mixing_s)
        poured = ends + timedelta(seconds=work.stand_s + POUR_S)
        if dumped:
            self._dump(place, number, batch, self._forget(batch, piece, now, ends))
            return
        if forgotten:
            poured = max(poured, self._forget(batch, piece, now, ends))
        self._state_at(poured, PouredStatement(batch), self.mixer)
        self._spread(work, piece, batch, poured)
        self._plan_next(place, number)

    def _dump(self, place: int, number: int, batch: int, at: datetime) -> None:
        """Take the bucket outside, as the calls say, and mix another for the same bay."""
        self._dumps = None
        self._state_at(at, DumpedStatement(batch, share="most"), self.mixer)
        self._plan(at + timedelta(seconds=DUMPED_S), lambda now: self._begin_batch(place, number, now))

    def _forget(self, batch: int, piece: BatchPiece, combined: datetime, ends: datetime) -> datetime:
        """Leave the bucket standing, as if called to the door. Gives the time at which it is poured after all."""
        edge = next(
            track.bucket.edge
            for track in self.stage.tracks()
            if track.name == POUR_OUT and track.batch.id == batch and track.bucket is not None
        )
        told = NotedStatement(f"called to the door, batch {batch} stands in its pail", area=piece.areas[0])
        self._state_at(ends + timedelta(seconds=20), told, self.mixer)
        poured = combined + (edge.likely - combined) * TOO_LATE_SHARE
        self._state_at(edge.likely + timedelta(seconds=10), SawStatement(sign="stringy", batch=batch), self.roller)
        heard = edge.early + HEARD_AFTER
        if heard < poured - HEARD_AFTER:
            self._plan(heard, lambda _: self._hear())
        return poured

    def _hear(self) -> None:
        self.stage.tell(f"{self.roller}, on the phone in the bag: touches Heard.")
        self.stage.state(HeardStatement(), self.roller)

    def _spread(self, work: CoatWork, piece: BatchPiece, batch: int, poured: datetime) -> None:
        """Plan squeegee, back-roll and flake after the pour, and note when each person is free."""
        spread = poured + timedelta(seconds=work.squeegee_s_m2 * piece.size_m2)
        free = spread if self.alone else max(self.roller_free, poured + (spread - poured) / 3)
        begins = free
        if work.roll_s_m2 is not None:
            together = len(piece.rolled_by) > 1
            begins = max(begins, spread) if together else begins  # the second of them spreads first
            rolling = timedelta(seconds=rolling_s_m2(self.site, work, piece) * piece.size_m2)
            free = max(begins + rolling, spread)
            if together:
                self._plan(begins, lambda _: self._roll_together(batch, piece))
            self._state_at(free, RolledStatement(batch), self.roller)
            spread = free if together else spread
        if work.flake_s_m2 is not None:
            free = max(free, begins + timedelta(seconds=FLAKE_LAG_S))
            free += timedelta(seconds=work.flake_s_m2 * piece.size_m2)
            self._state_at(free, FlakedStatement(batch), self.roller)
        for step in work.acid_steps:
            free = self._acid_step(work, batch, step, max(free, poured))
        self.roller_free, self.mixer_free = free, (free if self.alone else spread)

    def _roll_together(self, batch: int, piece: BatchPiece) -> None:
        self.stage.tell(f"{' and '.join(piece.rolled_by)} roll batch {batch} side by side, as planned.")

    def _acid_step(self, work: CoatWork, batch: int, step: str, after: datetime) -> datetime:
        """An acid is neutralised in the middle of its time, not at its end."""
        rule = self._profile(work.coat).window(step)
        opens_s = rule.opens.points[0].span_s if rule and rule.opens else 0.0
        closes_s = rule.closes.points[0].span_s if rule and rule.closes else opens_s + 300.0
        at = after + timedelta(seconds=(opens_s + closes_s) / 2)
        self._state_at(at, DidStatement(step, batch), self.mixer)
        return at

    def _plan_next(self, place: int, number: int) -> None:
        work = self.works[place]
        if number + 1 < len(work.pieces):
            ahead_s = work.mixing_s + work.stand_s + POUR_S + work.squeegee_s_m2 * work.pieces[number + 1].size_m2 / 3
            begins = max(self.mixer_free, self.roller_free - timedelta(seconds=0.0 if self.alone else ahead_s))
            self._plan(begins + timedelta(seconds=SET_UP_S), lambda at: self._begin_batch(place, number + 1, at))
        elif place + 1 < len(self.works):
            done = max(self.roller_free, self.mixer_free) + timedelta(seconds=30)
            self._plan(done, lambda now: self._plan_coat(place + 1, now))

    def _plan_coat(self, place: int, now: datetime) -> None:
        """Plan the next coat for when the floor may be coated and the day has time for it."""
        below = self.works[place - 1].coat.name
        opens = [
            track.opens.edge.safe_open
            for track in self.stage.tracks()
            if track.name == RECOAT and track.batch.coat == below and track.opens is not None
        ]
        at = next_working_instant(self.site, max([now, *opens]) + timedelta(minutes=5))
        needed = self._needed(self.works[place])
        if not is_working(self.site, at + needed):
            tomorrow = next_working_instant(self.site, at + timedelta(hours=12))
            at = tomorrow if is_working(self.site, tomorrow) else at
        if at - now > timedelta(hours=8):
            self._go_through("evening", EVENING)
        self._plan(at, lambda when: self._begin_coat(place, when))

    def _go_through(self, name: str, answers: Sequence[tuple[str, str]]) -> None:
        """Answer a round's questions as far as this crew does; the rest stays not recorded."""
        for item, answer in answers:
            self.stage.state(VERBS[name].told({"item": item, "answer": answer}), self.mixer)

    def _needed(self, work: CoatWork) -> timedelta:
        per_m2_s = work.squeegee_s_m2 + (work.roll_s_m2 or 0.0) + (work.flake_s_m2 or 0.0)
        return timedelta(seconds=sum(piece.size_m2 for piece in work.pieces) * per_m2_s)

    def _read(self, now: datetime, every: timedelta = timedelta()) -> None:
        """Read the thermometer, now or when the last reading is too old."""
        if self._read_at is not None and now - self._read_at < every:
            return
        self._read_at = now
        seen = conditions_at(self.site, now)
        self.stage.state(ReadingStatement(air_c=seen.air_c, rh_pct=seen.rh_pct, slab_c=seen.slab_c), self.mixer)

    def _profile(self, coat: Coat) -> Profile:
        return self.script.profiles[coat.product.casefold()]

    def _in_order(self) -> list[Any]:
        """The coats from the floor up."""
        left = list(self.site.coats)
        ordered: list[Any] = []
        while left:
            done = {coat.name for coat in ordered}
            ready = next((coat for coat in left if coat.after is None or coat.after in done), left[0])
            left.remove(ready)
            ordered.append(ready)
        return ordered


def _name(person: Any) -> str:
    return person.name if person is not None else "crew"
