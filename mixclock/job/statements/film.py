"""Statements about a film: rolled, flaked, any other step done, and that somebody is on a step."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from mixclock.job.candidates import described, in_the_bucket, step_done, the_one, waiting_for, where_it_lies
from mixclock.job.entry import Began, Did, Facts
from mixclock.job.naming import areas_named, batch_numbered, step_named
from mixclock.job.progress import Batch, Standing
from mixclock.job.saying import Attribution, CannotTellError, clock
from mixclock.job.statements.fields import TEXT, its_batch, on_areas, word
from mixclock.job.statements.statement import OnceStatement
from mixclock.job.steps import BACK_ROLL, BROADCAST, POUR_OUT, TAPE, Skill, row_of


class _OfABatch(OnceStatement):
    """A statement about a batch, or a part of what it covers."""

    ends: ClassVar[str] = ""
    """The step that it ends."""
    batch: int | None = its_batch(default=None)
    areas: tuple[str, ...] = on_areas(default=())

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The step is done."""
        return (_done(standing, said, self.ends, self.batch, self.areas),)


class RolledStatement(_OfABatch):
    """Back-rolling is finished."""

    verb: ClassVar[str] = "rolled"
    ends: ClassVar[str] = BACK_ROLL


class FlakedStatement(_OfABatch):
    """The flake is thrown."""

    verb: ClassVar[str] = "flaked"
    ends: ClassVar[str] = BROADCAST


class TapedStatement(_OfABatch):
    """An edge is taped: today ends there, and nobody is called to join it."""

    verb: ClassVar[str] = "taped"
    ends: ClassVar[str] = TAPE


class DidStatement(OnceStatement):
    """Any other step is finished, such as scraping or rinsing. The product's sheet must have a window for it."""

    verb: ClassVar[str] = "did"
    step: str = word(TEXT, "STEP", "The step, such as scrape, neutralise or rinse.")
    batch: int | None = its_batch(default=None)
    areas: tuple[str, ...] = on_areas(default=())

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The step is done."""
        if self.step.casefold().replace(" ", "-").replace("_", "-") == Skill.CUT_IN:
            return (self._cut_in(standing, said),)
        name = step_named(standing, self.step, _only(standing, self.batch))
        if name == POUR_OUT:
            raise CannotTellError("a bucket that was poured is stated with `poured [BATCH]`")
        return (_done(standing, said, name, self.batch, self.areas),)

    def _cut_in(self, standing: Standing, said: Attribution) -> Did:
        """The edge was cut in: before its field was poured, so no window waits for it."""
        places = areas_named(standing, self.areas)
        if self.batch is not None:
            meant = batch_numbered(standing, self.batch)
        else:
            begun = [batch for batch in standing.batches if batch.combined.at <= said.when]
            here = [batch for batch in begun if not places or set(places) & set(where_it_lies(batch))]
            meant = the_one(standing, here[-1:], "no batch was begun by then; say which with `did cut-in BATCH`")
        return Did(Skill.CUT_IN, meant.id, places or where_it_lies(meant))


class BeganStatement(DidStatement):
    """Somebody has begun a step: mixclock stays quiet about it until it must be done."""

    verb: ClassVar[str] = "began"

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The step is under way."""
        name = step_named(standing, self.step, _only(standing, self.batch))
        places = areas_named(standing, self.areas)
        nothing = f"no batch waits for {name}; say its number if one does"
        if self.batch is not None:
            meant = batch_numbered(standing, self.batch)
        elif name == POUR_OUT:
            meant = the_one(standing, in_the_bucket(standing, said.when, places), nothing)
        else:
            meant = the_one(standing, waiting_for(standing, name, said.when, places), nothing)
        _refuse_done(standing, meant, name, places)
        _not_before_its_time(standing, said, meant, "begun")
        return (Began(name, meant.id, _lying_on(meant, places)),)


def _done(standing: Standing, said: Attribution, step: str, batch: int | None, areas: Sequence[str]) -> Did:
    places = areas_named(standing, areas)
    if batch is None:
        found = waiting_for(standing, step, said.when, places)
        if places and len(found) > 1 and all(each.portions for each in found):
            # everything on that floor was done together
            return Did(step, None, places)
        statement = row_of(step).statement or step
        meant = the_one(standing, found, f"no batch waits for it; say `{statement} BATCH` if one does")
    else:
        meant = batch_numbered(standing, batch)
        _refuse_done(standing, meant, step, places)
    _not_before_its_time(standing, said, meant, row_of(step).past)
    return Did(step, meant.id, _lying_on(meant, places))


def _only(standing: Standing, batch: int | None) -> Sequence[Batch]:
    return standing.batches if batch is None else (batch_numbered(standing, batch),)


def _lying_on(batch: Batch, places: tuple[str, ...]) -> tuple[str, ...]:
    there = where_it_lies(batch)
    wrong = [place for place in places if place not in there]
    if wrong:
        raise CannotTellError(f"batch {batch.id} lies on {' and '.join(there)}, not on {wrong[0]}; mend --on or BATCH")
    return places


def _refuse_done(standing: Standing, batch: Batch, step: str, places: tuple[str, ...]) -> None:
    done = step_done(batch, step, places)
    if done is not None:
        raise CannotTellError(
            f"batch {batch.id} was {row_of(step).past} at {clock(standing, done.at)}; `withdraw {done.entry}` first if "
            "that was wrong"
        )


def _not_before_its_time(standing: Standing, said: Attribution, batch: Batch, what: str) -> None:
    """Refuse a step on a film before its bucket was poured, or with a batch before it was mixed."""
    stated = [portion.poured.at for portion in batch.portions if portion.assumed is None]
    start, word = (min(stated), "poured") if stated else (batch.combined.at, "begun")
    if said.is_before(start):
        raise CannotTellError(
            f"{described(standing, batch)} was {word} at {clock(standing, start)}, so it cannot have been {what} at "
            f"{clock(standing, said.when)}; mend --at"
        )
