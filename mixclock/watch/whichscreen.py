"""Which screen a watch has: a board on a terminal, lines elsewhere."""

from __future__ import annotations

import sys

from mixclock.outside.clock import Clock
from mixclock.watch.screen import PlainScreen


def screen_for(plain: bool, clock: Clock) -> PlainScreen:
    """The live board on a terminal; plain lines elsewhere, or where somebody asked for them."""
    if plain or not sys.stdout.isatty():
        return PlainScreen(clock)
    from mixclock.watch.livescreen import LiveScreen  # a service draws no table

    return LiveScreen(clock)
