"""What every statement carries (when, who, a note), and the one way to refuse it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mixclock.job.mistakes import near, one_line
from mixclock.job.progress import Standing
from mixclock.job.steppedclock import STEP_FROM_S
from mixclock.units import write_clock
from mixclock.values import dataclass, replace

LONGEST_TEXT = 2000
OLDEST_BEFORE_JOB = timedelta(days=366)
"""If a statement is dated further than this before the start of its job, its year is wrong (judgement)."""

_ALMOST_THE_SAME = 0.85


class CannotTellError(ValueError):
    """Raised if a statement cannot be taken as it was said: one line that says what, where and how to mend it."""


@dataclass(frozen=True)
class Attribution:
    """When a statement is made (`now`), when it happened if not now (`at`), by whom, and a note."""

    now: datetime
    at: datetime | None = None
    by: str | None = None
    note: str | None = None

    @property
    def when(self) -> datetime:
        """When it happened."""
        return self.at if self.at is not None else self.now

    def is_before(self, start: datetime) -> bool:
        """Whether it happened before something that must come first. A difference as small as a clock's correction is
        no mistake."""
        return (start - self.when).total_seconds() > STEP_FROM_S

    def dated(self, at: datetime) -> Attribution:
        """The same attribution, of something that happened at another instant."""
        return replace(self, at=at)


def checked(standing: Standing, said: Attribution) -> Attribution:
    """The statement's time, person and note, checked: not in the future, and nobody misspelt."""
    when = said.when.astimezone(UTC)
    if when > said.now:
        raise CannotTellError(
            f"{day_and_clock(standing, when, said.now)} is still to come, it is {clock(standing, said.now)}; "
            "state what has happened"
        )
    started = standing.entries[0].happened if standing.entries else said.now
    if when < started - OLDEST_BEFORE_JOB:
        raise CannotTellError(f"{when:%Y-%m-%d} is long before this job began on {started:%Y-%m-%d}; mend the date")
    return Attribution(said.now, when, _person(standing, said.by), text(said.note, "the note") if said.note else None)


def clock(standing: Standing, at: datetime) -> str:
    """A time of day on the crew's wall."""
    return write_clock(at, standing.site.wall)


def day_and_clock(standing: Standing, at: datetime, now: datetime) -> str:
    """A time of day, with its date where that is not today's."""
    zone = standing.site.wall
    there = at.astimezone(zone)
    day = "" if there.date() == now.astimezone(zone).date() else f"{there:%Y-%m-%d} "
    return f"{day}{write_clock(at, zone)}"


def text(said: str, what: str) -> str:
    """A person's words on one line, without what cannot be printed; refused if nothing is left."""
    plain = " ".join(one_line(said.encode("utf-8", "replace").decode("utf-8")).split())
    if not plain:
        raise CannotTellError(f"{what} is empty; say something, or leave it out")
    if len(plain) > LONGEST_TEXT:
        raise CannotTellError(f"{what} is {len(plain)} letters long; {LONGEST_TEXT} is the most, a photo may say more")
    return plain


def _person(standing: Standing, by: str | None) -> str | None:
    """The person as the job file spells them. Others may lend a hand, but a name that looks misspelt is refused with a
    question."""
    if by is None:
        return None
    name = text(by, "--by")
    crew = {person.name.casefold(): person.name for person in standing.site.crew}
    if name.casefold() in crew:
        return crew[name.casefold()]
    meant = near(name, crew.values(), _ALMOST_THE_SAME)
    if meant is not None:
        raise CannotTellError(f"nobody of the crew is called '{name}'; did you mean '{meant}'?")
    return name
