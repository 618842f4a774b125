"""Finds the sheets of a job's products, also of products that no bucket has used so far."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from mixclock.job.entry import Entry, JobStarted, ProfileUsed
from mixclock.job.folding import site_of
from mixclock.job.mistakes import plain_name
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.site import Site
from mixclock.job.statements import Statement
from mixclock.job.statements.rounds import RoundStatement
from mixclock.values import replace

if TYPE_CHECKING:
    from mixclock.outside.profilefiles import FoundProfile


def sheets_of(site: Site) -> Mapping[str, Profile]:
    """The sheets that can be read, by casefolded name. An unreadable one is left out, and the caller says so."""
    from mixclock.outside.profilefiles import ProfileFileError, find

    found = {}
    for product in site.products:
        try:
            found[product.casefold()] = find(product).profile
        except ProfileFileError:
            continue
    return found


def with_sheets(standing: Standing) -> Standing:
    """The job with the sheet of every coat. A sheet that a bucket used stays as it was then."""
    return replace(standing, profiles={**sheets_of(standing.site), **standing.profiles})


def shelf_for(statement: Statement, found: FoundProfile | None, entries: Sequence[Entry]) -> Mapping[str, Profile]:
    """The sheets that a statement needs: the product's for a new batch, those of all coats for a round."""
    if found is not None:
        return {found.profile.name.casefold(): found.profile}
    return sheets_of(site_of(entries)) if isinstance(statement, RoundStatement) else {}


def product_meant(entries: Sequence[Entry], product_said: str) -> FoundProfile | None:
    """The profile of a product that somebody named, by its own name or its coat's. None if the log holds it already."""
    if not entries or not isinstance(entries[0].facts, JobStarted):
        return None
    from mixclock.outside.profilefiles import ProfileFileError, find

    coats = site_of(entries).coats
    said = plain_name(product_said)
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
