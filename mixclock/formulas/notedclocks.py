"""What a clock had gained before the readings that are at hand: noted once, and then only looked up."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from hashlib import sha256

from mixclock.formulas.derivedhistories import label_of
from mixclock.formulas.history import History, Moisture
from mixclock.formulas.rate_law import RateLaw
from mixclock.values import dataclass


@dataclass(frozen=True)
class NotedClock:
    """A clock that starts before the readings that are at hand begin, at `until_s`."""

    law: RateLaw
    history: History
    start_s: float
    until_s: float
    moisture: Moisture | None

    def gained(self, end_s: float, ripeness: Callable[..., float]) -> float:
        """What it gains [-] up to an instant, or up to where the readings at hand begin, whichever is first."""
        until_s = min(end_s, self.until_s)

        def whole() -> float:
            return ripeness(self.law, self.history.whole, self.start_s, until_s, 1.0, self._whole_moisture)

        return float(self._told(f">{until_s!r}", whole))

    def reached(self, wanted: float, time_of_ripeness: Callable[..., float]) -> float:
        """When it has gained so much [s], where that is before the readings at hand begin."""

        def whole() -> float:
            return time_of_ripeness(self.law, self.history.whole, self.start_s, wanted, 0.0, 1.0, self._whole_moisture)

        return float(self._told(f"={wanted!r}", whole))

    @property
    def _whole_moisture(self) -> Moisture | None:
        return self.moisture and self.moisture.whole

    def _told(self, what: str, whole: Callable[[], float]) -> float:
        past = self.history.past or (self.moisture.history.past if self.moisture else None)
        assert past is not None
        return float(past.notes.told(f"{self._named()}|{_named_law(self.law)}|{self.start_s!r}{what}", whole))

    def _named(self) -> str:
        moist = self.moisture
        dry = label_of(self.history, self.until_s)
        return (
            f"{dry}|{label_of(moist.history, self.until_s)}|{moist.reference_g_m3!r}|{moist.exponent!r}"
            if moist
            else dry
        )


def noted_before(law: RateLaw, history: History, start_s: float, moisture: Moisture | None) -> NotedClock | None:
    """The clock up to where the readings begin that are at hand; None where it starts among these."""
    moist = moisture if moisture is not None and moisture.exponent else None
    until_s = max(history.known_from_s, moist.known_from_s) if moist is not None else history.known_from_s
    return NotedClock(law, history, start_s, until_s, moist) if start_s < until_s else None


@lru_cache(maxsize=1024)
def _named_law(law: RateLaw) -> str:
    return sha256(repr((law.points, law.energy_j_mol, law.constant_s)).encode()).hexdigest()[:20]
