"""Looks into the logger folders on a thread of its own, so that a large export delays no call."""

from __future__ import annotations

import threading
from collections.abc import Callable

from mixclock.outside.book import Book
from mixclock.outside.clock import Clock
from mixclock.outside.loggerfolders import FolderWatch

LOOKED_EVERY_S = 30.0
LAST_LOOK_S = 2.0


class FolderThread:
    """Begins with the watch and ends with it. `say` is told what was taken, `tell` what went wrong."""

    def __init__(self, book: Book, clock: Clock, say: Callable[[str], None], tell: Callable[[str], None]) -> None:
        self._folders, self._clock = FolderWatch(book), clock
        self._say, self._tell = say, tell
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name="logger folders", daemon=True)

    def start(self) -> None:
        """Look from now on."""
        self._thread.start()

    def stop(self) -> None:
        """Look no more."""
        self._stop.set()
        self._thread.join(LAST_LOOK_S)

    def look(self) -> None:
        """Look once. A bad folder or file does not end the looking."""
        try:
            for line in self._folders.look(self._clock.now()):
                self._say(f"Logger: {line}")
        except Exception as defect:
            self._tell(f"logger folders: {type(defect).__name__}: {defect}")

    def _run(self) -> None:
        self.look()
        while not self._stop.wait(LOOKED_EVERY_S):
            self.look()
