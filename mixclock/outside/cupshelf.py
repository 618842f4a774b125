"""The shelf of test cups: kept in the book beside the log, because a cup needs no job."""

from __future__ import annotations

from typing import Any

from mixclock.job.cups import Cup
from mixclock.job.instants import utc_from, utc_text
from mixclock.outside.bookdrawers import Drawers

KEY = "\x1ftest cups"
"""No job can have this name, for it does not print."""


class CupShelf:
    """All cups of the book, the oldest first."""

    def __init__(self, drawers: Drawers) -> None:
        """In these drawers, among what was learned."""
        self._drawers = drawers

    def all(self) -> tuple[Cup, ...]:
        """Every cup."""
        return tuple(_cup_from(each) for each in self._drawers.kept("lessons", KEY) or [])

    def of_lot(self, product: str, lot: str) -> tuple[Cup, ...]:
        """The cups of one lot of a product."""
        meant = (product.casefold(), lot.casefold())
        return tuple(cup for cup in self.all() if (cup.product.casefold(), cup.lot.casefold()) == meant)

    def keep(self, cups: tuple[Cup, ...]) -> None:
        """Keep these cups in place of all that were there."""
        self._drawers.keep("lessons", KEY, [_stored(cup) for cup in cups])


def _stored(cup: Cup) -> dict[str, Any]:
    plain = {name: getattr(cup, name) for name in cup.fields}
    return plain | {"began": utc_text(cup.began), "read": [list(each) for each in cup.read]}


def _cup_from(kept: dict[str, Any]) -> Cup:
    read = tuple((at_s, temp_c) for at_s, temp_c in kept["read"])
    return Cup(**{**kept, "began": utc_from(kept["began"]), "read": read})
