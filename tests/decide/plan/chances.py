"""The chance of one plan, as the judges of plans ask for it."""

from __future__ import annotations

from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.floor.plans import Chance, Plan
from mixclock.decide.plan.judge.chance import DEFAULT_DAYS, USUAL, Spreads, days_counted, lived_days
from mixclock.decide.plan.judge.replay import Replay, replay_of


def chance_of(plan: Plan, bench: Bench, days: int = DEFAULT_DAYS, seed: int = 1, spreads: Spreads = USUAL) -> Chance:
    """The share of simulated days on which the whole plan holds, and what breaks it first, most often first."""
    return simulate(replay_of(plan, bench), days, seed, spreads)


def simulate(replay: Replay, days: int = DEFAULT_DAYS, seed: int = 1, spreads: Spreads = USUAL) -> Chance:
    """Draw the days and count those on which every limit holds. The same seed draws the same days."""
    return days_counted(lived_days(replay, days, seed, spreads), days, seed)[0]
