"""The profile that a new batch needs, where its job's log does not hold it yet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from mixclock.job.entry import Entry, JobStarted, ProfileUsed
from mixclock.job.folding import site_of

if TYPE_CHECKING:
    from mixclock.outside.profilefiles import FoundProfile


def product_meant(entries: Sequence[Entry], product_said: str) -> FoundProfile | None:
    """The profile of a product as somebody said it, by its own name or by that of its coat; None where it is known."""
    if not entries or not isinstance(entries[0].facts, JobStarted):
        return None
    from mixclock.outside.profilefiles import ProfileFileError, find

    coats = site_of(entries).coats
    said = " ".join(product_said.casefold().split())
    product = next((coat.product for coat in coats if said in (coat.product.casefold(), coat.name.casefold())), None)
    name = (product or said).casefold()
    if any(isinstance(entry.facts, ProfileUsed) and entry.facts.product.casefold() == name for entry in entries):
        return None
    try:
        return find(name)
    except ProfileFileError:
        if product is not None:
            raise
        return None
