"""Reads what was typed at the command line into values. A refusal names the option."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from zoneinfo import ZoneInfo

    from mixclock.cli.commandwords import Extra
    from mixclock.wiring import House


def read(reader: Callable[..., float], text: str | None, where: str, **how: Any) -> float | None:
    """A typed value, None where nothing was typed; a refusal names where it was typed."""
    if text is None:
        return None
    from mixclock.units import UnitError

    try:
        return reader(text, **how)
    except UnitError as error:
        raise error.at(where) from None


def when(house: House, extra: Extra) -> datetime | None:
    """When it happened, by --at or --ago; None for now."""
    from mixclock.job.saying import CannotTellError

    if extra.at is not None and extra.ago is not None:
        raise CannotTellError("--at and --ago both say when it happened; give one of them")
    if extra.ago is not None:
        from mixclock.units import span_s

        ago_s = read(span_s, extra.ago, "--ago")
        try:
            return house.clock.now() - timedelta(seconds=ago_s or 0.0)
        except OverflowError:
            raise CannotTellError(
                f"--ago: {extra.ago} is longer ago than mixclock can count; write 10 min or 2 d"
            ) from None
    return instant(house, extra.at, "--at")


def instant(house: House, text: str | None, where: str) -> datetime | None:
    """A typed time of day as an instant, in the job's zone."""
    if text is None:
        return None
    from mixclock.job.saidtimes import instant_said
    from mixclock.units import UnitError

    try:
        return instant_said(text, _zone(house, where), house.clock.now())
    except UnitError as error:
        raise error.at(where) from None


def past_instant(house: House, text: str | None) -> datetime | None:
    """A typed --at that asks about the past: what is still to come is refused, nothing was recorded of it."""
    from mixclock.job.saying import CannotTellError

    moment = instant(house, text, "--at")
    if moment is not None and moment > house.clock.now():
        raise CannotTellError("--at: that time is still to come; give a past one (`mixclock plan` looks ahead)")
    return moment


def _zone(house: House, where: str) -> ZoneInfo:
    """The zone of the crew's clock, where all floors that can be meant are in one."""
    from mixclock.job.saying import CannotTellError

    zones = {house.zone(name) for name in house.which.first_meant()}
    if len(zones) > 1:
        raise CannotTellError(f"{where}: the jobs under way are in different zones; say --job NAME")
    return zones.pop() if zones else house.zone()
