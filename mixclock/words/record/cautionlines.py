"""The cautions of the products on a job, and the line that others' rules come first."""

from __future__ import annotations

from mixclock.job.profile import Family, Profile
from mixclock.job.progress import products_of
from mixclock.words.cautions import DEFERS, Moment, cautions_for
from mixclock.words.record.source import Record

LOCAL_RULES = (
    "The manufacturer's data sheet and safety data sheet, local rules and licensed practice prevail over anything on "
    "this page."
)

MOMENTS = (Moment.MIXING, Moment.ACID, Moment.SANDING, Moment.LEFTOVERS)


def profiles(record: Record) -> list[Profile]:
    """The products of the job, each once."""
    found = [record.standing.profile(name) for name in products_of(record.standing)]
    return [profile for profile in found if profile is not None]


def caution_lines(record: Record) -> list[str]:
    """What to mind with these products, each line once; the products' own cautions first."""
    own = [f"{profile.name}: {line}" for profile in profiles(record) for line in profile.cautions]
    families: list[Family] = [profile.family for profile in profiles(record)]
    usual = [line for family in families for moment in MOMENTS for line in cautions_for(family, moment)]
    return list(dict.fromkeys(line for line in (*own, *usual) if line != DEFERS))
