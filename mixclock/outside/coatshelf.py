"""The sheets of a job's products, also of those that no bucket has used so far."""

from __future__ import annotations

from collections.abc import Mapping

from mixclock.job.profile import Profile
from mixclock.job.site import Site
from mixclock.outside.profilefiles import ProfileFileError, find


def sheets_of(site: Site) -> Mapping[str, Profile]:
    """The sheets that can be read, by casefolded name; one that cannot is missing, and whoever asks says so."""
    found = {}
    for product in dict.fromkeys(coat.product for coat in site.coats):
        try:
            found[product.casefold()] = find(product).profile
        except ProfileFileError:
            continue
    return found
