"""Puts a daemon together from a house and what a person wants of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, TypeVar

from mixclock.decide.alerting.muting import Mute, read_mute
from mixclock.job.saying import CannotTellError
from mixclock.outside.bookerrors import BookError
from mixclock.outside.channels.choosable import ChannelWishes
from mixclock.outside.channels.quiet import QuietHours, read_quiet_hours
from mixclock.outside.pastpaces import past_pace_if_readable
from mixclock.outside.settings import NAME, Settings, read_settings, readable_settings
from mixclock.values import dataclass
from mixclock.watch.channels import Channels, channels_here
from mixclock.watch.daemon import TICK_S, Daemon
from mixclock.watch.faults import Faults
from mixclock.watch.foldbeside import FoldBeside
from mixclock.watch.jobwatch import Reckoning
from mixclock.wiring import House

T = TypeVar("T")


@dataclass(frozen=True)
class WatchWishes:
    """What a person wants of a watch. `wrong` holds a line for each setting that could not be followed."""

    channels: ChannelWishes
    mutes: tuple[Mute, ...] = ()
    step_key: str | None = None
    wrong: tuple[str, ...] = ()


def wanted_of_watch(house: House, quiet: str | None, mutes: Sequence[str], sound: bool, key: str | None) -> WatchWishes:
    """The wishes of the command line, which must be right, and of the settings, as far as they can be followed.

    Raises `CannotTellError` for what was typed.
    """
    settings, mistakes = readable_settings(house.home)
    wrong = list(mistakes)

    def followed(read: Callable[[], T], without: T) -> T:
        try:
            return read()
        except (CannotTellError, BookError) as error:
            wrong.append(f"{house.home / NAME}: {error}")
            return without

    hours = (
        _quiet_hours(house, quiet)
        if quiet
        else followed(lambda: _quiet_hours(house, settings.get("watch.quiet")), None)
    )
    nobody: tuple[Mute, ...] = ()
    muted = _mutes(house, mutes) if mutes else followed(lambda: _mutes(house, settings.get("watch.mute")), nobody)
    channels = _channels(settings, hours, sound)
    return WatchWishes(channels, muted, key or settings.get("board.step_key"), tuple(wrong))


def wanted_channels(house: House, quiet: str | None, sound: bool = True) -> ChannelWishes:
    """The wishes for the channels: from the command line, else from the settings file."""
    settings = settings_of(house)
    return _channels(settings, _quiet_hours(house, quiet or settings.get("watch.quiet")), sound)


def _channels(settings: Settings, quiet: QuietHours | None, sound: bool) -> ChannelWishes:
    return ChannelWishes(
        sound=sound,
        quiet=quiet,
        phones=settings.get("phone.targets"),
        phone_timely=settings.get("phone.timely"),
        contact=settings.get("phone.contact"),
        ranks=settings.ranks_of,
    )


def settings_of(house: House) -> Settings:
    """The settings of this home. Mistakes are refused, a line each."""
    return read_settings(house.home)


def daemon_for(
    house: House,
    wanted: ChannelWishes,
    say: Callable[[str], None],
    *,
    channels: Channels | None = None,
    tick_s: float = TICK_S,
    extra_channels: Sequence[Any] = (),
    mutes: Sequence[Mute] = (),
) -> Daemon:
    """A daemon on this house's book and clock. `say` takes each line that tells what goes wrong."""
    return Daemon(
        book=house.book,
        clock=house.clock,
        channels=channels or channels_here(wanted, house.clock.now),
        reckoning=Reckoning(
            house.bucket_model,
            mutes=tuple(mutes),
            beside=FoldBeside(house.home),
            past=partial(past_pace_if_readable, house.book),
        ),
        faults=Faults(house.clock, lambda line: say(f"!  {line}")),
        tick_s=tick_s,
        extra_channels=extra_channels,
    )


def _mutes(house: House, typed: Sequence[str]) -> tuple[Mute, ...]:
    site = house.site() if typed and house.book.current_job() is not None else None
    people = [person.name for person in site.crew] if site else []
    products = site.products if site else ()
    try:
        return tuple(read_mute(text, people, products) for text in typed)
    except ValueError as error:
        raise CannotTellError(f"--mute, or watch.mute in the settings: {error}") from error


def _quiet_hours(house: House, text: str | None) -> QuietHours | None:
    if text is None:
        return None
    zone = "UTC"
    if house.book.current_job() is not None:
        zone = house.site().zone
    try:
        return read_quiet_hours(text, zone)
    except ValueError as error:
        raise CannotTellError(str(error)) from error
