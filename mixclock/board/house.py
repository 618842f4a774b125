"""What the board asks of the house, and states to it. `joining` fits the real house to it; the tests fit a fake."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, Protocol

from mixclock.job.statements import Statement
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass, field


class RefusedError(ValueError):
    """A statement that cannot be taken: one line that says what is wrong and how to mend it."""


@dataclass(frozen=True)
class TapAnswer:
    """A statement that is safely in the book: its entry, its words, and the cautions that go with it."""

    entry: int
    said: str
    batch: int | None = None
    look_out: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()


@dataclass(frozen=True)
class CoatChoice:
    """A coat that can be mixed on this job, with all that a phone needs to offer it."""

    name: str
    product: str
    volume_l: float | None = None
    mass_kg: float | None = None
    areas: tuple[str, ...] = ()


@dataclass(frozen=True)
class ComingBatch:
    """A batch that the plan has next and that nobody has mixed yet."""

    product: str
    areas: tuple[str, ...]
    volume_l: float | None = None
    mass_kg: float | None = None
    coat: str | None = None
    who: str | None = None
    start: datetime | None = None
    grit: str | None = None
    """The grit that is weighed into it, in words."""


@dataclass(frozen=True)
class Floor:
    """The parts of the job file that the page offers as choices."""

    job: str | None = None
    zone: str = "UTC"
    areas: tuple[str, ...] = ()
    crew: tuple[str, ...] = ()
    coats: tuple[CoatChoice, ...] = ()
    units: CrewUnits = METRIC_CREW
    twelve_hours: bool = False
    month_first: bool = False


@dataclass(frozen=True)
class RecentStatement:
    """A statement made a while ago, for the list from which it can be withdrawn."""

    entry: int
    said: str
    at: datetime
    by: str | None = None
    withdrawn: bool = False


@dataclass(frozen=True)
class FirstWord:
    """A statement as every phone draws it the moment it is in the book, before anything is worked out of it."""

    job: str
    told: Mapping[str, Any]


@dataclass(frozen=True)
class Along:
    """What goes along with a statement: settings that are written with it or not at all, and who hears of it first."""

    settings: Mapping[str, str] = field(default_factory=dict)
    heard: Callable[[FirstWord], None] | None = None


ALONE = Along()


@dataclass(frozen=True)
class RunningCup:
    """A running test cup. Its begin is its name, which stays the same when another cup is dropped."""

    began: datetime
    product: str
    lot: str
    last_c: float | None = None


@dataclass(frozen=True)
class CupStatement:
    """What was read or seen of a test cup."""

    began: datetime
    temp_c: float | None = None
    sign: str | None = None


@dataclass(frozen=True)
class Photo:
    """A picture from a phone: a small copy, and the hash of the original, which stays on the phone."""

    name: str
    sha256: str
    small: bytes
    area: str | None = None
    batch: int | None = None


class DoorHouse(Protocol):
    """What the doors beside the page ask of the house. Only the house's own thread may call it."""

    def calendar(self, now: datetime) -> bytes | None:
        """The dates of the job in use (RFC 5545); None where there is no job."""

    def take_reading(self, told: Mapping[str, Any], now: datetime) -> Mapping[str, Any]:
        """Put a sensor's reading into the book, or raise `RefusedError`."""

    def take_photo(self, photo: Photo, at: datetime, by: str | None) -> TapAnswer:
        """Put a picture into the book, or raise `RefusedError`."""


class BoardHouse(Protocol):
    """The job as the board sees it. Only one thread, always the same, may call it."""

    def snapshot(self, now: datetime) -> Mapping[str, Any]:
        """What `now --json` answers."""

    def version(self) -> int:
        """A number that changes whenever anything was written to the book, by whomever."""

    def is_still(self) -> bool:
        """Whether nothing was written since `version` was last asked for. Any thread may ask; after a no, ask that."""

    def jobs(self) -> Sequence[str]:
        """The jobs that are under way."""

    def of_job(self, name: str | None) -> BoardHouse:
        """The same house with this job in view instead of the one in use; itself for None. Raises `RefusedError`
        for a job that is not under way."""

    def floor(self) -> Floor:
        """Areas, crew and coats of the job in use."""

    def office(self, now: datetime, trouble: str) -> str:
        """A page of all jobs under way, with any trouble of the laptop's own."""

    def planned_next(self, now: datetime) -> Sequence[ComingBatch]:
        """The next batches by the plan, soonest first; empty without a plan."""

    def next_kit(self, now: datetime) -> Mapping[str, Any] | None:
        """Whether the next kit may be opened, as `next --json` answers; None where no job is under way."""

    def rounds(self, now: datetime) -> Mapping[str, Any]:
        """The questions of `ready`, `evening` and `morning`, each with its answers as statements."""

    def ask_next_kit(self, now: datetime, by: str | None) -> Mapping[str, Any]:
        """The same. The book keeps the question, so that it is asked again by itself until part B goes in."""

    def recent(self, now: datetime) -> Sequence[RecentStatement]:
        """The latest statements of the crew, newest first."""

    def state(self, statement: Statement, at: datetime, by: str | None, along: Along = ALONE) -> TapAnswer:
        """Put a statement durably into the book, or raise `RefusedError` and change nothing.

        `along.heard` is told of it the moment it is there, before anything is worked out.
        """

    def stated_at(self, at: datetime, by: str | None) -> TapAnswer | None:
        """This person's entry of exactly this instant, if there is one."""

    def withdraw(self, entry: int, at: datetime, by: str | None) -> TapAnswer:
        """Withdraw an entry, or raise `RefusedError`."""

    def cups(self, now: datetime) -> Sequence[RunningCup]:
        """The test cups that are running, the oldest first; they need no job."""

    def state_cup(self, said: CupStatement, at: datetime) -> Sequence[str]:
        """Keep what was said of a cup and give the answer's lines, or raise `RefusedError`."""

    def setting(self, name: str) -> str | None:
        """A setting kept in the book."""

    def put_setting(self, name: str, value: str) -> None:
        """Keep a setting in the book, durably."""

    @property
    def doors(self) -> DoorHouse | None:
        """The doors beside the page; None where there are none."""

    def close(self) -> None:
        """Nobody asks any more."""
