"""Reads what was typed after `mixclock plan` into a wish."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from mixclock.cli.typed import read
from mixclock.values import dataclass

if TYPE_CHECKING:
    from mixclock.decide.plan.floor.systems import Price
    from mixclock.job.site import Site


@dataclass(frozen=True)
class ProductSwap:
    """One product in the place of another."""

    old: str
    new: str
    price: Price | None


@dataclass(frozen=True)
class Wish:
    """The plan that somebody wants. `begin` is kept as typed: the job decides which day it means."""

    instead: ProductSwap | None
    sure: float | None
    begin: str | None
    seed: int


def wish(
    instead: str | None, kit: str | None, price: str | None, sure: str | None, begin: str | None, seed: int
) -> Wish:
    """The wish, or a refusal that names the option."""
    return Wish(_instead(instead, kit, price), _share(sure), begin, seed)


def _instead(text: str | None, kit: str | None, price: str | None) -> ProductSwap | None:
    from mixclock.job.saying import CannotTellError

    if text is None:
        if kit is not None or price is not None:
            raise CannotTellError("--instead-kit and --instead-price go with --instead PRODUCT=PRODUCT; add it")
        return None
    old, equals, new = (part.strip() for part in text.partition("="))
    if not (old and equals and new):
        raise CannotTellError(
            f"--instead: '{text}' does not name two products; say OLD=NEW, such as 'Slow epoxy base=Fast epoxy base'"
        )
    return ProductSwap(old, new, _price(kit, price))


def _price(kit: str | None, price: str | None) -> Price | None:
    from mixclock.decide.plan.floor.systems import Price
    from mixclock.job.saying import CannotTellError
    from mixclock.units import number

    if kit is None and price is None:
        return None
    if kit is None:
        raise CannotTellError("--instead-price is the price of a kit; say the kit's size too, with --instead-kit")
    volume_l, mass_kg = _kit_size(kit)
    cost = read(number, price, "--instead-price")
    if cost is not None and not 0.0 <= cost < 1e9:
        raise CannotTellError(f"--instead-price: {price} is no price; give a number in the job's currency")
    return Price(volume_l, mass_kg, cost)


def _kit_size(text: str) -> tuple[float | None, float | None]:
    from mixclock.job.saying import CannotTellError
    from mixclock.units import UnitError, amount

    try:
        size = amount(text)
    except UnitError as error:
        raise error.at("--instead-kit") from None
    if (size.volume_l or size.mass_kg or 0.0) <= 0.0:
        raise CannotTellError(f"--instead-kit: {text} is no size of a kit; give one such as '9 L' or '12 kg'")
    return size.volume_l, size.mass_kg


def _share(text: str | None) -> float | None:
    from mixclock.job.saying import CannotTellError
    from mixclock.units import number

    if text is None:
        return None
    pct = read(number, text.strip().removesuffix("%"), "--sure") or 0.0
    if not 1.0 <= pct <= 99.9:
        raise CannotTellError(f"--sure: {text} is no chance; give a percentage from 1 to 99.9, such as 95")
    return pct / 100.0


def begins_at(text: str | None, site: Site, now: datetime) -> datetime | None:
    """When work begins: the hour that was typed, on the first working day to come where no day was typed."""
    if text is None:
        return None

    from mixclock.job.saidtimes import instant_to_come
    from mixclock.units import UnitError, clock_time

    try:
        typed = clock_time(text)
    except UnitError as error:
        raise error.at("--begin") from None
    return instant_to_come(typed, site.wall, now, site.hours.days if site.hours else ())
