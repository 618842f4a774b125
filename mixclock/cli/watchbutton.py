"""The keys of `mixclock watch`: a pedal that types into its terminal, and the question of the next kit; by voice."""

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

BEGUN = (
    "The pedal is {key}: a press states the next step, a long press says what is next, three long ones take it back."
)
ASK_KEY = "n"
ASKED_BY = "Press n here to ask whether the next kit may be opened."
PEDAL, ASK = "pedal", "next"

LET_GO_S = 1.0
"""How long the end waits until the terminal is as it was."""


def begin_button(
    house: House, daemon: Daemon, key: str | None, say: Say, stopped: Callable[[], bool]
) -> threading.Thread | None:
    """Listen to the keys on a thread of their own where somebody sits at a terminal: the pedal where one is set, and
    the one that asks for the next kit."""
    if not sys.stdin.isatty():
        return None
    keys = _keys(key, say)
    work = threading.Thread(target=lambda: _listen(house, daemon, keys, say, stopped), name="button", daemon=True)
    work.start()
    return work


def _keys(key: str | None, say: Say) -> dict[str, tuple[str, ...]]:
    """What each key types; a pedal that types what asks for the next kit is the pedal."""
    from mixclock.outside.keypresses import codes_of

    keys = {}
    if key is not None:
        try:
            keys[PEDAL] = codes_of(key)
            say(BEGUN.format(key=key))
        except ValueError as error:
            say(f"!  {error}")
    if keys.get(PEDAL) != (ASK_KEY,):
        keys[ASK] = (ASK_KEY,)
        say(ASKED_BY)
    return keys


def _listen(
    house: House, daemon: Daemon, keys: dict[str, tuple[str, ...]], say: Say, stopped: Callable[[], bool]
) -> None:
    from datetime import timedelta
    from functools import partial

    from mixclock.board.button import OneButton
    from mixclock.board.joining import JoinedHouse
    from mixclock.outside.keypresses import presses
    from mixclock.wiring import open_house

    voice = next((channel for channel in daemon.channels.every if channel.name == "voice"), None)
    joined = None
    try:
        for name, kind, ago_s in presses(keys, house.clock, stopped):
            if joined is None:  # loaded only with the first key: many a watch never gets one
                joined = JoinedHouse(open_house(house.home, house.clock, house.book.unrecorded))
                button = OneButton(joined)
            at = house.clock.now() - timedelta(seconds=ago_s)
            act = button.ask if name == ASK else button.press if kind == "press" else button.hold
            words = _answered(daemon, partial(act, at))
            if words:
                say(f"   {words}")
                _speak(voice, words)
    finally:
        if joined is not None:
            joined.close()


def _answered(daemon: Daemon, work: Callable[[], str]) -> str:
    """What the button answers. A fault is told, and the watch goes on."""
    try:
        return work()
    except Exception as error:  # a press that fails must not stop the next one
        daemon.faults.tell(f"the key: {type(error).__name__}: {error}")
        return "Not stated: the key met a fault. Look at the board."


def _speak(voice: Channel | None, words: str) -> None:
    """Say it aloud at once: the person who pressed cannot look."""
    from mixclock.outside.channels.message import Message

    if voice is not None:
        message = Message("button", "critical", "", words, words)
        threading.Thread(target=lambda: voice.send(message), name="button voice", daemon=True).start()
