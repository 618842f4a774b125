"""Finds the job that is meant: the one that `--job` or `MIXCLOCK_JOB` names, else the only one possible."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta

from mixclock.job.drafts import Draft
from mixclock.job.mistakes import NAMED_AT_MOST, did_you_mean, plain_name, quoted
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import refuse_for_reading

LIVE_FOR = timedelta(days=60)
"""If nobody states anything of a job for so long, only the screens show it, and only a statement that names the job
means it (judgement)."""

Taken = Callable[[str], Sequence[Draft]]
"""What a statement would add to a job of that name; refused with a `ValueError` where the job cannot take it."""


class WhichJob:
    """The job that one command, or one phone, means."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._named: str | None = None

    def choose(self, name: str | None) -> None:
        """Mean this job wherever none is named. Refused where the book has none of that name."""
        self._named = job_named(self._book, name) if name is not None and name.strip() else None

    def asked(self) -> str | None:
        """The job that is asked about: the one named, else the one in use."""
        return self._named or self._book.current_job()

    def live(self) -> list[str]:
        """The jobs of ours that are under way, the one started last at the end."""
        since = self._book.clock.now() - LIVE_FOR
        return [line.name for line in self._book.open_jobs() if line.own and line.stated > since]

    def others_live(self, job: str) -> list[str]:
        """The jobs that are under way beside one: where there are any, an answer says which job it is about."""
        return [name for name in self.live() if name != job]

    def candidates(self) -> list[str]:
        """The jobs that a statement may be meant for, before anybody looks at what it says."""
        if self._named is not None:
            return [self._named]
        chosen = self._book.chosen_job()
        found = list(dict.fromkeys([*self.live(), *([chosen] if chosen else [])]))
        here = None if found else self._book.current_job()
        return [here] if here is not None else found

    def settle(self, has: Callable[[str], bool] = lambda _: True) -> None:
        """Mean from now on the only job under way that can be asked about. Refused where several can.

        `has` tells whether a job has what is asked for. A job that was named or chosen stays the one.
        """
        if self._named is not None or self._book.chosen_job() is not None:
            return
        found = [name for name in self.live() if has(name)]
        if len(found) > 1:
            raise CannotTellError(_which_of(dict.fromkeys(found, ())))
        if found:
            self._named = found[0]

    def first_meant(self) -> list[str]:
        """The job that is meant before any other: the one named or chosen, else every one that may be."""
        chosen = self._named or self._book.chosen_job()
        return [chosen] if chosen else self.candidates()

    def stated(self, taken: Taken) -> str:
        """The only job that a statement can be meant for.

        Where two jobs can be meant nobody guesses, unless a person chose one of them with `job use`.
        """
        candidates = self.candidates()
        if not candidates:
            raise no_job(self._book)
        if len(candidates) == 1:
            refuse_for_reading(candidates[0], self._book.is_for_reading(candidates[0]))
            return candidates[0]
        chosen = self._book.chosen_job()
        can, refusals = _tried([chosen] if chosen is not None else candidates, taken)
        if chosen in can:
            return str(chosen)
        if chosen is not None:
            can, others = _tried([name for name in candidates if name != chosen], taken)
            refusals.update(others)
        if not can:
            here = self.asked()
            raise CannotTellError(
                f"job {quoted(str(here))}: {refusals.get(str(here)) or next(iter(refusals.values()))}"
            )
        if len(can) == 1:
            return next(iter(can))
        raise CannotTellError(_which_of(can))

    def to_finish(self) -> str:
        """The job that somebody says is finished. A chosen job is never passed over for another."""
        return self._named or self._book.chosen_job() or self.stated(lambda _: ())


def _which_of(can: Mapping[str, Sequence[Draft]]) -> str:
    listed = "; ".join(f"--job {quoted(name)}{_about(drafts)}" for name, drafts in can.items())
    return f"{len(can)} jobs can be meant, say which: {listed}"


def no_job(book: Book) -> CannotTellError:
    """The error that no job of ours is under way, which says how to begin one, or which job of others to name."""
    others = [line.name for line in book.open_jobs() if not book.is_for_reading(line.name)]
    if others:
        said = ", ".join(f"--job {quoted(name)}" for name in reversed(others[-NAMED_AT_MOST:]))
        return CannotTellError(f"no job of this book is under way; name one that was taken in: {said}")
    return CannotTellError("no job is under way; start one with `mixclock job start FILE`")


def job_named(book: Book, name: str) -> str:
    """The job of that name, without regard to case and spaces. Refused where there is none."""
    if book.last_number(name):
        return name
    known = [line.name for line in book.all_jobs()]
    found = next((each for each in known if plain_name(each) == plain_name(name)), None)
    if found is None:
        others = did_you_mean(name, reversed(known), "`mixclock job list` shows all, the newest are: ")
        raise CannotTellError(f"no job {quoted(name)} in the book; {others}")
    return found


def _tried(candidates: Sequence[str], taken: Taken) -> tuple[dict[str, Sequence[Draft]], dict[str, str]]:
    """The entries that the statement would add to each job that can take it, and why the others cannot."""
    from mixclock.outside.profilefiles import ProfileFileError

    can: dict[str, Sequence[Draft]] = {}
    refusals: dict[str, str] = {}
    for name in candidates:
        try:
            can[name] = taken(name)
        except (ValueError, ProfileFileError) as refusal:
            refusals[name] = str(refusal)
    return can, refusals


def _about(drafts: Sequence[Draft]) -> str:
    """The batch or place of that job that the statement would be about."""
    facts = drafts[-1].facts if drafts else None
    batch, place = getattr(facts, "batch", None), getattr(facts, "area", None) or ""
    said = f"batch {batch}" if batch is not None else place or " and ".join(getattr(facts, "areas", ()))
    return f" ({said})" if said else ""
