"""Runs the daemon in the foreground until it is told to end."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from queue import Empty, SimpleQueue
from types import FrameType
from typing import Any

from mixclock.job.entry import WatchEvent
from mixclock.watch.daemon import Daemon
from mixclock.watch.screen import PlainScreen

REDRAW_S, RESTS_S = 0.5, 2.0
"""How often a screen is drawn, and how long the main thread rests where nothing is drawn. A signal wakes it, but for
one that comes in the instant before it lies down: Python tells of that when it wakes by itself."""

LAST_LINES_S = 2.0
TERMINAL_SHUT = "The terminal was shut. mixclock goes on watching; mixclock watch --stop ends it."


class SignalFlag:
    """Set by the handler of a signal, and waited for by the main thread.

    An Event of `threading` is not safe there: its lock is held for an instant while somebody sets it or begins to wait.
    A handler interrupts the main thread at any instant; if that thread holds the lock, the handler waits for ever.
    A handler may put into a `SimpleQueue`.
    """

    def __init__(self) -> None:
        self._is_set = False
        self._told: SimpleQueue[None] = SimpleQueue()

    def is_set(self) -> bool:
        """Whether it was set."""
        return self._is_set

    def set(self) -> None:
        """Set it, and wake who waits."""
        self._is_set = True
        self._told.put(None)

    def nudge(self) -> None:
        """Wake who waits, and set nothing."""
        self._told.put(None)

    def clear(self) -> None:
        """Take it back."""
        self._is_set = False

    def wait(self, span_s: float) -> bool:
        """Wait until it is set, at most so long. Tells whether it is set."""
        if not self._is_set:
            with suppress(Empty):
                self._told.get(timeout=span_s)
        return self._is_set


def run(
    daemon: Daemon,
    screen: PlainScreen,
    begun: Callable[[], None] = lambda: None,
    ended: Callable[[], None] = lambda: None,
) -> None:
    """Watch until SIGINT or SIGTERM. `begun` is called after the first look, `ended` before the last receipts."""
    stop, shut, over = SignalFlag(), SignalFlag(), threading.Event()
    with told_by_signal(stop, shut):
        daemon.start()
        drawing = threading.Thread(target=lambda: _draw(screen, daemon, over), name="screen", daemon=True)
        try:
            screen.follow(daemon)
            begun()
            if screen.redraws:
                drawing.start()
            while not stop.wait(REDRAW_S if screen.redraws else RESTS_S):
                if shut.is_set() or screen.gone:
                    shut.clear()
                    _go_on_without_terminal(daemon, screen)
        finally:
            over.set()
            ended()
            daemon.stop()
            if drawing.is_alive():
                drawing.join(LAST_LINES_S)


def _draw(screen: PlainScreen, daemon: Daemon, over: threading.Event) -> None:
    """Draw on a thread of its own, so that a paused terminal holds up nothing else."""
    with screen.shown():
        screen.refresh(daemon)
        while not over.wait(REDRAW_S):
            screen.refresh(daemon)


def _go_on_without_terminal(daemon: Daemon, screen: PlainScreen) -> None:
    if not screen.leave():
        return
    daemon.ticker.tell(WatchEvent("terminal shut", TERMINAL_SHUT))
    daemon.troubles.stands("terminal", TERMINAL_SHUT, "timely")


@contextmanager
def told_by_signal(stop: SignalFlag, shut: SignalFlag | None = None) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM end the watch in order. A second Ctrl-C ends it at once. `shut` is set where the
    terminal was shut, and the watch goes on. Without `shut` a shut terminal ends the process as usual."""

    def end(number: int, _: FrameType | None) -> None:
        if stop.is_set() and number == signal.SIGINT:
            raise KeyboardInterrupt
        stop.set()

    def shut_now(_: int, __: FrameType | None) -> None:
        assert shut is not None
        shut.set()
        stop.nudge()

    wanted: dict[int, Any] = {signal.SIGINT: end, signal.SIGTERM: end}
    if shut is not None and hasattr(signal, "SIGHUP"):
        wanted[signal.SIGHUP] = shut_now
    before = {number: signal.signal(number, handler) for number, handler in wanted.items()}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
