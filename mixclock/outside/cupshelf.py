"""Keeps the test cups in the book, beside the log, because a cup needs no job."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from mixclock.job.cups import Cup, due_in_log, lot_named, used
from mixclock.job.drafts import Draft
from mixclock.job.entry import Combined
from mixclock.job.instants import utc_from, utc_text
from mixclock.job.progress import Standing
from mixclock.outside.bookdrawers import Drawers

KEY = "\x1ftest cups"
"""No job can have this name, for it does not print."""


class CupShelf:
    """All cups of the book, the oldest first."""

    def __init__(self, drawers: Drawers) -> None:
        """Keep the cups in these drawers, beside the lessons."""
        self._drawers = drawers

    def all(self) -> tuple[Cup, ...]:
        """Every cup."""
        return tuple(_cup_from(each) for each in self._drawers.kept("lessons", KEY) or [])

    def of_lot(self, product: str, lot: str) -> tuple[Cup, ...]:
        """The cups of one lot of a product."""
        meant = (product.casefold(), lot.casefold())
        return tuple(cup for cup in self.all() if (cup.product.casefold(), cup.lot.casefold()) == meant)

    def due(self, drafts: Iterable[Draft], standing: Standing) -> list[Draft]:
        """What a lot's cups have shown, for a batch that is mixed now, unless the job's log holds it already."""
        found = []
        for draft in drafts:
            facts = draft.facts
            if isinstance(facts, Combined):
                profile = standing.profile(facts.product)
                name = profile.name if profile else facts.product
                lot = lot_named(facts.lot, facts.lot_a, facts.lot_b)
                logged = standing.cups.get((facts.product.casefold(), lot.casefold()), ())
                found += [Draft(each, draft.happened) for each in due_in_log(used(self.of_lot(name, lot)), logged)]
        return found

    def by_sheet_s(self, cup: Cup) -> float | None:
        """When such a cup ends by its sheet alone [s]; None where the sheet is gone."""
        from mixclock.decide.bucketmodel import cup_by_sheet_s
        from mixclock.outside.calibrations import kept_calibrations
        from mixclock.outside.profilefiles import ProfileFileError, find

        try:
            profile = find(cup.product).profile
        except ProfileFileError:
            return None
        return cup_by_sheet_s(profile, cup, kept_calibrations(self._drawers))

    def running(self, now: datetime) -> tuple[Cup, ...]:
        """The cups that run now, so that somebody stays with them."""
        return tuple(cup for cup in self.all() if cup.runs(now))

    def change(self, cup: Cup, after: Cup) -> Cup:
        """Keep a cup as it is now, in place of the older state."""
        self.keep(tuple(after if each == cup else each for each in self.all()))
        return after

    def keep(self, cups: tuple[Cup, ...]) -> None:
        """Keep these cups in place of all that were there."""
        self._drawers.keep("lessons", KEY, [_stored(cup) for cup in cups])


def _stored(cup: Cup) -> dict[str, Any]:
    plain = {name: getattr(cup, name) for name in cup.fields}
    return plain | {"began": utc_text(cup.began), "read": [list(each) for each in cup.read]}


def _cup_from(kept: dict[str, Any]) -> Cup:
    read = tuple((at_s, temp_c) for at_s, temp_c in kept["read"])
    return Cup(**{**kept, "began": utc_from(kept["began"]), "read": read})
