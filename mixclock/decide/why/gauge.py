"""How each quantity of the record is judged: which way is worse, past which limit, and in which steps.

`step` is how far past the limit a fault is to be expected for sure; `sigma` is how far a recorded figure may be off.
Both are in the unit of the quantity, or natural logarithms where `log` is set (ripeness and shares, which go by
factors). Each has a source, or the word "judgement". None was fitted to invented jobs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import Protocol

from mixclock.decide.why.case import Case
from mixclock.decide.why.layers import Fact, Layer, Value
from mixclock.values import dataclass

Gatherer = Callable[[Case, Layer], Fact]
HealthyGatherer = Callable[[Case, Layer, str], Fact]


class Source(Protocol):
    """Something that `gather` reads from the record: a gauge, or an observation."""

    @property
    def quantity(self) -> str: ...

    @property
    def gather(self) -> Gatherer: ...


class Figure(Protocol):
    """A quantity as it was read and judged: `known` says of which batch and when, `told` by which statement."""

    @property
    def source(self) -> Source: ...

    @property
    def value(self) -> float | str | None: ...

    @property
    def limit(self) -> float | str | None: ...

    @property
    def known(self) -> Value | None: ...

    @property
    def says(self) -> str: ...

    @property
    def told(self) -> str: ...


SettingFinder = Callable[[Case, Layer, Figure], Iterator[str]]
"""Finds settings for next time, in words."""


@dataclass(frozen=True)
class Gauge:
    """How one quantity is read from the record (`gather`) and judged. `worse` is +1 where more is worse, else -1.

    `setting` finds what would have kept it inside its limit, for next time. `beside` reads it from a healthy area, if
    that reading must leave out what involves the area in question.
    """

    quantity: str
    says: str
    gather: Gatherer
    worse: int
    limit: float | None
    step: float
    sigma: float
    limit_source: str
    step_reason: str
    sigma_reason: str
    log: bool = False
    unit: str = ""
    setting: SettingFinder | None = None
    beside: HealthyGatherer | None = None

    def past(self, value: float, limit: float) -> float:
        """How far the value is past the limit, in the unit of `step`; negative inside."""
        if self.log:
            return self.worse * math.log(max(value, 1e-6) / max(limit, 1e-6))
        return self.worse * (value - limit)


BAND_20 = "the band of floor clocks, ±20 % (judgement, kept until observations exist)"
BAND_25 = "the band of warm buckets, ±25 % (judgement, kept until observations exist)"
CLOCK_SIGMA = 0.18
"""The doubt of a floor clock: ±20 % between the 10th and the 90th percentile gives 0.16, with a little added for
readings."""

CLOCK = "the band of the clock itself where the window states one, else 20 % (judgement)"


def ripeness_gauge(
    quantity: str,
    says: str,
    gather: Gatherer,
    worse: int,
    factor: float,
    step_reason: str,
    setting: SettingFinder | None = None,
    beside: HealthyGatherer | None = None,
) -> Gauge:
    """A gauge of how far a window's clock had run: its limit is 1, and it goes by factors."""
    source = "the data sheet's edge"
    return Gauge(quantity, says, gather, worse, 1.0, math.log(factor), CLOCK_SIGMA, source, step_reason, CLOCK,
                 log=True, setting=setting, beside=beside)  # fmt: skip
