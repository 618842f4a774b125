"""Keeps what was seen of a product in every job, so that a cold command need not read the jobs again.

A job's observations are kept with the number of the last entry that they rest on. A later entry that could change them
makes them be drawn anew; so does another text of the profile. Only jobs in which somebody saw a sign are looked at.
`flush` writes the new ones in one go, because a statement asks from inside its own transaction.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence, Set
from contextlib import suppress
from dataclasses import asdict
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Final

from mixclock import __version__
from mixclock.decide.buckets import BucketModel
from mixclock.decide.learn import EdgeObservation, factors_to_log, learned_factors, observations_of
from mixclock.decide.remembered import PHYSICS
from mixclock.job.drafts import Draft
from mixclock.job.entry import TOLD_BY_MACHINE, Combined, Entry, FactorDropped, FactorUsed, Saw, Unreadable
from mixclock.job.folding import fold
from mixclock.job.instants import utc_from, utc_text
from mixclock.job.naming import one_of
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bucketmemory import BookMemory
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.outside.profilefiles import FoundProfile

DRAWER: Final = "lessons"

ALL_JOBS: Final = "\x1fall jobs:"
"""No job can have this name, for it does not print."""

DRAW_FOR_S: Final = 3.0
"""So long a book whose jobs were never asked is drawn from when somebody asks, the newest first; the rest later."""

DRAWN_AT_ONCE: Final = 8
"""So many jobs are drawn from in a statement, however long that takes; the rest of a long book waits for a question."""

KEPT_AS: Final = 3
"""Raised whenever an observation is kept in another shape."""

TEACHES_NOTHING = (
    *TOLD_BY_MACHINE,
    *("heard", "noted", "measured", "photo", "traffic", "found", "began"),
    *("job finished", "profile used", "factor used", "combined"),
)
"""Kinds of entries that change no observation made before them; every other kind has them drawn anew."""


class Lessons:
    """The observations of the book."""

    def __init__(self, book: Book, bucket_model: BucketModel, memory: BookMemory) -> None:
        """`memory` is the memory that the bucket model uses too."""
        self._book = book
        self._bucket_model = bucket_model
        self._memory = memory
        self._fresh: dict[str, Any] = {}
        self.left_out = 0
        self._draw_for_s = 0.0

    def seen(self, profile: Profile, text: str, standing: Standing | None = None) -> tuple[EdgeObservation, ...]:
        """All that was seen of a product, against this text of its profile. `standing` is a job that is folded already.

        Observations stand by the name of their job, then in the order in which they were seen. One in a job and in its
        copy counts once. If it is withdrawn in either, it does not count.
        """
        here = standing.job if standing is not None else ""
        others, gone = self._of_others(profile, text, here)
        found = list(others)
        if standing is not None:
            gone = {*gone, *_withdrawn_signs(standing)}
            if any(batch.signs for batch in standing.batches):
                found += self._seen_in(here, profile, text, standing) or ()
                found.sort(key=lambda seen: seen.job)
        counted = [seen for seen in found if not seen.mark or seen.mark not in gone]
        return tuple({(seen.mark or seen, seen.window): seen for seen in reversed(counted)}.values())[::-1]

    def _of_others(self, profile: Profile, text: str, here: str) -> tuple[Sequence[EdgeObservation], Set[str]]:
        """What was seen in all other jobs, kept as one piece, so that a cold batch reads no other job.

        With it come the marks of the signs that were withdrawn there.
        """
        rests_on = [__version__, PHYSICS, KEPT_AS, here, *self._book.teaching(here)]
        key = f"{ALL_JOBS}{profile.name.casefold()}:{sha256(text.encode()).hexdigest()}"
        with suppress(BookError, ValueError, KeyError, TypeError, AttributeError):
            kept = self._fresh.get(key) or self._book.drawers.kept(DRAWER, key)
            if kept is not None and kept["rests_on"] == rests_on:
                return [seen for job, rows in kept["seen"] for seen in _restored(job, rows)], set(kept["gone"])
        gone = set[str]()
        found: dict[str, Sequence[EdgeObservation]] = {}
        begun_s, self.left_out = self._book.clock.monotonic_s(), 0
        for job in self._book.jobs_with_signs():
            if job == here or self._book.is_for_reading(job):  # a copy without names moves no deadline
                continue
            # a damaged log of another job teaches nothing, and must not keep this crew from mixing
            with suppress(BookError, ValueError):
                drawn = len(self._fresh)
                in_time = drawn < DRAWN_AT_ONCE or self._book.clock.monotonic_s() - begun_s < self._draw_for_s
                seen = self._seen_in(job, profile, text, None, in_time)
                self.left_out += seen is None
                found[job] = seen or ()
                gone.update(self._gone_in(job))
        if not self.left_out:
            rows = [[job, [_stored(each) for each in found[job]]] for job in sorted(found) if found[job]]
            self._fresh[key] = {"rests_on": rests_on, "seen": rows, "gone": sorted(gone)}
        return [seen for job in sorted(found) for seen in found[job]], gone

    def factors_for(self, drafts: Iterable[Draft], standing: Standing, text: str | None) -> list[Draft]:
        """What was learned of the products that are mixed now, unless their job's log holds it already.

        `text` is a profile that the job uses for the first time. The standing's shelf holds it already.
        """
        due = []
        for draft in drafts:
            product = draft.facts.product if isinstance(draft.facts, Combined) else ""
            profile = standing.profile(product)
            sheet = standing.profile_texts.get(product.casefold(), text)
            if profile is not None and sheet is not None:
                due += [Draft(used, draft.happened) for used in self._to_log(profile, sheet, standing)]
        return due

    def _to_log(self, profile: Profile, text: str, standing: Standing) -> list[FactorUsed]:
        """The factors of a product that the job's log needs before its next batch."""
        name = profile.name.casefold()
        logged = {window: used for (of, window), used in standing.factors.items() if of == name}
        known = {window: each for (_, window), each in learned_factors(self.seen(profile, text, standing)).items()}
        return factors_to_log(profile.name, known, logged)

    def known_to(self, standing: Standing, products: Iterable[FoundProfile]) -> Standing:
        """The job as if a batch of each product were mixed now, for a plan of batches to come."""
        factors = dict(standing.factors)
        for product in products:
            for used in self._to_log(product.profile, product.text, standing):
                factors[(used.product.casefold(), used.window)] = used
        return replace(standing, factors=factors)

    def around(self, entry: Entry, standing: Standing) -> tuple[EdgeObservation, ...]:
        """All that was seen of the products on which a statement reports a sign, that sign included."""
        products = dict.fromkeys(
            batch.product
            for batch in standing.batches
            if any(sign.stated.entry == entry.number for sign in batch.signs)
        )
        found: list[EdgeObservation] = []
        for product in products:
            profile, text = standing.profile(product), standing.profile_texts.get(product.casefold())
            if profile is not None and text is not None:
                found += self.seen(profile, text, standing)
        return tuple(found)

    def flush(self) -> None:
        """Write what was drawn anew. If the book cannot be written to just now, it will be drawn again."""
        fresh, self._fresh = self._fresh, {}
        with suppress(BookError):
            for job, lessons in fresh.items():
                self._book.drawers.keep(DRAWER, job, lessons)
        self._memory.flush()

    def of(self, product: FoundProfile) -> tuple[EdgeObservation, ...]:
        """All that was seen of a product, against its sheet as it stands now."""
        self._draw_for_s = DRAW_FOR_S
        seen = self.seen(product.profile, product.text)
        self.flush()
        self._draw_for_s = 0.0
        return seen

    def drop(
        self, product: FoundProfile, window: str | None, by: str | None = None
    ) -> dict[str, tuple[EdgeObservation, ...]]:
        """Stop using what was seen of a window, or of all. Gives what is dropped, by window.

        The log of each job with such an observation notes it, so that a job takes it along to another book. Raises
        `CannotTellError` where nothing was learned.
        """
        held = [seen for seen in self.of(product) if not seen.dropped]
        name = product.profile.name
        windows = list(dict.fromkeys(seen.window for seen in held))
        if not windows:
            raise CannotTellError(f"nothing has been learned of {name}, so there is nothing to drop")
        meant = [one_of(window, windows, f"learned window of {name}")] if window is not None else windows
        for job in dict.fromkeys(seen.job for seen in held if seen.window in meant):
            own = [each for each in meant if any(seen.job == job and seen.window == each for seen in held)]
            drafts = [Draft(FactorDropped(name, each), by=by) for each in own]
            self._book.append_within(job, _always(drafts))
        return {each: tuple(seen for seen in held if seen.window == each) for each in meant}

    def _seen_in(
        self, job: str, profile: Profile, text: str, standing: Standing | None, in_time: bool = True
    ) -> Sequence[EdgeObservation] | None:
        """What was seen in one job; None where it is not kept and no time is left to draw it."""
        rests_on = [__version__, PHYSICS, KEPT_AS, self._book.last_number(job, skip=TEACHES_NOTHING)]
        sheet = f"{profile.name.casefold()}:{sha256(text.encode()).hexdigest()}"
        kept = self._kept(job, rests_on)
        if sheet not in kept:
            if not in_time:
                return None
            if standing is None:
                standing = fold(job, self._book.entries(job, skip=TOLD_BY_MACHINE))
            if any(_may_have_changed_it(entry) for entry in standing.entries):
                return ()
            kept = {**kept, sheet: list(observations_of(standing, self._bucket_model, profile))}
            stored = {each: [_stored(seen) for seen in of_sheet] for each, of_sheet in kept.items()}
            gone = list(_withdrawn_signs(standing))
            self._fresh[job] = {"rests_on": rests_on, "seen": stored, "gone": gone}
        return kept[sheet]

    def _gone_in(self, job: str) -> Sequence[str]:
        """The marks of the signs that were withdrawn in a job, as far as it was drawn from."""
        kept = self._fresh.get(job) or self._book.drawers.kept(DRAWER, job)
        gone = kept.get("gone") if isinstance(kept, dict) else None  # drawn anew when there is time
        return [str(mark) for mark in gone] if isinstance(gone, list) else ()

    def _kept(self, job: str, rests_on: list[Any]) -> dict[str, list[EdgeObservation]]:
        """What is kept of a job, by sheet. Nothing where it is stale or damaged: then it is drawn anew."""
        try:
            kept = self._fresh.get(job) or self._book.drawers.kept(DRAWER, job)
            if kept is None or kept["rests_on"] != rests_on:
                return {}
            return {sheet: list(_restored(job, rows)) for sheet, rows in kept["seen"].items()}
        except (BookError, ValueError, KeyError, TypeError, AttributeError):
            return {}


def _withdrawn_signs(standing: Standing) -> Iterator[str]:
    """The marks of signs that somebody took back. A copy of the job that does not know must not teach them."""
    for entry in standing.entries:
        if entry.mark and isinstance(entry.facts, Saw) and entry.number in standing.withdrawn:
            yield entry.mark


def _may_have_changed_it(entry: Entry) -> bool:
    """Whether an entry that cannot be read may have been one that takes an observation back or moves it.

    Then the job teaches nothing until the entry is mended: a sign that may be withdrawn must give nobody more time.
    """
    return isinstance(entry.facts, Unreadable) and entry.facts.was not in TEACHES_NOTHING


def _always(drafts: Sequence[Draft]) -> Callable[[Sequence[Entry]], Sequence[Draft]]:
    return lambda _: drafts


def _stored(seen: EdgeObservation) -> dict[str, Any]:
    return {**asdict(seen), "at": utc_text(seen.at), "job": None}


def _restored(job: str, rows: Sequence[dict[str, Any]]) -> Iterator[EdgeObservation]:
    for row in rows:
        yield EdgeObservation(**{**row, "at": utc_from(row["at"]), "job": job})
