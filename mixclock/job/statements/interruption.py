"""Statements about the crew itself: called away, back, a later visit, and that a finding was put right."""

from __future__ import annotations

from typing import ClassVar

from mixclock.job.dayentries import BackAtWork, Settled, StoppedWork, Visited
from mixclock.job.entry import Entry, Facts, Found
from mixclock.job.naming import area_named
from mixclock.job.progress import Standing
from mixclock.job.saying import Attribution, CannotTellError, clock, text
from mixclock.job.statements.fields import ENTRY, TEXT, option, word
from mixclock.job.statements.statement import Statement

NOTHING_FOUND = "sound"


class StoppedStatement(Statement):
    """You are called away: mixclock says what to save first, and in which order."""

    verb: ClassVar[str] = "stopped"
    from_a_phone: ClassVar[bool] = True
    of_all: ClassVar[bool] = True
    why: str = word(TEXT, "[WHY]", "What calls you away, such as telephone.", default="", many=True)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The interruption."""
        return (StoppedWork(text(self.why, "why") if self.why else ""),)


class BackStatement(Statement):
    """Back at work: what went by meanwhile is counted again."""

    verb: ClassVar[str] = "back"
    from_a_phone: ClassVar[bool] = True
    of_all: ClassVar[bool] = True

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The return."""
        if away_since(standing) is None:
            raise CannotTellError("nobody stated that they were called away: `stopped` says so, also with --ago")
        return (BackAtWork(),)


def away_since(standing: Standing) -> Entry | None:
    """The interruption that nobody came back from yet."""
    for entry in reversed(standing.live()):
        if isinstance(entry.facts, BackAtWork):
            return None
        if isinstance(entry.facts, StoppedWork):
            return entry
    return None


class VisitStatement(Statement):
    """A call-back: a later visit to a floor that was handed over. It belongs to its old job, which is open again."""

    verb: ClassVar[str] = "visit"
    from_a_phone: ClassVar[bool] = True
    why: str = word(TEXT, "[WHY]", "What for, such as 'edge has lifted'.", default="", many=True)

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The visit."""
        if standing.finished is None:
            raise CannotTellError(
                f"the job '{standing.job}' is not finished: what you do now belongs to it, so state that"
            )
        return (Visited(text(self.why, "why") if self.why else ""),)


class FixedStatement(Statement):
    """A finding was put right: how, in your own words. The owner's sheet says so."""

    verb: ClassVar[str] = "fixed"
    from_a_phone: ClassVar[bool] = True
    area: str = word(TEXT, "AREA", "The area.")
    how: str = word(TEXT, "HOW", "What was done, such as 'edge cut back, primed, coated with lot 7A'.", many=True)
    finding: int | None = option(
        ENTRY, "--finding", "N", "The entry of the finding, where there are several.", default=None
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The repair, tied to the finding that it closes."""
        area = area_named(standing, self.area)
        assert area is not None
        finding = self._finding(standing, area, said)
        return (Settled(area, text(self.how, "how"), finding.number),)

    def _finding(self, standing: Standing, area: str, said: Attribution) -> Entry:
        found = [entry for entry in standing.live() if isinstance(entry.facts, Found) and entry.facts.area == area
                 and entry.facts.symptom != NOTHING_FOUND and entry.happened <= said.when]  # fmt: skip
        if self.finding is not None:
            found = [entry for entry in found if entry.number == self.finding]
        if not found:
            raise CannotTellError(
                f"nothing was found on {area} by {clock(standing, said.when)}; state it with `found` first"
            )
        return found[-1]
