"""A job file that somebody mends after its job began: which changes would contradict earlier statements.

A size, a film, a forecast or another working day may change at any time. Names in use stay. An area, coat or vessel
that a statement is about cannot go, and a coat that was laid keeps its product.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from mixclock.job.candidates import where_it_lies
from mixclock.job.drafts import Draft
from mixclock.job.entry import JobMended
from mixclock.job.mistakes import Mistake, Mistakes
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import Attribution, CannotTellError, checked
from mixclock.job.site import Site

PUT_BACK = "put it back as it was"


def mended(
    standing: Standing, said: Attribution, *, site: Site, text: str, origin: str, changed: Sequence[str]
) -> tuple[Draft, ...]:
    """The job goes by another text of its file; raises `Mistakes` if that contradicts earlier statements."""
    said = checked(standing, said)
    wrong = contradictions(standing, site)
    if wrong:
        raise Mistakes(wrong)
    if not changed:
        raise CannotTellError(f"{origin}: the job goes by all of this already; mend the file first, then say it again")
    return (Draft(JobMended(text, origin, tuple(changed)), said.when, said.by, said.note),)


def contradictions(standing: Standing, site: Site) -> tuple[Mistake, ...]:
    """What is impossible in a mended file, one line each; none if the job may go by it.

    A statement that does not fit the present file either is no reason to refuse the new one.
    """
    known = set(_contradictions(standing, standing.site))
    return tuple(wrong for wrong in _contradictions(standing, site) if wrong not in known)


def _contradictions(standing: Standing, site: Site) -> Iterator[Mistake]:
    if site.name != standing.site.name:
        yield Mistake("name", f"it names the job '{site.name}', this one is '{standing.site.name}'", "keep the name")
    for area, why in _spoken_of(standing).items():
        if site.area(area) is None:
            yield Mistake("areas", f"'{area}' is gone, but {why}", PUT_BACK)
    for batch in standing.batches:
        yield from _of_batch(batch, site)


def _spoken_of(standing: Standing) -> dict[str, str]:
    """The areas that live statements are about, each with the first such statement. Statements of film come before
    readings."""
    told = {area: f"batch {batch.id} is there" for batch in reversed(standing.batches) for area in where_it_lies(batch)}
    for entry in standing.live():
        for area in (*getattr(entry.facts, "areas", ()), *_one(getattr(entry.facts, "area", None))):
            told.setdefault(area, f"entry {entry.number} ({entry.facts.kind}) is about it")
    return {area: why for area, why in told.items() if standing.site.area(area) is not None}


def _one(area: str | None) -> Iterable[str]:
    return () if area is None else (area,)


def _of_batch(batch: Batch, site: Site) -> Iterator[Mistake]:
    coat = site.coat(batch.coat) if batch.coat is not None else None
    if batch.coat is not None and coat is None:
        yield Mistake("coats", f"'{batch.coat}' is gone, but batch {batch.id} is of it", PUT_BACK)
    if coat is not None and coat.product.casefold() != batch.product.casefold():
        laid = f"batch {batch.id} of '{coat.name}' is {batch.product}"
        yield Mistake("coats", f"'{coat.name}' is {coat.product} now, but {laid}", "write another coat for the new one")
    for area in where_it_lies(batch):
        if coat is not None and not coat.goes_on(area):
            yield Mistake("coats", f"'{coat.name}' is not for {area} any more, but batch {batch.id} is there", PUT_BACK)
    if batch.vessel is not None and site.vessel(batch.vessel) is None:
        yield Mistake("vessels", f"'{batch.vessel}' is gone, but batch {batch.id} was mixed in it", PUT_BACK)
