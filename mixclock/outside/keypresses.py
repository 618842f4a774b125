"""Reads keys from the terminal, a pedal's too: which bytes they type, and whether one was pressed or held.

A terminal does not tell when a key is released. A held key comes again and again instead: first after a quarter to two
thirds of a second, then some twenty times a second.
"""

from __future__ import annotations

import contextlib
import os
import select
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from types import MappingProxyType
from typing import Literal

from mixclock.outside.clock import Clock
from mixclock.values import dataclass

HELD_S = 0.7
"""Held so long it is a long press, as on the page."""

RELEASED_S = 0.8
"""A single key that does not come again within this was let go: the slowest terminals repeat after 0.66 s."""

BETWEEN_REPEATS_S = 0.25
"""Repeats come closer together than this; what comes later is another press."""

LOOK_S = 0.05

NAMED: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Enter": ("\r", "\n"),
        " ": (" ",),
        "Space": (" ",),
        "Tab": ("\t",),
        "PageUp": ("\x1b[5~",),
        "PageDown": ("\x1b[6~",),
        "Home": ("\x1b[H", "\x1b[1~", "\x1bOH"),
        "End": ("\x1b[F", "\x1b[4~", "\x1bOF"),
        "F1": ("\x1bOP", "\x1b[11~"),
        "F2": ("\x1bOQ", "\x1b[12~"),
        "F3": ("\x1bOR", "\x1b[13~"),
        "F4": ("\x1bOS", "\x1b[14~"),
        "F5": ("\x1b[15~",),
        "F6": ("\x1b[17~",),
        "F7": ("\x1b[18~",),
        "F8": ("\x1b[19~",),
        "F9": ("\x1b[20~",),
        "F10": ("\x1b[21~",),
        "F11": ("\x1b[23~",),
        "F12": ("\x1b[24~",),
    }
)
"""What keys type that are no letters, by the names that browsers give them (the usual codes of xterm)."""

Pressed = Literal["press", "hold"]


def codes_of(key: str) -> tuple[str, ...]:
    """What a key types; raises `ValueError` for one that types nothing into a terminal.

    >>> codes_of("b"), codes_of("PageDown")
    (('b',), ('\\x1b[6~',))
    >>> codes_of("AudioVolumeUp")
    Traceback (most recent call last):
    ValueError: 'AudioVolumeUp' types nothing into a terminal: set a letter, Enter, Space, PageDown or F1 to F12
    """
    if key in NAMED:
        return NAMED[key]
    if len(key) == 1 and key.isprintable():
        return (key,)
    raise ValueError(f"'{key}' types nothing into a terminal: set a letter, Enter, Space, PageDown or F1 to F12")


@dataclass
class KeyHand:
    """Tells a press from a hold by the times at which a key comes. `hears` and `looks` tell which, and since when."""

    began_s: float | None = None
    latest_s: float = 0.0
    times: int = 0
    is_held: bool = False

    def hears(self, at_s: float) -> tuple[Pressed, float] | None:
        """Take in that the key came."""
        if self.began_s is None:
            self.began_s, self.latest_s, self.times, self.is_held = at_s, at_s, 1, False
            return None
        self.latest_s, self.times = at_s, self.times + 1
        if not self.is_held and at_s - self.began_s >= HELD_S and self.times > 2:
            self.is_held = True
            return "hold", self.began_s
        return None

    def looks(self, at_s: float) -> tuple[Pressed, float] | None:
        """Take in that nothing came: perhaps the key was let go."""
        if self.began_s is None:
            return None
        silent_s = at_s - self.latest_s
        if silent_s < BETWEEN_REPEATS_S or at_s - self.began_s < RELEASED_S:
            return None
        began_s, was_held = self.began_s, self.is_held
        self.began_s = None
        return None if was_held else ("press", began_s)


def presses(
    keys: Mapping[str, tuple[str, ...]], clock: Clock, stopped: Callable[[], bool]
) -> Iterator[tuple[str, Pressed, float]]:
    """Give each press and hold of keys on this terminal, with how many seconds ago it began, until stopped.

    `keys` holds what each key types, by a name that comes back with its presses.
    """
    hands, rest = {name: KeyHand() for name in keys}, ""
    with _raw_keys(clock) as read:
        while not stopped():
            typed = read()
            if typed is None:
                return
            struck, rest = _struck(rest + typed, keys)
            now_s = clock.monotonic_s()
            heard = [(name, hands[name].hears(now_s)) for name in struck]
            for name, found in (*heard, *((name, hand.looks(now_s)) for name, hand in hands.items())):
                if found is not None:
                    yield name, found[0], now_s - found[1]


def _struck(typed: str, keys: Mapping[str, tuple[str, ...]]) -> tuple[list[str], str]:
    """The keys that were struck, in order, and the beginning of a key whose rest may follow."""
    struck: list[str] = []
    every = [(name, code) for name, codes in keys.items() for code in codes]
    while typed:
        name, code = next(((name, code) for name, code in every if typed.startswith(code)), (None, ""))
        if name is None and any(code.startswith(typed) for _, code in every):
            return struck, typed
        struck += [name] if name is not None else []
        typed = typed[len(code) or 1 :]
    return struck, ""


@contextmanager
def _raw_keys(clock: Clock) -> Iterator[Callable[[], str | None]]:
    """Read keys as they are typed, without Enter and without an echo. Ctrl-C still ends the program.

    The function that it gives waits a moment, then answers what was typed; None once the terminal is gone. A program in
    the background must not touch the terminal: the system would stop it, and it would call out nothing any more.
    """
    if sys.platform == "win32":
        yield lambda: _read_windows(clock)
        return
    import termios
    import tty

    handle, before = sys.stdin.fileno(), None

    def read() -> str | None:
        nonlocal before
        try:
            if os.tcgetpgrp(handle) != os.getpgrp():
                clock.sleep(LOOK_S)
                return ""
            if before is None:
                before = termios.tcgetattr(handle)
                tty.setcbreak(handle)
            return _read_posix(handle)
        except (OSError, termios.error):
            return None

    try:
        yield read
    finally:
        with contextlib.suppress(OSError, termios.error):
            if before is not None and os.tcgetpgrp(handle) == os.getpgrp():
                termios.tcsetattr(handle, termios.TCSANOW, before)


def _read_posix(handle: int) -> str | None:
    ready, _, _ = select.select([handle], [], [], LOOK_S)
    if not ready:
        return ""
    typed = os.read(handle, 1024)
    return typed.decode("utf-8", "replace") if typed else None


def _read_windows(clock: Clock) -> str:
    import msvcrt

    clock.sleep(LOOK_S)
    typed = ""
    while msvcrt.kbhit():  # type: ignore[attr-defined,unused-ignore]
        typed += msvcrt.getwch()  # type: ignore[attr-defined,unused-ignore]
    return typed
