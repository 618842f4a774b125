"""A fact on its way into the log, before the book gives it a number."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime

from mixclock.job.entry import Combined, Facts, ProfileUsed
from mixclock.job.progress import Standing
from mixclock.job.steppedclock import LogTime
from mixclock.values import dataclass, replace


@dataclass(frozen=True)
class Draft:
    """Facts with the instant at which they happened (UTC). Without one they happened when they are written."""

    facts: Facts
    happened: datetime | None = None
    by: str | None = None
    note: str | None = None


def by_the_machine(drafts: Sequence[Draft], time: LogTime) -> Sequence[Draft]:
    """The same draft in the time of the machine's clock. Entries carry that time, even if the clock is behind the
    log."""
    if not time.is_doubted:
        return drafts
    return [replace(each, happened=each.happened - time.behind) if each.happened else each for each in drafts]


def profiles_used(standing: Standing, drafts: Iterable[Draft], profile_text: str, origin: str) -> Sequence[Draft]:
    """The text of the profile that a batch uses for the first time, as it stands now.

    It is dated from the start of the job. So a batch that was mixed earlier and is stated later still finds it.
    """
    used = []
    for draft in drafts:
        facts = draft.facts
        if isinstance(facts, Combined) and facts.product.casefold() not in standing.profile_texts:
            first = min(filter(None, (draft.happened, standing.entries[0].happened)))
            used.append(Draft(ProfileUsed(facts.product, profile_text, origin), first))
    return used
