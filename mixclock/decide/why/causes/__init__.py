"""The table of causes, by theme."""

from mixclock.decide.why.causes.air import AIR_CAUSES
from mixclock.decide.why.causes.cause import Cause, Clue
from mixclock.decide.why.causes.mix import BUCKET_CAUSES
from mixclock.decide.why.causes.slab import SLAB_CAUSES
from mixclock.decide.why.causes.steps import CLOCK_CAUSES
from mixclock.decide.why.observation import Observation
from mixclock.job.ticks import Tick

CAUSES: tuple[Cause, ...] = (*AIR_CAUSES, *CLOCK_CAUSES, *BUCKET_CAUSES, *SLAB_CAUSES)

TICKS: tuple[Tick, ...] = tuple(
    dict.fromkeys(
        source.tick
        for cause in CAUSES
        for source in (*(clue.source for clue in cause.clues), *cause.excused_by)
        if isinstance(source, Observation) and source.tick is not None
    )
)
"""The trade facts that decide a cause, in the order of the table."""
