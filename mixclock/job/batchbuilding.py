"""Builds the batches of a job, entry by entry, in the order of its log."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from types import MappingProxyType

from mixclock.job.begunbatch import begun_batch, stated
from mixclock.job.cups import lot_named
from mixclock.job.dayentries import Visited
from mixclock.job.entry import (
    Began,
    Combined,
    CupUsed,
    Did,
    Dumped,
    Entry,
    FactorUsed,
    JobFinished,
    MixingEnded,
    Poured,
    ProfileUsed,
    Saw,
)
from mixclock.job.origins import book_of
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile
from mixclock.job.progress import Batch, Portion, Sign, StatedFact
from mixclock.job.site import Site
from mixclock.job.steps import FILM_STEPS
from mixclock.values import dataclass, field, replace

EMPTY_ENOUGH = 0.98
"""If the poured parts add up to this share of a batch, its bucket is empty: what sticks to the wall is no portion
(judgement)."""

DUMPED_SHARES: Mapping[str, float] = MappingProxyType({"quarter": 0.25, "half": 0.5, "most": 0.85, "all": 1.0})
"""The words for how much of a bucket was dumped (judgement)."""

cached_profile = cache(read_profile)


@dataclass
class OpenBatch:
    """A batch while it is being folded."""

    batch: Batch
    counts: bool
    portions: list[Portion] = field(default_factory=list)
    _made: tuple[Batch, Batch] | None = None

    def finished(self) -> Batch:
        """The batch with its portions. If nothing came to it since, it is the same object as before."""
        portions = tuple(self.portions)
        if self._made is None or self._made[0] is not self.batch or self._made[1].portions != portions:
            self._made = (self.batch, replace(self.batch, portions=portions))
        return self._made[1]


@dataclass
class BatchBuilder:
    site: Site
    profiles: dict[str, Profile]
    numbers: dict[int, int]
    texts: dict[str, str] = field(default_factory=dict)
    factors: dict[str, dict[tuple[str, str], FactorUsed]] = field(default_factory=dict)
    cups: dict[str, dict[tuple[str, str], tuple[CupUsed, ...]]] = field(default_factory=dict)
    open: dict[int, OpenBatch] = field(default_factory=dict)
    fallen: set[int] = field(default_factory=set)
    finished: datetime | None = None

    def take(self, entry: Entry, counts: bool) -> None:
        """Fold one entry.

        A withdrawn batch still takes its number, so that the others keep theirs. A learned factor holds for the batches
        written after it, whenever they were mixed. So asking about the past changes none.
        """
        if isinstance(entry.facts, Combined):
            self._combine(entry, entry.facts, counts)
        elif isinstance(entry.facts, FactorUsed):
            learned = self.factors.setdefault(book_of(entry), {})
            learned[(entry.facts.product.casefold(), entry.facts.window)] = entry.facts
        elif isinstance(entry.facts, CupUsed):
            self._cup(entry.facts, self.cups.setdefault(book_of(entry), {}))
        elif counts:
            handler = _HANDLERS.get(type(entry.facts))
            if handler is not None:
                handler(self, entry)

    def finished_batches(self) -> list[Batch]:
        """The batches that count, with their portions."""
        return [opened.finished() for opened in self.open.values() if opened.counts]

    def profile_used(self, entry: Entry) -> None:
        assert isinstance(entry.facts, ProfileUsed)
        name = entry.facts.product.casefold()
        if name not in self.texts:
            self.texts[name] = entry.facts.text
            self.profiles[name] = cached_profile(entry.facts.text)

    def job_finished(self, entry: Entry) -> None:
        self.finished = entry.happened

    def visited(self, entry: Entry) -> None:  # noqa: ARG002
        """The job is open again."""
        self.finished = None

    def mixing_ended(self, entry: Entry) -> None:
        assert isinstance(entry.facts, MixingEnded)
        opened = self._opened(entry.facts.batch, entry)
        if opened is not None:
            opened.batch = replace(opened.batch, mixing_ended=entry.happened, mixing_stated=True)

    def poured(self, entry: Entry) -> None:
        facts = entry.facts
        assert isinstance(facts, Poured)
        opened = self._opened(facts.batch, entry)
        if opened is None:
            return
        _replace_assumed(opened)
        volume_l = facts.part_l
        if volume_l is None and facts.part_kg is not None:
            volume_l = facts.part_kg / (opened.batch.mass_kg / opened.batch.volume_l)
        before = sum(portion.volume_l for portion in opened.portions)
        everything = volume_l is None or before + volume_l >= EMPTY_ENOUGH * opened.batch.volume_l
        if volume_l is None:
            volume_l = max(0.0, opened.batch.volume_l - before)
        self._end_mixing_by(opened, entry.happened)
        opened.portions.append(
            Portion(
                number=len(opened.portions) + 1,
                areas=facts.areas or opened.batch.areas,
                poured=stated(entry),
                volume_l=volume_l,
                covered_m2=facts.covered_m2,
            )
        )
        if everything:
            opened.batch = replace(opened.batch, emptied=stated(entry))

    def dumped(self, entry: Entry) -> None:
        """The batch is over. If it was said to be all on the floor, the dumped share is taken off again."""
        facts = entry.facts
        assert isinstance(facts, Dumped)
        opened = self._opened(facts.batch, entry)
        if opened is None:
            return
        batch, first = opened.batch, opened.batch.dumped is None
        share = DUMPED_SHARES.get(facts.share or "")
        if batch.emptied is not None and batch.dumped is None and share is not None and opened.portions:
            last = opened.portions[-1]
            opened.portions[-1] = replace(last, volume_l=last.volume_l * (1.0 - share))
        self._end_mixing_by(opened, entry.happened)
        opened.batch = replace(
            opened.batch,
            dumped=stated(entry) if first else batch.dumped,
            dumped_share=facts.share or batch.dumped_share,
            emptied=batch.emptied or stated(entry),
        )

    def did(self, entry: Entry) -> None:
        facts = entry.facts
        assert isinstance(facts, Did)
        for opened in self._touched(facts.batch, facts.areas, facts.step, entry):
            areas = facts.areas or opened.batch.areas
            if facts.step in FILM_STEPS and not opened.portions:
                self._imply_pour(opened, entry)
            opened.batch = replace(opened.batch, done={**opened.batch.done, facts.step: stated(entry)})
            opened.portions = [
                replace(portion, steps=_with(portion.steps, facts.step, portion.areas, areas, entry))
                for portion in opened.portions
            ]

    def began(self, entry: Entry) -> None:
        facts = entry.facts
        assert isinstance(facts, Began)
        for opened in self._touched(facts.batch, facts.areas, facts.step, entry):
            areas = facts.areas or opened.batch.areas
            opened.batch = replace(opened.batch, began={**opened.batch.began, facts.step: stated(entry)})
            opened.portions = [
                replace(portion, began=_with(portion.began, facts.step, portion.areas, areas, entry))
                for portion in opened.portions
            ]

    def saw(self, entry: Entry) -> None:
        facts = entry.facts
        assert isinstance(facts, Saw)
        areas = (facts.area,) if facts.area else ()
        for opened in self._touched(facts.batch, areas, facts.sign, entry):
            sign = Sign(facts.sign, stated(entry), facts.area)
            opened.batch = replace(opened.batch, signs=(*opened.batch.signs, sign))

    def _cup(self, cup: CupUsed, cups: dict[tuple[str, str], tuple[CupUsed, ...]]) -> None:
        """Take a cup of a lot. The first one replaces the lot's earlier cups, since all of them are logged anew."""
        key = (cup.product.casefold(), cup.lot.casefold())
        before = cups.get(key, ()) if cup.nth > 1 else ()
        cups[key] = (*before, cup) if cup.mass_kg > 0.0 else ()

    def _combine(self, entry: Entry, facts: Combined, counts: bool) -> None:
        number = self.numbers[entry.number]
        batch = begun_batch(number, entry, facts, self.profiles.get(facts.product.casefold()), self.site)
        product = facts.product.casefold()
        known = self.factors.get(book_of(entry), {})  # a van mixes by what it knows itself
        learned = {window: used for (name, window), used in known.items() if name == product}
        cups = self.cups.get(book_of(entry), {}).get(
            (product, lot_named(facts.lot, facts.lot_a, facts.lot_b).casefold()), ()
        )
        self.open[number] = OpenBatch(replace(batch, factors=learned, cups=cups), counts)

    def _opened(self, number: int, entry: Entry) -> OpenBatch | None:
        """The batch that a statement is about. Statements about a withdrawn batch fall with it."""
        opened = self.open.get(number)
        if opened is None or not opened.counts:
            self.fallen.add(entry.number)
            return None
        return opened

    def _touched(self, number: int | None, areas: tuple[str, ...], step: str, entry: Entry) -> list[OpenBatch]:
        if number is not None:
            opened = self._opened(number, entry)
            return [opened] if opened is not None else []
        on_areas = [
            opened
            for opened in self.open.values()
            if opened.counts and _lies_on(opened, areas) and opened.batch.combined.at <= entry.happened
        ]
        if not on_areas:
            return []
        newest_coat = on_areas[-1].batch.coat
        return [opened for opened in on_areas if opened.batch.coat == newest_coat and step not in opened.batch.done]

    def _imply_pour(self, opened: OpenBatch, entry: Entry) -> None:
        ended = opened.batch.mixing_ended
        opened.portions.append(
            Portion(
                number=1,
                areas=opened.batch.areas,
                poured=StatedFact(min(ended, entry.happened), None, entry.number, entry.written, entry.moved_s),
                volume_l=opened.batch.volume_l,
                assumed="nobody stated the pour; taken as poured when mixing ended",
            )
        )
        opened.batch = replace(opened.batch, emptied=opened.portions[-1].poured)

    def _end_mixing_by(self, opened: OpenBatch, instant: datetime) -> None:
        """End the mixing of a bucket that is poured, even before the sheet's mixing time is over."""
        if not opened.batch.mixing_stated:
            opened.batch = replace(opened.batch, mixing_ended=min(opened.batch.mixing_ended, instant))


