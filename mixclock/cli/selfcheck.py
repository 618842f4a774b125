"""`mixclock selfcheck`: does each channel really work here?"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from mixclock.cli.answering import print_json
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import AsJson

if TYPE_CHECKING:
    from mixclock.watch.selfchecking import ChannelCheck


def selfcheck(
    volume: Annotated[bool, typer.Option(help="Play pulses too: count them from the far corner.")] = True,
    as_json: AsJson = False,
) -> None:
    """Send one message through each channel, and say what truly arrived. Exit code 1: nothing would reach you."""
    from mixclock.cli.mistaken import ANSWER_IS_NO
    from mixclock.outside.power import read_power
    from mixclock.outside.stayawake import StayAwake
    from mixclock.watch import selfchecking
    from mixclock.watch.channels import channels_here
    from mixclock.watch.daemon import battery_words
    from mixclock.watch.setup import wanted_channels

    def say(line: str) -> None:
        if not as_json:
            typer.echo(line)

    with at_house() as house:
        channels = channels_here(wanted_channels(house, None), house.clock.now, lambda: sys.stderr)
    found = selfchecking.check(channels, lambda one: say(one.line))
    tested = selfchecking.volume_test(channels, found) if volume else None
    if tested is not None:
        say(f"volume test: {tested.receipt.detail}")
    awake = StayAwake()
    held = awake.hold()
    awake.release()
    say(f"sleep: {held.words}")
    say(f"power: {battery_words(read_power()) or 'on mains, or this machine has no battery'}")
    say(selfchecking.verdict(found))
    if as_json:
        print_json(_told(found, tested, held.held, held.words))
    if not any(one.reaches for one in found):
        raise typer.Exit(ANSWER_IS_NO)


def _told(found: list[ChannelCheck], tested: ChannelCheck | None, awake: bool, awake_words: str) -> dict[str, Any]:
    return {
        "channels": [_channel(one) for one in found],
        "volume_test": _channel(tested) if tested is not None else None,
        "stays_awake": awake,
        "stays_awake_words": awake_words,
        "reaches": any(one.reaches for one in found),
    }


def _channel(one: ChannelCheck) -> dict[str, Any]:
    receipt = one.receipt
    return {
        "name": receipt.channel,
        "outcome": receipt.outcome.value,
        "shown": receipt.shown,
        "detail": receipt.detail,
        "reaches": one.reaches,
    }
