"""The boat shed of the days that are played: five bays, and a sheet that tells when flake may be scraped."""

from __future__ import annotations

from tests.boatshed import ALONE, PAIR, shed_base, shed_job, shed_top

BASE = shed_base(scrape=True)
TOP = shed_top()


def site(crew: int = 2, bays: int = 5, size: str = "11.5 m2", name: str = "Boat shed") -> str:
    """The job file: so many bays in a row, a crew of one or two."""
    return shed_job(bays=bays, size=size, crew={1: ALONE, 2: PAIR}[crew], name=name)
