"""The table of causes, by theme."""

from mixclock.decide.why.causes.air import AIR_CAUSES
from mixclock.decide.why.causes.cause import Cause, Clue
from mixclock.decide.why.causes.mix import BUCKET_CAUSES
from mixclock.decide.why.causes.slab import SLAB_CAUSES
from mixclock.decide.why.causes.steps import CLOCK_CAUSES

CAUSES: tuple[Cause, ...] = (*AIR_CAUSES, *CLOCK_CAUSES, *BUCKET_CAUSES, *SLAB_CAUSES)
