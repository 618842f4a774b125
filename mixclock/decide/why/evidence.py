"""How much one quantity says for a cause: how far past its limit, how surely, and beside the healthy areas."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import median

from mixclock.decide.why.gauge import Figure, Gauge
from mixclock.decide.why.layers import Fact, Gap, Value
from mixclock.decide.why.observation import Observation
from mixclock.units import CrewUnits
from mixclock.values import dataclass

AT_THE_LIMIT = 0.5
"""The strength of evidence at its limit; a whole step past it, the strength is 1. Limits carry a reserve, so at the
limit harm is as likely as not (judgement)."""

SAME_AS_HEALTHY = 0.35
"""What is left of evidence if the healthy areas show the same: they should have failed too (judgement)."""

NO_SIBLING = 0.8
"""What is left of evidence if there is no healthy area to compare with (judgement)."""

PROBABLY_PAST, LIKELY_PAST, PAST_FOR_SURE, INSIDE_FOR_SURE = 0.5, 0.75, 0.9, 0.1
"""How probable it must be that a limit was passed (judgement). More likely than not: the value is named as evidence.
Three to one: it is told as shown, beside a wide contrast. Nine to one: it is told as shown by itself; some ten
quantities are looked at for each fault, and each may err by chance. At the last figure or less the value counts as
inside."""

AS_HEALTHY = 0.5
"""Up to this contrast we say that the healthy areas had the same (judgement)."""

WIDE_STEPS, WIDE_SIGMAS = 2.0, 3.0
"""A contrast is wide from this many steps, and this many times its own doubt (judgement). What the healthy areas share
with this one, the lot and its clock, is in both figures and cancels out."""


@dataclass(frozen=True)
class Evidence:
    """One quantity, weighed. `strength` is 0 to 1; `probably_past` is how sure it is that the limit was passed.

    `healthy` tells what the areas found sound had, and `others` what the areas had that nobody looked at.
    """

    source: Gauge | Observation
    value: float | str | None
    limit: float | str | None
    healthy: float | str | None
    strength: float
    probably_past: float
    limit_source: str
    known: Value | None = None
    gap: Gap | None = None
    known_elsewhere: bool = False
    contrast: float = 1.0
    wide: bool = False
    others: float | None = None

    @property
    def quantity(self) -> str:
        """The name of the quantity."""
        return self.source.quantity

    @property
    def says(self) -> str:
        """What it is, in words."""
        return self.source.says

    @property
    def told(self) -> str:
        """Of which batch, when and by whom."""
        return self.known.told if self.known and isinstance(self.source, Gauge) else ""

    @property
    def speaks_for(self) -> bool:
        """Whether it is evidence for the cause."""
        return self.strength > 0.0 and self.probably_past >= PROBABLY_PAST

    @property
    def is_sure(self) -> bool:
        """Whether the limit was surely passed; or probably, and far beyond what the healthy areas had."""
        enough = LIKELY_PAST if self.wide else PAST_FOR_SURE
        return self.strength > 0.0 and self.probably_past >= enough

    @property
    def as_healthy(self) -> bool:
        """Whether the healthy areas had the same."""
        return self.healthy is not None and self.contrast <= AS_HEALTHY

    @property
    def speaks_against(self) -> bool:
        """Whether the record holds the whole quantity, and all of it inside the limit."""
        return self.gap is None and self.known is not None and self.probably_past <= INSIDE_FOR_SURE


def weigh(
    source: Gauge | Observation, own: Fact, healthy: Sequence[Fact], others: Sequence[Fact] = ()
) -> Evidence | None:
    """One quantity of the failed area beside the same of the healthy areas; None if it does not apply."""
    if own is None:
        return None
    known = [fact for fact in healthy if isinstance(fact, Value)]
    if isinstance(own, Gap):
        elsewhere = bool(known) or any(isinstance(fact, Value) for fact in others)
        limit, limit_source = (source.limit, source.limit_source) if isinstance(source, Gauge) else (None, _STATED)
        return Evidence(source, None, limit, None, 0.0, 0.0, limit_source, gap=own, known_elsewhere=elsewhere)
    if isinstance(source, Gauge) and isinstance(own.value, float):
        return _weigh_number(source, own, own.value, known, others)
    return _weigh_words(source, own, known)


_STATED = "what the crew stated"


def _weigh_words(source: Gauge | Observation, own: Value, healthy: Sequence[Value]) -> Evidence:
    """Weigh what is stated in words: it holds or it does not, and the healthy areas may have the same."""
    stands = isinstance(own.value, str)
    same = bool(healthy) and (own.holds_elsewhere or any(isinstance(value.value, str) for value in healthy))
    beside = NO_SIBLING if not healthy else SAME_AS_HEALTHY if same else 1.0
    return Evidence(
        source,
        own.value if stands else own.told,
        None,
        ("the same" if same else "nothing of the kind") if stands and healthy else None,
        beside if stands else 0.0,
        1.0 if stands else 0.0,
        _STATED,
        known=own,
        gap=own.gap,
        contrast=beside,
    )


def _weigh_number(gauge: Gauge, own: Value, value: float, healthy: Sequence[Value], others: Sequence[Fact]) -> Evidence:
    limit = own.limit if own.limit is not None else gauge.limit
    assert limit is not None, gauge.quantity
    past = gauge.past(value, limit)
    sigma = own.sigma if own.sigma is not None else gauge.sigma
    probably = 0.5 * (1.0 + math.erf(past / sigma / math.sqrt(2.0)))
    how_far = min(1.0, max(0.0, past / gauge.step))
    theirs = _median(healthy)
    beside = contrast(gauge, value, theirs)
    return Evidence(
        gauge,
        value,
        limit,
        theirs,
        probably * (AT_THE_LIMIT + (1.0 - AT_THE_LIMIT) * how_far) * beside,
        probably,
        own.limit_source or gauge.limit_source,
        known=own,
        gap=own.gap,
        contrast=beside,
        wide=_is_wide(gauge, own, value, theirs),
        others=_median([fact for fact in others if isinstance(fact, Value)]),
    )


def _median(values: Sequence[Value]) -> float | None:
    numbers = [value.value for value in values if isinstance(value.value, float)]
    return median(numbers) if numbers else None


def contrast(gauge: Gauge, value: float, healthy: float | None) -> float:
    """How much of the evidence the comparison with the healthy areas leaves: all of it from one step apart on."""
    if healthy is None:
        return NO_SIBLING
    apart = min(1.0, max(0.0, gauge.past(value, healthy) / gauge.step))
    return SAME_AS_HEALTHY + (1.0 - SAME_AS_HEALTHY) * apart


def _is_wide(gauge: Gauge, own: Value, value: float, healthy: float | None) -> bool:
    """Whether the healthy areas are so different that only something they do not share can explain it."""
    if healthy is None:
        return False
    unshared = own.unshared_sigma if own.unshared_sigma is not None else own.sigma or gauge.sigma
    apart = gauge.past(value, healthy)
    return apart >= WIDE_STEPS * gauge.step and apart >= WIDE_SIGMAS * math.sqrt(2.0) * unshared


def together(strengths: Sequence[float]) -> float:
    """Independent pieces of evidence taken together: 1 less the product of what each leaves open.

    >>> round(together([0.5, 0.5]), 2)
    0.75
    """
    return 1.0 - math.prod(1.0 - strength for strength in strengths)


def number(item: Figure, value: float, units: CrewUnits) -> str:
    """A value as a person would say it, in the crew's units.

    >>> from mixclock.decide.why.quantities.air import COLDEST_SLAB
    >>> from mixclock.units import US_CREW
    >>> number(Evidence(COLDEST_SLAB, 8.0, 10.0, None, 0.0, 0.0, ""), 8.0, US_CREW)
    '46 °F'
    """
    gauge = item.source
    if not isinstance(gauge, Gauge):
        return f"{value:g}"
    if (gauge.log and not gauge.unit) or gauge.unit == "share":
        if value >= TIMES_FROM:
            return f"{value:.0f} times over"
        return f"{value * 100:.0f} %"
    if gauge.unit in _WRITERS:
        return str(getattr(units, _WRITERS[gauge.unit])(value))
    unit = {"pct": " %", "csp": " CSP"}.get(gauge.unit, "")
    return f"{value:.0f}{unit}" if gauge.unit == "pct" else f"{value:.1f}{unit}"


TIMES_FROM = 5.0
"""From here on a share is told as a multiple: "12 times over" rather than "1,200 %"."""

_WRITERS = {
    "c": "write_temp",
    "k": "write_margin",
    "um": "write_film",
    "l": "write_volume",
    "kg": "write_mass",
    "m2": "write_area",
    "m": "write_length",
    "m2_l": "write_spread",
    "s": "write_span",
}
