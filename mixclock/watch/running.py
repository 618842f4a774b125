"""Runs the daemon in the foreground until it is told to end."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

from mixclock.job.entry import WatchEvent
from mixclock.watch.daemon import Daemon
from mixclock.watch.screen import PlainScreen

REDRAW_S = 0.5
LAST_LINES_S = 2.0
TERMINAL_SHUT = "The terminal was shut. mixclock goes on watching; mixclock watch --stop ends it."


def run(
    daemon: Daemon,
    screen: PlainScreen,
    begun: Callable[[], None] = lambda: None,
    ended: Callable[[], None] = lambda: None,
) -> None:
    """Watch until SIGINT or SIGTERM. `begun` is called after the first look, `ended` before the last receipts."""
    stop, shut = threading.Event(), threading.Event()
    with told_by_signal(stop, shut):
        daemon.start()
        drawing = threading.Thread(target=lambda: _draw(screen, daemon, stop), name="screen", daemon=True)
        try:
            screen.follow(daemon)
            begun()
            drawing.start()
            while not stop.wait(REDRAW_S):
                if shut.is_set() or screen.gone:
                    shut.clear()
                    _go_on_without_terminal(daemon, screen)
        finally:
            stop.set()
            ended()
            daemon.stop()
            if drawing.is_alive():
                drawing.join(LAST_LINES_S)


def _draw(screen: PlainScreen, daemon: Daemon, stop: threading.Event) -> None:
    """On a thread of its own: a terminal that was paused must hold up nothing but itself."""
    with screen.shown():
        screen.refresh(daemon)
        while not stop.wait(REDRAW_S):
            screen.refresh(daemon)


def _go_on_without_terminal(daemon: Daemon, screen: PlainScreen) -> None:
    if not screen.leave():
        return
    daemon.ticker.tell(WatchEvent("terminal shut", TERMINAL_SHUT))
    daemon.troubles.stands("terminal", TERMINAL_SHUT, "timely")


@contextmanager
def told_by_signal(stop: threading.Event, shut: threading.Event | None = None) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM end the watch in order. A second Ctrl-C ends it at once. `shut` is set where the
    terminal was shut, which ends nothing; without it that ends the process as usual."""

    def end(number: int, _: FrameType | None) -> None:
        if stop.is_set() and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop.set()

    wanted: dict[int, Any] = {signal.SIGINT: end, signal.SIGTERM: end}
    if shut is not None and hasattr(signal, "SIGHUP"):
        wanted[signal.SIGHUP] = lambda *_: shut.set()
    before = {number: signal.signal(number, handler) for number, handler in wanted.items()}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
