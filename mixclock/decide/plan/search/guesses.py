"""The hours at which batches are guessed to be mixed: spread evenly at first, then those that a plan gave."""

from __future__ import annotations

from mixclock.decide.plan.floor.precedence import on_strip
from mixclock.decide.plan.search.chain import AGREE_S, CoatChain, Guess
from mixclock.decide.plan.search.climber import Solution
from mixclock.job.steps import INDUCTION


def spread_guesses(chain: CoatChain) -> None:
    """Batches spread evenly over the work there is."""
    chain.guess_evenly(lambda: _spread(chain))


def _spread(chain: CoatChain) -> dict[int, Guess]:
    chain.guess({})
    if not chain.pieces:
        return {}
    spec = chain.spec(0, 1)
    one = sum(min(span for span in row if span is not None) for row in spec.times)
    per_piece = one / len(chain.setting.crew.people)
    begins = max((bound.not_before_s for bound in chain.setting.bounds.values()), default=0)
    stood = chain.mixing_s + spec.opens.get(INDUCTION, 0) + 60.0
    return {piece: Guess(int(begins + piece * per_piece), stood) for piece in range(chain.pieces)}


def take_guesses(chain: CoatChain, found: Solution) -> None:
    """Ask the windows for the hours of this plan; time in the bucket is rounded up, so that the asking ends."""
    net = chain.network(found.cuts)
    known: dict[int, Guess] = {}
    first = 0
    for batch, end in enumerate(found.cuts):
        mix, pour = chain.node(batch, "mix"), chain.node(batch, on_strip("pour", chain.setting.strips))
        mixed = found.found.starts[mix]
        poured = found.found.starts[pour] + net.span(pour, found.staff[pour])
        known[first] = Guess(mixed, float(-(-(poured - mixed) // 30) * 30))
        first = end
    chain.guess(known)


def agree(before: dict[int, Guess], after: dict[int, Guess]) -> bool:
    """Whether two guesses are near enough to each other for their windows to be the same."""
    return before.keys() == after.keys() and all(
        abs(before[piece].mixed_s - after[piece].mixed_s) <= AGREE_S
        and after[piece].stood_s <= before[piece].stood_s + 30.0
        for piece in after
    )
