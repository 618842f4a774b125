"""How much one quantity says for a cause: how far past its limit, how surely, and beside the healthy areas."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from mixclock.decide.why.case import Gathered, Missing, Value
from mixclock.decide.why.gauges import GAUGES, Gauge

AT_THE_LIMIT = 0.3
"""What being just past a limit says, beside 1 for a whole step past it: limits carry a reserve (judgement)."""

SAME_AS_HEALTHY = 0.35
"""What is left of evidence that the healthy areas show as well: they should have failed too (judgement)."""

NO_SIBLING = 0.8
"""Where there is no healthy area to compare with (judgement)."""

PROBABLY_PAST, PAST_FOR_SURE, INSIDE_FOR_SURE = 0.5, 0.9, 0.1
"""How probable it must be that a limit was passed to be named as evidence (more likely than not) and to be told as
shown or suggested (nine to one, since some ten quantities are looked at for each fault and each may err by chance);
and up to which a value counts as inside (judgement)."""

AS_HEALTHY = 0.5
"""Up to this contrast the healthy areas are said to have had the same (judgement)."""


@dataclass(frozen=True)
class Weighed:
    """One quantity, weighed. `strength` is 0 to 1; `probably_past` is how sure it is that the limit was passed."""

    quantity: str
    says: str
    value: float | str | None
    limit: float | str | None
    healthy: float | str | None
    strength: float
    probably_past: float
    source: str
    told: str
    unit: str
    log: bool
    known: Value | None = None
    missing: Missing | None = None
    known_elsewhere: bool = False
    contrast: float = 1.0

    @property
    def speaks_for(self) -> bool:
        """Whether it is evidence for the cause."""
        return self.strength > 0.0 and self.probably_past >= PROBABLY_PAST

    @property
    def is_sure(self) -> bool:
        """Whether the limit was passed for sure, as far as instruments and clocks go."""
        return self.strength > 0.0 and self.probably_past >= PAST_FOR_SURE

    @property
    def as_healthy(self) -> bool:
        """Whether the healthy areas had the same."""
        return self.healthy is not None and self.contrast <= AS_HEALTHY

    @property
    def speaks_against(self) -> bool:
        """Whether the record holds it, whole, and inside its limit."""
        return self.missing is None and self.known is not None and self.probably_past <= INSIDE_FOR_SURE


def weigh(quantity: str, own: Gathered, siblings: Sequence[Gathered]) -> Weighed | None:
    """One quantity of the bad area beside the same of the healthy areas; None where it does not apply."""
    if own is None:
        return None
    gauge = GAUGES.get(quantity)
    known = [sibling for sibling in siblings if isinstance(sibling, Value)]
    if isinstance(own, Missing):
        return _unknown(quantity, gauge, own, bool(known))
    if gauge is None or isinstance(own.value, str):
        return _weigh_words(quantity, own, known, gauge)
    return _weigh_number(gauge, own, own.value, known)


def _unknown(quantity: str, gauge: Gauge | None, missing: Missing, elsewhere: bool) -> Weighed:
    says = gauge.says if gauge else quantity.removeprefix("note:")
    limit, source = (gauge.limit, gauge.limit_source) if gauge else (None, "what the crew noted")
    return Weighed(quantity, says, None, limit, None, 0.0, 0.0, source, "", gauge.unit if gauge else "",
                   bool(gauge and gauge.log), missing=missing, known_elsewhere=elsewhere)  # fmt: skip


def _weigh_words(quantity: str, own: Value, siblings: Sequence[Value], gauge: Gauge | None) -> Weighed:
    """What was noted stands or does not; the healthy areas may have the same note."""
    noted = isinstance(own.value, str)
    same = own.holds_elsewhere or any(isinstance(sibling.value, str) for sibling in siblings)
    strength = 0.0 if not noted else SAME_AS_HEALTHY if same else 1.0
    healthy = "the same" if same else "nothing of the kind noted"
    says = gauge.says if gauge else quantity.removeprefix("note:")
    value = own.value if noted else own.told
    return Weighed(
        quantity,
        says,
        value,
        "none noted",
        healthy if noted else None,
        strength,
        1.0 if noted else 0.0,
        "what the crew stated",
        "",
        "",
        False,
        known=own,
        missing=own.gap,
        contrast=strength or 1.0,
    )


def _weigh_number(gauge: Gauge, own: Value, value: float, siblings: Sequence[Value]) -> Weighed:
    limit = own.limit if own.limit is not None else gauge.limit
    assert limit is not None, gauge.quantity
    past = gauge.past(value, limit)
    sigma = own.sigma if own.sigma is not None else gauge.sigma
    probably = 0.5 * (1.0 + math.erf(past / sigma / math.sqrt(2.0)))
    how_far = min(1.0, max(0.0, past / gauge.step))
    numbers = [sibling.value for sibling in siblings if isinstance(sibling.value, float)]
    healthy = median(numbers) if numbers else None
    beside = contrast(gauge, value, healthy)
    strength = probably * (AT_THE_LIMIT + (1.0 - AT_THE_LIMIT) * how_far) * beside
    source = own.limit_source or gauge.limit_source
    return Weighed(gauge.quantity, gauge.says, value, limit, healthy, strength, probably, source, own.told, gauge.unit,
                   gauge.log, known=own, missing=own.gap, contrast=beside)  # fmt: skip


def contrast(gauge: Gauge, value: float, healthy: float | None) -> float:
    """How much the comparison with the healthy areas leaves of the evidence: all of it from one step apart."""
    if healthy is None:
        return NO_SIBLING
    apart = min(1.0, max(0.0, gauge.apart(value, healthy) / gauge.step))
    return SAME_AS_HEALTHY + (1.0 - SAME_AS_HEALTHY) * apart


def together(strengths: Sequence[float]) -> float:
    """Independent pieces of evidence taken together: 1 less the product of what each leaves open.

    >>> round(together([0.5, 0.5]), 2)
    0.75
    """
    return 1.0 - math.prod(1.0 - strength for strength in strengths)
