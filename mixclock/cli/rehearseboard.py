"""The board of a rehearsal: served on this machine, opened in its browser where somebody sits in front of one."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mixclock.board.server import BoardServer
    from mixclock.outside.clock import FastClock
    from mixclock.watch.channels import BoardChannel
    from mixclock.watch.daemon import Daemon
    from mixclock.wiring import House

Say = Callable[[str], None]


class RehearsalBoard:
    """The board beside the daemon of a rehearsal; where it cannot be served the rehearsal goes on without."""

    def __init__(self, house: House, clock: FastClock, speed: float) -> None:
        """Take a free port, so that a watch that runs keeps its own."""
        from mixclock.board.desk import Wishes
        from mixclock.board.joining import JoinedHouse
        from mixclock.board.server import BoardError, BoardServer
        from mixclock.wiring import open_house

        self._holder: list[Daemon] = []
        self._server: BoardServer | None = None
        self._trouble = ""
        try:
            self._server = BoardServer(
                lambda: JoinedHouse(open_house(house.home, clock)), clock, port=0, wishes=Wishes(speed=speed)
            )
        except BoardError as error:
            self._trouble = str(error)

    @property
    def channels(self) -> list[BoardChannel]:
        """What the daemon tells the pages by."""
        from mixclock.cli.watch import channel_of

        return [channel_of(self._server, self._holder)] if self._server is not None else []

    def follow(self, daemon: Daemon) -> None:
        """Let the pages know that the daemon ticks."""
        from mixclock.cli.watch import follow

        self._holder.append(daemon)
        if self._server is not None:
            follow(self._server, daemon)

    @contextmanager
    def served(self, say: Say, may_open: bool) -> Iterator[None]:
        """Serve it while the job is played; say where it stands, and open it where there is a browser."""
        from mixclock.board.server import BoardError

        server = self._server
        try:
            if server is not None:
                server.start()
        except BoardError as error:
            self._trouble, server = str(error), None
        if server is None:
            say(f"No board: {self._trouble}")
        else:
            address = server.pairing_url()
            opened = may_open and open_in_browser(address)
            say(f"The board{', opened in your browser' if opened else ''}: {address}")
        try:
            yield
        finally:
            if server is not None:
                server.stop()


def open_in_browser(address: str) -> bool:
    """Open a page where somebody sits at this machine's screen; whether that was done."""
    if not sys.stdout.isatty() or not _has_screen():
        return False
    import webbrowser

    try:
        return webbrowser.open(address)
    except webbrowser.Error:
        return False


def _has_screen() -> bool:
    if sys.platform in ("win32", "darwin"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
