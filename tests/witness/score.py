"""The two tables: what was shown and true, and what a stated weight is worth."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from tests.witness.hearing import NOT_SHOWN, SHOWN, SUGGESTED
from tests.witness.ills import ILLS, NOTHING, OUTSIDE

GOALS = (
    ("of all that is shown, true", 0.97, "least"),
    ("clear and gross, recorded: shown or suggested first", 0.90, "least"),
    ("mild, recorded: suggested among three", 0.80, "least"),
    ("nothing planted: shown", 0.02, "most"),
    ("outside the table: shown", 0.02, "most"),
    ("deciding fact missing: named in three lines", 0.90, "least"),
    ("two causes, both told", 0.0, ""),
    ("text and JSON agree", 1.0, "least"),
)
BINS = (0.05, 0.15, 0.30, 0.50, 0.70, 0.85, 1.01)


@dataclass(frozen=True)
class Result:
    """One floor: what was planted, what was heard, what the answer weighed, and what the crew was refused."""

    cause: str
    strength: str
    missing: bool
    second: str
    truth: frozenset[str]
    whole: bool
    written: bool
    verdict: str
    named: tuple[tuple[str, str], ...]
    sentence: str
    fact_named: bool
    agreed: bool
    weights: tuple[tuple[str, float], ...]
    stated: int
    refused: tuple[str, ...]

    def told(self, *verdicts: str) -> list[str]:
        """The causes that a reader takes from the answer, by verdict."""
        return [cause for cause, verdict in self.named if verdict in verdicts]

    def first(self) -> bool:
        """Whether the first cause told is true."""
        told = self.told(SHOWN, SUGGESTED)
        return bool(told) and told[0] in self.truth

    def in_three(self) -> bool:
        """Whether a true cause is among the first three told."""
        return any(cause in self.truth for cause in self.told(SHOWN, SUGGESTED)[:3])


def wilson(hits: int, of: int, z: float = 1.96) -> tuple[float, float]:
    """Wilson's 95 % bounds of a share.

    >>> [round(bound, 3) for bound in wilson(8, 10)]
    [0.49, 0.943]
    """
    if of == 0:
        return 0.0, 1.0
    share = hits / of
    middle = share + z * z / (2 * of)
    off = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    below = 1 + z * z / of
    return max(0.0, (middle - off) / below), min(1.0, (middle + off) / below)


def _counted(results: Sequence[Result]) -> list[tuple[int, int]]:
    shown = [(cause in result.truth) for result in results for cause in result.told(SHOWN)]
    planted = [result for result in results if result.cause in ILLS and not result.missing and not result.second]
    strong = [result for result in planted if result.strength != "mild"]
    mild = [result for result in planted if result.strength == "mild"]
    nothing = [result for result in results if result.cause == NOTHING]
    outside = [result for result in results if result.cause == OUTSIDE]
    missing = [result for result in results if result.missing]
    two = [result for result in results if result.second]
    return [
        (sum(shown), len(shown)),
        _of(strong, Result.first),
        _of(mild, Result.in_three),
        _of(nothing, lambda result: bool(result.told(SHOWN))),
        _of(outside, lambda result: bool(result.told(SHOWN))),
        _of(missing, lambda result: result.fact_named),
        _of(two, lambda result: {result.cause, result.second} <= set(result.told(SHOWN, SUGGESTED)[:3])),
        _of(results, lambda result: result.agreed),
    ]


def _of(results: Sequence[Result], holds: Callable[[Result], bool]) -> tuple[int, int]:
    return sum(map(holds, results)), len(results)


def first_table(results: Sequence[Result]) -> list[str]:
    """By the sentence: each goal with its share, its bounds and whether it is met; then cause by cause."""
    lines = [f"{'':<54}{'floors':>7}{'share':>8}   95 % bounds    goal"]
    for (what, goal, way), (hits, of) in zip(GOALS, _counted(results), strict=True):
        low, high = wilson(hits, of)
        share = hits / of if of else math.nan
        met = {"least": share >= goal, "most": share <= goal, "": True}[way]
        wanted = f"at {way} {goal:.0%}  {'met' if met else 'MISSED'}" if way else ""
        lines.append(f"{what:<54}{of:>7}{share:>8.1%}   {low:6.1%} {high:6.1%}  {wanted}")
    return [*lines, "", *_by_cause(results), "", *_said_wrongly(results), "", *_refusals(results)]


def _by_cause(results: Sequence[Result]) -> list[str]:
    """Cause by cause: told first, the mild among three, and the missing fact named."""
    lines = [
        f"{'planted':<18}{'mild in 3':>11}{'clear 1st':>11}{'gross 1st':>11}{'stated 1st':>12}{'missing named':>15}"
    ]
    for cause in (*ILLS, NOTHING, OUTSIDE):
        mine = [result for result in results if result.cause == cause and not result.second]
        cells = []
        for strength in ("mild", "clear", "gross", ""):
            group = [result for result in mine if result.strength == strength and not result.missing]
            if cause in (NOTHING, OUTSIDE):
                hits, of = _of(group, lambda result: result.verdict == NOT_SHOWN)
            else:
                hits, of = _of(group, Result.in_three if strength == "mild" else Result.first)
            cells.append(f"{hits}/{of}" if of else "")
        hits, of = _of([result for result in mine if result.missing], lambda result: result.fact_named)
        cells.append(f"{hits}/{of}" if of else "")
        lines.append(f"{cause:<18}{cells[0]:>11}{cells[1]:>11}{cells[2]:>11}{cells[3]:>12}{cells[4]:>15}")
    return [*lines, "(of nothing and outside: answers that do not show a cause)"]


def _said_wrongly(results: Sequence[Result]) -> list[str]:
    """What was shown and is not true, by what was planted."""
    wrong = Counter(
        (result.cause, cause) for result in results for cause in result.told(SHOWN) if cause not in result.truth
    )
    if not wrong:
        return ["nothing was shown that is not true"]
    said = [
        f"  {cause} shown where {planted} was planted: {count}" for (planted, cause), count in wrong.most_common(12)
    ]
    return ["shown, and not true:", *said]


def _refusals(results: Sequence[Result]) -> list[str]:
    stated, refused = sum(result.stated for result in results), [each for result in results for each in result.refused]
    kinds = Counter(each.split()[0] for each in refused)
    said = ", ".join(f"{kind} {count}" for kind, count in kinds.most_common(5))
    apart = [f"  text and JSON differ: {result.sentence}" for result in results if not result.agreed]
    return [*apart[:8], f"{stated} statements, {len(refused)} refused" + (f" ({said})" if said else "")]


def second_table(results: Iterable[Result]) -> list[str]:
    """Calibration: of all causes that were given such a weight, how many are true."""
    found: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for result in results:
        for cause, weight in result.weights:
            place = next(number for number, top in enumerate(BINS) if weight < top)
            found[place].append((weight, cause in result.truth))
    lines = [f"{'stated weight':<16}{'causes':>8}{'mean weight':>13}{'share true':>12}   95 % bounds"]
    for place in sorted(found):
        below = BINS[place - 1] if place else 0.0
        weights = [weight for weight, _ in found[place]]
        hits = sum(true for _, true in found[place])
        low, high = wilson(hits, len(weights))
        mean = sum(weights) / len(weights)
        span = f"{below:.0%} to {min(1.0, BINS[place]):.0%}"
        lines.append(f"{span:<16}{len(weights):>8}{mean:>13.1%}{hits / len(weights):>12.1%}   {low:6.1%} {high:6.1%}")
    return lines
