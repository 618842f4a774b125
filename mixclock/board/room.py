"""The one thread that asks the house. A long question lets the others pass: no statement waits for it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from mixclock.decide.plan.search.givingway import giving_way

T = TypeVar("T")

REST_S = 0.02
"""How long a long question still rests when nothing waits any more: what was stated is being sent to the phones."""


class HouseRoom:
    """Asks the house in the order of the questions, all on one thread: a connection to the book belongs to one."""

    def __init__(self) -> None:
        self._waiting: SimpleQueue[tuple[Future[Any], Callable[[], Any]] | None] = SimpleQueue()
        self._closing = False
        self._thread = threading.Thread(target=self._work, name="board-house", daemon=True)
        self._thread.start()

    def ask(self, what: Callable[[], T]) -> Future[T]:
        """Put a question in line. Any thread may."""
        if self._closing:
            raise RuntimeError("the board is closed")
        return self._put(what)

    def ask_patiently(self, what: Callable[[], T]) -> Future[T]:
        """Put a long question in line. What comes while it is worked out is answered between two of its tries.

        Only one at a time: one within another would hold it up.
        """

        def patient() -> T:
            with giving_way(self._let_pass):
                return what()

        return self.ask(patient)

    def close(self, *last: Callable[[], Any]) -> None:
        """Ask the last questions after all others, and wait until they are answered."""
        self._closing = True
        for what in last:
            self._put(what)
        self._waiting.put(None)
        self._thread.join()

    def _put(self, what: Callable[[], T]) -> Future[T]:
        future: Future[T] = Future()
        self._waiting.put((future, what))
        return future

    def _work(self) -> None:
        while (asked := self._waiting.get()) is not None:
            _answer(*asked)

    def _let_pass(self) -> None:
        """Answer what waits, and rest until nothing came for a moment. The last questions of all stay in line."""
        if self._waiting.empty():
            return
        with giving_way(None):
            while not self._closing:
                try:
                    asked = self._waiting.get(timeout=REST_S)
                except Empty:
                    return
                if asked is None:
                    self._waiting.put(None)
                    return
                _answer(*asked)


def _answer(future: Future[Any], what: Callable[[], Any]) -> None:
    if not future.set_running_or_notify_cancel():
        return
    try:
        told = what()
    except BaseException as failure:
        future.set_exception(failure)
    else:
        future.set_result(told)
