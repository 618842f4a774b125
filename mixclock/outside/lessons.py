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
from mixclock.decide.clocks import LearnedFactor
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
"""A statement draws from the newest so many jobs, and from as many older ones in which something changed; the rest of a
long book waits for a question."""

FACTORS: Final = "\x1ffactors:"
HOW_MANY: Final = "\x1fhow many jobs:"

KEPT_AS: Final = 4
"""Raised whenever an observation is kept in another shape."""

_RESTS_ON: Final = [__version__, PHYSICS, KEPT_AS]

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
            if _has_signs(standing):
                found += self._seen_in(here, profile, text, standing)
                found.sort(key=lambda seen: seen.job)
        counted = [seen for seen in found if not seen.mark or seen.mark not in gone]
        return tuple({(seen.mark or seen, seen.window): seen for seen in reversed(counted)}.values())[::-1]

    def _of_others(self, profile: Profile, text: str, here: str) -> tuple[Sequence[EdgeObservation], Set[str]]:
        """What was seen in all other jobs, kept as one piece: only a job that changed since is drawn from again.

        With it come the marks of the signs that were withdrawn there.
        """
        key = f"{ALL_JOBS}{_sheet(profile, text)}"
        known = self._known_of_all(key)
        now: dict[str, Any] = {}
        begun_s, drawn_before = self._book.clock.monotonic_s(), len(self._fresh)
        for place, (job, taught) in enumerate(self._book.jobs_that_teach().items()):
            kept, drawn = known.get(job), len(self._fresh) - drawn_before
            if job != here and (kept is None or kept[0] != taught):
                at_once = place < DRAWN_AT_ONCE or (kept is not None and drawn < DRAWN_AT_ONCE)
                in_time = at_once or self._book.clock.monotonic_s() - begun_s < self._draw_for_s
                kept = self._drawn(job, taught, profile, text) if in_time else None
            if kept is not None:
                now[job] = kept
        if now != known:
            self._fresh[key] = {"rests_on": _RESTS_ON, "jobs": now}
            self._fresh[f"{HOW_MANY}{_sheet(profile, text)}"] = len(now)
        others = [job for job in sorted(now) if job != here]
        gone = {str(mark) for job in others for mark in now[job][2]}
        return [seen for job in others for seen in _restored(job, now[job][1])], gone

    def _known_of_all(self, key: str) -> dict[str, Any]:
        """What was seen in each job when somebody last asked: its last entry that teaches, what was seen, what was
        withdrawn."""
        with suppress(BookError, ValueError, KeyError, TypeError, AttributeError):
            kept = self._fresh.get(key) or self._book.drawers.kept(DRAWER, key)
            if kept is not None and kept["rests_on"] == _RESTS_ON:
                jobs: dict[str, Any] = kept["jobs"]
                return jobs if isinstance(jobs, dict) else {}
        return {}

    def _drawn(self, job: str, taught: int, profile: Profile, text: str) -> list[Any] | None:
        """What was seen in another job. A damaged log teaches nothing, and must not keep this crew from mixing."""
        if self._book.is_for_reading(job):  # a copy without names moves no deadline
            return [taught, [], []]
        with suppress(BookError, ValueError):
            seen = self._seen_in(job, profile, text, None)
            return [taught, [_stored(each) for each in seen], list(self._gone_in(job))]
        return None

    def factors(self, profile: Profile, text: str, standing: Standing) -> dict[str, LearnedFactor]:
        """What is learned of a product by window. It is kept, so that a batch in a book of years reads no other job."""
        here, sheet = standing.job, _sheet(profile, text)
        own = self._seen_in(here, profile, text, standing) if _has_signs(standing) else ()
        others, many = self._book.teaching(here), self._kept_figure(f"{HOW_MANY}{sheet}")
        rests_on = [*_RESTS_ON, *others, many, [_stored(each) for each in own], [*_withdrawn_signs(standing)]]
        key = f"{FACTORS}{here}:{sheet}"
        with suppress(BookError, ValueError, KeyError, TypeError, AttributeError):
            kept = self._fresh.get(key) or self._book.drawers.kept(DRAWER, key)
            if kept is not None and kept["rests_on"] == rests_on:
                return {window: LearnedFactor(*figures) for window, figures in kept["factors"].items()}
        learned = learned_factors(self.seen(profile, text, standing))
        found = {window: each for (_, window), each in learned.items()}
        figures = {window: [of.factor, of.sigma, of.observations, of.mass_kg] for window, of in found.items()}
        rests_on[len(_RESTS_ON) + len(others)] = self._kept_figure(f"{HOW_MANY}{sheet}")
        self._fresh[key] = {"rests_on": rests_on, "factors": figures}
        return found

    def _kept_figure(self, key: str) -> int:
        with suppress(BookError):
            kept = self._fresh.get(key) or self._book.drawers.kept(DRAWER, key)
            return kept if isinstance(kept, int) else 0
        return 0

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
        return factors_to_log(profile.name, self.factors(profile, text, standing), logged)

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

    def draw_from(self, standing: Standing) -> None:
        """Ask of a job what its next bucket will ask, so that it is noted while all readings are at hand."""
        for product in dict.fromkeys(batch.product for batch in standing.batches if batch.signs):
            profile = standing.profile(product)
            if profile is not None:
                observations_of(standing, self._bucket_model, profile)

    def flush(self) -> None:
        """Write what was drawn anew. If the book cannot be written to just now, it will be drawn again."""
        fresh, self._fresh = self._fresh, {}
        with suppress(BookError):
            if fresh:
                self._book.drawers.keep_all(DRAWER, fresh)
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

    def _seen_in(self, job: str, profile: Profile, text: str, standing: Standing | None) -> Sequence[EdgeObservation]:
        """What was seen in one job."""
        rests_on = [__version__, PHYSICS, KEPT_AS, self._book.last_number(job, skip=TEACHES_NOTHING)]
        sheet = _sheet(profile, text)
        kept = self._kept(job, rests_on)
        if sheet not in kept:
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


def _sheet(profile: Profile, text: str) -> str:
    return f"{profile.name.casefold()}:{sha256(text.encode()).hexdigest()}"


def _has_signs(standing: Standing) -> bool:
    return any(batch.signs for batch in standing.batches)


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
