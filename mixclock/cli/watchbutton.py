"""The one button of `mixclock watch`: a pedal or shutter key that types into its terminal, answered by voice."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mixclock.outside.channels.message import Channel
    from mixclock.watch.daemon import Daemon
    from mixclock.wiring import House

Say = Callable[[str], None]

BEGUN = "The pedal is {key}: a press states the next step, held it says what is next, held three times it takes back."


LET_GO_S = 1.0
"""How long the end waits until the terminal is as it was."""


def begin_button(
    house: House, daemon: Daemon, key: str | None, say: Say, stopped: Callable[[], bool]
) -> threading.Thread | None:
    """Listen to the pedal on a thread of its own, where one is set and somebody sits at a terminal."""
    from mixclock.outside.keypresses import codes_of

    if key is None or not sys.stdin.isatty():
        return None
    try:
        codes = codes_of(key)
    except ValueError as error:
        say(f"!  {error}")
        return None
    say(BEGUN.format(key=key))
    work = threading.Thread(target=lambda: _listen(house, daemon, codes, say, stopped), name="button", daemon=True)
    work.start()
    return work


def _listen(house: House, daemon: Daemon, codes: tuple[str, ...], say: Say, stopped: Callable[[], bool]) -> None:
    from datetime import timedelta
    from functools import partial

    from mixclock.board.button import OneButton
    from mixclock.board.joining import JoinedHouse
    from mixclock.outside.keypresses import presses
    from mixclock.wiring import open_house

    joined = JoinedHouse(open_house(house.home, house.clock, house.book.unrecorded))
    voice = next((channel for channel in daemon.channels.every if channel.name == "voice"), None)
    try:
        button = OneButton(joined)
        for kind, ago_s in presses(codes, house.clock, stopped):
            at = house.clock.now() - timedelta(seconds=ago_s)
            words = _answered(daemon, partial(button.press if kind == "press" else button.hold, at))
            if words:
                say(f"   {words}")
                _speak(voice, words)
    finally:
        joined.close()


def _answered(daemon: Daemon, work: Callable[[], str]) -> str:
    """What the button answers; whatever goes wrong is said and ends nothing."""
    try:
        return work()
    except Exception as error:  # the next press must be heard whatever this one met
        daemon.faults.tell(f"the pedal: {type(error).__name__}: {error}")
        return "Not stated: the pedal met a fault. Look at the board."


def _speak(voice: Channel | None, words: str) -> None:
    """Aloud, at once: somebody waits for it who cannot look."""
    from mixclock.outside.channels.message import Message

    if voice is not None:
        message = Message("button", "critical", "", words, words)
        threading.Thread(target=lambda: voice.send(message), name="button voice", daemon=True).start()