_Handler = Callable[[BatchBuilder, Entry], None]

_HANDLERS: Mapping[type, _Handler] = MappingProxyType(
    {
        ProfileUsed: BatchBuilder.profile_used,
        JobFinished: BatchBuilder.job_finished,
        Visited: BatchBuilder.visited,
        MixingEnded: BatchBuilder.mixing_ended,
        Poured: BatchBuilder.poured,
        Dumped: BatchBuilder.dumped,
        Did: BatchBuilder.did,
        Began: BatchBuilder.began,
        Saw: BatchBuilder.saw,
    }
)


def _lies_on(opened: OpenBatch, areas: tuple[str, ...]) -> bool:
    on = {area for portion in opened.portions for area in portion.areas} or set(opened.batch.areas)
    return not areas or bool(on & set(areas))


def _replace_assumed(opened: OpenBatch) -> None:
    """A pour that somebody states later replaces one that was only implied."""
    opened.portions = [portion for portion in opened.portions if portion.assumed is None]


def _with(
    steps: Mapping[tuple[str, str], StatedFact], step: str, own: tuple[str, ...], areas: tuple[str, ...], entry: Entry
) -> Mapping[tuple[str, str], StatedFact]:
    """Note a step on the areas that a portion shares with the statement, unless it was noted before."""
    added = {(step, area): stated(entry) for area in own if area in areas and (step, area) not in steps}
    return {**steps, **added}
