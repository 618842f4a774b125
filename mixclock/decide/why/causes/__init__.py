"""The table of causes, by theme."""

from mixclock.decide.why.causes.atair import AIR_CAUSES
from mixclock.decide.why.causes.atclock import CLOCK_CAUSES
from mixclock.decide.why.causes.atslab import SLAB_CAUSES
from mixclock.decide.why.causes.inbucket import BUCKET_CAUSES
from mixclock.decide.why.causes.shape import Cause, Shows

CAUSES: tuple[Cause, ...] = (*AIR_CAUSES, *CLOCK_CAUSES, *BUCKET_CAUSES, *SLAB_CAUSES)

__all__ = ["CAUSES", "Cause", "Shows", "cause_named"]


def cause_named(name: str) -> Cause:
    """The cause of that name.

    >>> cause_named("old batch").decided_by
    'pour-out'
    """
    return next(cause for cause in CAUSES if cause.name == name)
