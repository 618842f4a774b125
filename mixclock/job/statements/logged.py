"""Statements about the log itself: an alert was heard, the job is finished, an entry was a mistake."""

from __future__ import annotations

from typing import ClassVar

from mixclock.job.drafts import Draft
from mixclock.job.entry import Entry, Facts, Heard, JobFinished, JobMended, JobStarted, Withdrawn
from mixclock.job.folding import site_of
from mixclock.job.mending import contradictions
from mixclock.job.mistakes import did_you_mean, quoted
from mixclock.job.origins import BY_MACHINE, is_said
from mixclock.job.progress import Standing
from mixclock.job.saying import Attribution, CannotTellError, checked, clock
from mixclock.job.statements.fields import ENTRY, NAMES, word
from mixclock.job.statements.statement import Statement
from mixclock.values import replace


class HeardStatement(Statement):
    """You heard a call: it is not repeated for a while."""

    verb: ClassVar[str] = "heard"
    from_a_phone: ClassVar[bool] = True
    alerts: tuple[str, ...] = word(
        NAMES, "[ALERT]", "The call's name, such as b3.pour-out. Without it, all that stand.", default=(), many=True
    )

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The alerts that were heard; without a name, all that stand."""
        known = standing.alerts_raised
        for alert in self.alerts:
            if alert not in known:
                raise CannotTellError(
                    f"no alert {quoted(alert)} was raised; "
                    + (did_you_mean(alert, sorted(known)) if known else "none was raised yet")
                )
        return (Heard(tuple(dict.fromkeys(self.alerts))),)


class FinishedStatement(Statement):
    """Nobody works on the job any more."""

    verb: ClassVar[str] = "finished"

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The end of the job."""
        if standing.finished is not None:
            raise CannotTellError(f"the job '{standing.job}' is finished already")
        return (JobFinished(),)


class WithdrawStatement(Statement):
    """A statement was a mistake: it stays visible and counts no more."""

    verb: ClassVar[str] = "withdraw"
    entry: int | None = word(
        ENTRY,
        "[N]",
        "The number of the entry. Without it, mixclock names the last one.",
        default=None,
        called="withdraw",
    )

    def drafts(self, standing: Standing, said: Attribution) -> tuple[Draft, ...]:
        """The withdrawal. Without a number nothing is taken: the last statement (of whoever is named) is named."""
        said = checked(standing, said)
        if self.entry is None:
            last = _last_statement(standing, said.by)
            raise CannotTellError(
                f"the last was entry {last.number}, {_named(standing, last)}: `withdraw {last.number}` takes it"
            )
        meant = _entry_numbered(standing, self.entry)
        if isinstance(meant.facts, BY_MACHINE):
            raise CannotTellError(f"entry {meant.number} was written by mixclock itself ({meant.facts.kind}); it stays")
        if isinstance(meant.facts, JobStarted):
            raise CannotTellError("the start of a job cannot be withdrawn; choose another with `mixclock job use NAME`")
        if meant.number in standing.withdrawn:
            raise CannotTellError(f"entry {meant.number} does not count any more; `mixclock record` shows what does")
        gone = Draft(Withdrawn(meant.number), said.now, said.by, said.note)
        if isinstance(meant.facts, JobMended | Withdrawn):
            _refuse_contradiction(standing, meant)
        return (gone,)


def _named(standing: Standing, entry: Entry) -> str:
    """An entry in a few words: what it was, of which batch or place, when and by whom."""
    facts = entry.facts
    batch, area = getattr(facts, "batch", None), getattr(facts, "area", None)
    about = f" batch {batch}" if batch is not None else f" {area}" if area else ""
    by = f" by {entry.by}" if entry.by else ""
    return f"{facts.kind}{about} at {clock(standing, entry.happened)}{by}"


def _refuse_contradiction(standing: Standing, meant: Entry) -> None:
    """Refuse to withdraw a mended job file that later statements need: the job would go back to a file that does not
    know them."""
    last = max(standing.entries, key=lambda each: each.number)
    without = replace(last, origin=None, number=last.number + 1, facts=Withdrawn(meant.number))
    wrong = contradictions(standing, site_of((*standing.entries, without)))
    if wrong:
        raise CannotTellError(
            f"entry {meant.number} cannot be withdrawn, the job would go by its file as it was: {wrong[0].what}"
        )


def _last_statement(standing: Standing, by: str | None) -> Entry:
    for entry in sorted(standing.live(), key=lambda each: -each.number if each.origin is None else 0):
        mine = by is None or entry.by == by
        if mine and entry.origin is None and is_said(entry) and not isinstance(entry.facts, JobStarted | Withdrawn):
            return entry
    raise CannotTellError("there is nothing to withdraw" + (f" that {by} stated" if by else ""))


def _entry_numbered(standing: Standing, number: int) -> Entry:
    for entry in standing.entries:
        if entry.number == number:
            return entry
    last = max((entry.number for entry in standing.entries), default=0)
    raise CannotTellError(
        f"this job has no entry {number} (the last is {last}); each statement answers with its number"
    )
