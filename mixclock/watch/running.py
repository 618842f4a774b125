"""Runs the daemon in the foreground until it is told to end."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from mixclock.watch.daemon import Daemon
from mixclock.watch.screen import PlainScreen

REDRAW_S = 0.5


def run(
    daemon: Daemon,
    screen: PlainScreen,
    begun: Callable[[], None] = lambda: None,
    ended: Callable[[], None] = lambda: None,
) -> None:
    """Watch until SIGINT or SIGTERM. `begun` is called after the first look, `ended` before the last receipts."""
    stop = threading.Event()
    with told_by_signal(stop):
        daemon.start()
        try:
            screen.follow(daemon)
            begun()
            with screen.shown():
                screen.refresh(daemon)
                while not stop.wait(REDRAW_S):
                    screen.refresh(daemon)
        finally:
            ended()
            daemon.stop()


@contextmanager
def told_by_signal(stop: threading.Event) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM end the watch in order. A second Ctrl-C ends it at once."""

    def end(number: int, _: FrameType | None) -> None:
        if stop.is_set() and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop.set()

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
