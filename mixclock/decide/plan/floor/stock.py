"""What there is of a coat's material when the rest is planned."""

from __future__ import annotations

from mixclock.values import dataclass


@dataclass(frozen=True)
class Stock:
    """What is there of a coat's material when the rest is planned: what was mixed already, what is left in opened
    kits, how many kits were opened, and how many were bought where a plan said so."""

    mixed_l: float
    opened_l: float = 0.0
    opened_kits: int = 0
    bought_kits: int | None = None

    @property
    def unopened_kits(self) -> int:
        """How many should stand unopened."""
        return max(0, (self.bought_kits or 0) - self.opened_kits)
