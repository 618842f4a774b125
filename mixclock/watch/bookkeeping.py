"""The daemon's care for the book: it copies the book, and tells the crew what is wrong with it."""

from __future__ import annotations

import threading
from collections.abc import Callable

from mixclock.outside.book import Book, BookError
from mixclock.outside.bookcopies import IDLE_EVERY_S, LIVE_EVERY_S, copied_again_s
from mixclock.outside.bookerrors import DiskFullError, NoRoomError
from mixclock.outside.clock import Clock, SystemClock, is_network_time
from mixclock.watch.tick import Ticker
from mixclock.watch.troubles import Troubles
from mixclock.words.watchtroubles import CLOCK_BEHIND, DRAWERS_DAMAGED, LOG_AHEAD, missing_line, unreadable_line

TRY_AGAIN_S = 60.0
PAUSE_S = 0.005
NOT_RECORDED = "Not being recorded: {why}. Deadlines are called out all the same; note by hand what is done."


class BookKeeping:
    """Copies the book when a copy is due, and says what is wrong with it."""

    def __init__(
        self,
        book: Book,
        clock: Clock,
        troubles: Troubles,
        fault: Callable[[str], None],
        trusted: Callable[[], bool | None] = is_network_time,
    ) -> None:
        """`fault` takes a line that says why there is no copy. `trusted` tells whether the network sets this clock."""
        self._trusted = trusted
        self._book, self._clock, self._troubles, self._fault = book, clock, troubles, fault
        self._due_s = float("-inf")
        self._took_s = 0.0
        self._at_it = threading.Lock()
        self._ended = threading.Event()
        self._mended = 0

    def copy_if_due(self, is_live: bool) -> None:
        """Copy the book every five minutes while a batch is live, else once a day.

        A book that takes long to copy is copied less often.
        """
        now_s = self._clock.boot_s()
        if is_live:
            self._due_s = min(self._due_s, now_s + copied_again_s(LIVE_EVERY_S, self._took_s))
        if now_s >= self._due_s and self._at_it.acquire(blocking=False):
            self._due_s = now_s + copied_again_s(LIVE_EVERY_S if is_live else IDLE_EVERY_S, self._took_s)
            threading.Thread(target=self._copy, name="copy of the book", daemon=True).start()

    def stop(self, at_most_s: float) -> None:
        """Begin no more copies, and wait that long for the one that is under way: a half copy counts for nothing, and
        nobody is told of it any more."""
        if not self._ended.is_set():
            self._ended.set()
            self._at_it.acquire(timeout=at_most_s)  # and kept: no other copy begins

    def look(self, ticker: Ticker) -> None:
        """Tell what is wrong with the book, and say so when it is mended."""
        mended = self._book.mended
        for line in mended[self._mended :]:
            self._troubles.stands("book made anew", line)
        self._mended = len(mended)
        why = self._not_recorded() or ticker.not_recorded
        self._tell("not recorded", NOT_RECORDED.format(why=why) if why else "")
        behind = False
        for name, job in tuple(ticker.watched.items()):
            unreadable = job.unreadable
            self._tell(f"unreadable in {name}", f"{name}: {unreadable_line(unreadable)}" if unreadable else "")
            self._tell(f"gone from {name}", f"{name}: {missing_line(job.lost)}" if job.lost else "")
            self._tell(f"no log of {name}", f"{name}: {job.unfolded}" if job.unfolded else "")
            behind = behind or bool(job.clock_behind)
        damaged = ", ".join(sorted(self._book.drawers.damaged))
        self._tell("drawers", DRAWERS_DAMAGED.format(what=damaged) if damaged else "")
        self._tell("clock", "" if not behind else LOG_AHEAD if self._trusted() else CLOCK_BEHIND)

    def _not_recorded(self) -> str:
        if not self._book.unrecorded:
            return ""
        try:
            self._book.record()
        except BookError as error:
            return "the disk is full" if isinstance(error, DiskFullError) else "the book cannot be written"
        return ""

    def _tell(self, name: str, line: str) -> None:
        if line:
            self._troubles.stands(name, line)
        else:
            self._troubles.over(name)

    def _copy(self) -> None:
        began_s = self._clock.monotonic_s()
        try:
            self._book.copy(lambda: SystemClock().sleep(PAUSE_S))
            self._tell("no room for a copy", "")
        except NoRoomError as error:
            self._troubles.stands("no room for a copy", str(error), "notice")
        except BookError as error:
            self._due_s = self._clock.boot_s() + TRY_AGAIN_S
            if not self._ended.is_set():
                self._fault(f"no copy of the book could be made: {error}")
        finally:
            self._took_s = self._clock.monotonic_s() - began_s
            self._due_s = max(self._due_s, self._clock.boot_s() + copied_again_s(0.0, self._took_s))
            self._at_it.release()
