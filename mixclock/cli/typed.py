"""What was typed at the command line, read into values; a refusal names the option."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mixclock.cli.options import Extra
    from mixclock.wiring import House

Reader = Callable[[str], float]


def read(reader: Callable[..., float], text: str | None, where: str, **how: Any) -> float | None:
    """A typed value, None where nothing was typed; a refusal names where it was typed."""
    if text is None:
        return None
    from mixclock.units import UnitError

    try:
        return reader(text, **how)
    except UnitError as error:
        raise error.at(where) from None


def amount(text: str | None, where: str, names: tuple[str, str]) -> dict[str, float | None]:
    """A typed volume or weight under the names of its two fields, litres first."""
    if text is None:
        return dict.fromkeys(names)
    from mixclock.units import UnitError
    from mixclock.units import amount as read_amount

    try:
        found = read_amount(text)
    except UnitError as error:
        raise error.at(where) from None
    return dict(zip(names, (found.volume_l, found.mass_kg), strict=True))


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
            raise CannotTellError(f"--ago: {extra.ago} is longer ago than anything here; write 10 min or 2 d") from None
    return instant(house, extra.at, "--at")


def instant(house: House, text: str | None, where: str) -> datetime | None:
    """A typed time of day as an instant, in the job's zone."""
    if text is None:
        return None
    from mixclock.job.saidtimes import instant_meant
    from mixclock.units import UnitError, clock_time

    try:
        typed = clock_time(text)
    except UnitError as error:
        raise error.at(where) from None
    return instant_meant(typed, house.zone(), house.clock.now())


def batch_number(words: Sequence[str] | None) -> int | None:
    """A batch as people say it: 3, b3, #3, batch 3."""
    said = " ".join(words or ()).strip()
    if not said:
        return None
    number = said.casefold().removeprefix("batch").removeprefix("b").strip(" #.")
    if not number.isdecimal() or len(number) > 6:
        from mixclock.job.mistakes import quoted
        from mixclock.job.saying import CannotTellError

        raise CannotTellError(f"BATCH: {quoted(said)} is no batch; say its number, such as 3")
    return int(number)


def product_and_amount(words: Sequence[str]) -> tuple[str, str | None]:
    """`PRODUCT AMOUNT`, also where the shell split a name or an amount: the longest ending that reads as an amount."""
    if len(words) == 1:
        return words[0], None
    from mixclock.units import UnitError
    from mixclock.units import amount as read_amount

    for taken in (2, 1) if len(words) > 2 else (1,):
        ending = " ".join(words[-taken:])
        try:
            read_amount(ending)
        except UnitError:
            continue
        return " ".join(words[:-taken]), ending
    return " ".join(words[:-1]), words[-1]
