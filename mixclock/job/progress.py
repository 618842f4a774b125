"""The job as it stands: entries folded into batches, portions, readings and findings.

Pure: the same entries give the same standing. So a restart changes nothing, and anybody can ask about the past.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from functools import cached_property
from itertools import accumulate
from typing import Protocol

from mixclock.job.entry import Combined, CupUsed, Delivered, Entry, FactorUsed, Facts, Raised
from mixclock.job.profile import Profile
from mixclock.job.readings import Readings
from mixclock.job.site import Site
from mixclock.job.wherewritten import Origin
from mixclock.values import dataclass, field, replace


@dataclass(frozen=True)
class StatedFact:
    """A stated fact: when it happened, who said so, and where the log holds it."""

    at: datetime
    by: str | None
    entry: int
    written: datetime
    moved_s: float = 0.0
    """By how much somebody set the wall clock since it was written. The hour of the day at the time was that much
    earlier."""


@dataclass(frozen=True)
class Portion:
    """What left the bucket in one pour. If nobody stated the pour, `assumed` says why it counts as done."""

    number: int
    areas: tuple[str, ...]
    poured: StatedFact
    volume_l: float
    covered_m2: float | None = None
    assumed: str | None = None
    steps: Mapping[tuple[str, str], StatedFact] = field(default_factory=dict)
    began: Mapping[tuple[str, str], StatedFact] = field(default_factory=dict)

    def step(self, name: str, area: str) -> StatedFact | None:
        """When a step was stated as done on an area."""
        return self.steps.get((name, area))


@dataclass(frozen=True)
class Sign:
    """Something seen on a batch or an area."""

    sign: str
    stated: StatedFact
    area: str | None = None


@dataclass(frozen=True)
class Batch:
    """One bucket's worth combined at one moment (`combined.at`, when part B met part A)."""

    id: int
    product: str
    coat: str | None
    areas: tuple[str, ...]
    volume_l: float
    mass_kg: float
    combined: StatedFact
    mixing_s: float
    mixing_ended: datetime
    mixing_stated: bool
    a_l: float | None = None
    a_kg: float | None = None
    b_l: float | None = None
    b_kg: float | None = None
    material_c: float | None = None
    lot: str | None = None
    lot_a: str | None = None
    lot_b: str | None = None
    vessel: str | None = None
    portions: tuple[Portion, ...] = ()
    emptied: StatedFact | None = None
    dumped: StatedFact | None = None
    dumped_share: str | None = None
    began: Mapping[str, StatedFact] = field(default_factory=dict)
    done: Mapping[str, StatedFact] = field(default_factory=dict)
    signs: tuple[Sign, ...] = ()
    note: str | None = None
    spot: str | None = None
    """What a small mix outside the plan is for; None for a bucket of a coat."""
    assumed: tuple[str, ...] = ()
    factors: Mapping[str, FactorUsed] = field(default_factory=dict)
    cups: tuple[CupUsed, ...] = ()
    origin: Origin | None = None

    @property
    def said(self) -> str:
        """Its number. If it was mixed in another book, also its name there: "4 (van 2's 3)"."""
        if self.origin is None or self.origin.batch is None:
            return str(self.id)
        return f"{self.id} ({self.origin.van}'s {self.origin.batch})"

    @property
    def lots(self) -> tuple[str, ...]:
        """The lots that went into it: of the kit, or of A and of B."""
        parts = (("A ", self.lot_a), ("B ", self.lot_b))
        return tuple(f"{part}{lot}" for part, lot in (("", self.lot), *parts) if lot is not None)

    @property
    def left_l(self) -> float:
        """What is still in the bucket."""
        if self.emptied is not None:
            return 0.0
        return max(0.0, self.volume_l - sum(portion.volume_l for portion in self.portions))

    @property
    def is_out(self) -> bool:
        """Whether somebody stated that the bucket is empty. If the pour was only implied, somebody may still state
        it."""
        return self.emptied is not None and not any(portion.assumed for portion in self.portions)

    def portion(self, number: int | None) -> Portion | None:
        """The portion of that number."""
        return next((portion for portion in self.portions if portion.number == number), None)


def is_lost(batch: Batch) -> bool:
    """Whether a bucket was dumped before any of it was poured. Then its floor is still to be done."""
    return batch.dumped is not None and not batch.portions


SAME_DUE = timedelta(seconds=1)
"""Instants that were moved because somebody set the clock agree to within this."""


@dataclass(frozen=True)
class Raising:
    """One alert as it was raised, with what the channels answered."""

    entry: Entry
    deliveries: tuple[Entry, ...] = ()
    heard: Entry | None = None

    @property
    def alert(self) -> str:
        """The name of the alert."""
        return self.entry.facts.alert if isinstance(self.entry.facts, Raised) else ""

    @cached_property
    def stage(self) -> str:
        """The stage at which it was raised."""
        return self.entry.facts.stage if isinstance(self.entry.facts, Raised) else ""

    @property
    def may_have_reached(self) -> bool:
        """Whether a person may have met it, by the channels' answers."""
        return any(may_have_reached(entry.facts) for entry in self.deliveries)

    def was_due(self, due: datetime) -> bool:
        """Whether it was raised for what falls due at this instant. Both count on the present clock, which may have
        been set since."""
        return abs(self.due - due) < SAME_DUE

    @cached_property
    def due(self) -> datetime:
        """When it fell due, on the present clock."""
        assert isinstance(self.entry.facts, Raised)
        return datetime.fromisoformat(self.entry.facts.due) + timedelta(seconds=self.entry.moved_s)


