"""What was known of a batch's product and lot when it was mixed: later lessons and cups change no earlier batch."""

from __future__ import annotations

from mixclock.decide.buckets import BucketAnswer
from mixclock.decide.clocks import NOTHING_LEARNED, LearnedFactor
from mixclock.job.entry import FactorUsed
from mixclock.job.profile import Profile, WindowRule
from mixclock.job.progress import Batch
from mixclock.job.windownames import is_limit
from mixclock.values import replace


def learned_of(batch: Batch, window: str) -> LearnedFactor:
    """What was known of the product when the batch was mixed: later lessons change no earlier batch."""
    return factor_of(batch.factors.get(window))


def factor_of(used: FactorUsed | None) -> LearnedFactor:
    """The factor as it was logged. If none was logged, nothing counts as learned."""
    return LearnedFactor(used.factor, used.sigma, used.observations, used.mass_kg) if used else NOTHING_LEARNED


def of_lot(learned: LearnedFactor, rule: WindowRule, answer: BucketAnswer | None) -> LearnedFactor:
    """The factor of the lot. An end that the crew races follows the cups of its lot, if there were any; a limit never
    does."""
    if answer is None or answer.lot_factor == 1.0 or is_limit(rule.name) or rule.after != "poured":
        return learned
    return replace(learned, factor=learned.factor * answer.lot_factor, lot_factor=answer.lot_factor)


def mixing_s(batch: Batch, profile: Profile) -> float:
    """How long mixing took, if the pot life counts from its end; else how long it should take."""
    if profile.pot_life is not None and profile.pot_life.measured_hot:
        return (batch.mixing_ended - batch.combined.at).total_seconds()
    return batch.mixing_s