def may_have_reached(facts: Facts) -> bool:
    """Whether a person may have met the alert, by this receipt: the far end took it, and it was not surely unseen."""
    return isinstance(facts, Delivered) and facts.outcome == "sent" and facts.shown is not False


def latest_so_far(raisings: Iterable[Raising]) -> list[datetime]:
    """For each raising when the latest of those up to it happened: the log holds some that were written late."""
    return list(accumulate((raising.entry.happened for raising in raisings), max))


class RaisingKeeper(Protocol):
    """Keeps the raisings as they come in."""

    @property
    def raisings(self) -> tuple[Raising, ...]:
        """Oldest first."""

    @property
    def by_alert(self) -> Mapping[str, tuple[Raising, ...]]:
        """The same by alert."""

    @property
    def latest(self) -> Sequence[datetime]:
        """For each raising when the latest of those up to it happened."""


@dataclass(frozen=True)
class Standing:
    """The job as it stands at an instant, from what was known then."""

    job: str
    site: Site
    profiles: Mapping[str, Profile]
    profile_texts: Mapping[str, str]
    batches: tuple[Batch, ...]
    readings: Readings
    entries: tuple[Entry, ...]
    withdrawn: frozenset[int]
    factors: Mapping[tuple[str, str], FactorUsed] = field(default_factory=dict)
    cups: Mapping[tuple[str, str], tuple[CupUsed, ...]] = field(default_factory=dict)
    raisings: tuple[Raising, ...] = ()
    finished: datetime | None = None
    also_called: frozenset[str] = frozenset()

    def calls(self, batch: Batch) -> bool:
        """Whether this book calls a batch out. The batch's own book does, or the book that took its place."""
        return batch.origin is None or batch.origin.book in self.also_called

    @cached_property
    def pours(self) -> Mapping[str, Mapping[str | None, tuple[StatedFact, ...]]]:
        """When each coat was poured on each area, by area and coat."""
        found: dict[str, dict[str | None, list[StatedFact]]] = {}
        for batch in self.batches:
            for portion in batch.portions:
                for area in portion.areas:
                    found.setdefault(area, {}).setdefault(batch.coat, []).append(portion.poured)
        return {area: {coat: tuple(pours) for coat, pours in coats.items()} for area, coats in found.items()}

    def raised(self, alert: str) -> Sequence[Raising]:
        """The raisings of one alert, oldest first."""
        return self._raised.get(alert, ())

    def raised_after(self, instant: datetime) -> Sequence[Raising]:
        """The raisings without those at the beginning of the log that all happened by an instant."""
        return self.raisings[bisect_right(self._latest, instant, hi=len(self.raisings)) :]

    @cached_property
    def _latest(self) -> Sequence[datetime]:
        return latest_so_far(self.raisings)

    @cached_property
    def _raised(self) -> Mapping[str, Sequence[Raising]]:
        found: dict[str, list[Raising]] = {}
        for raising in self.raisings:
            if isinstance(raising.entry.facts, Raised):
                found.setdefault(raising.entry.facts.alert, []).append(raising)
        return {alert: tuple(raisings) for alert, raisings in found.items()}

    @property
    def alerts_raised(self) -> Iterable[str]:
        """The alerts that were raised, each once."""
        return self._raised.keys()

    def with_raisings(self, entries: tuple[Entry, ...], log: RaisingKeeper) -> Standing:
        """The same standing with these raisings. Whoever follows the job has them by alert already."""
        made = replace(self, entries=entries, raisings=log.raisings)
        vars(made)["_raised"], vars(made)["_latest"] = log.by_alert, log.latest
        return made

    def profile(self, product: str) -> Profile | None:
        """The profile of a product, by name without regard to case."""
        return self.profiles.get(product.casefold())

    def batch(self, number: int) -> Batch | None:
        """The batch of that number."""
        return self._by_number.get(number)

    @cached_property
    def _by_number(self) -> Mapping[int, Batch]:
        return {batch.id: batch for batch in self.batches}

    def live(self) -> Sequence[Entry]:
        """The entries that count: not withdrawn, nor about a batch that was."""
        return [entry for entry in self.entries if entry.number not in self.withdrawn]


def products_of(standing: Standing) -> tuple[str, ...]:
    """The products of a job, each once: first those of its coats, then whatever else was mixed."""
    return tuple(dict.fromkeys((*standing.site.products, *(batch.product for batch in standing.batches))))


def mixing_span_told(entry: Entry | None) -> bool:
    """Whether somebody stated the length of mixing when it was over. Told before, it is only a plan."""
    if entry is None or not isinstance(entry.facts, Combined) or entry.facts.mixing_s is None:
        return False
    return (entry.written - entry.happened).total_seconds() >= entry.facts.mixing_s


@dataclass(frozen=True)
class KeptStatement:
    """A statement that is safely in the book, with the job as it stands after it and as it stood before."""

    entries: tuple[Entry, ...]
    standing: Standing
    now: datetime
    before: Standing | None = None

    @property
    def entry(self) -> Entry:
        """The statement's own entry, without those logged along with it."""
        return self.entries[-1]
