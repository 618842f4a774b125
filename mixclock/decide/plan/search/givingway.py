"""Lets a long search stand aside for a moment, where whoever asked it has something to do that cannot wait."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_ASIDE: ContextVar[Callable[[], None] | None] = ContextVar("what a search lets pass", default=None)


@contextmanager
def giving_way(aside: Callable[[], None] | None) -> Iterator[None]:
    """While this is open, a search of this thread calls `aside` between two tries. None: it goes straight through.

    >>> passed = []
    >>> with giving_way(lambda: passed.append("a bucket is poured")):
    ...     give_way()
    >>> give_way()
    >>> passed
    ['a bucket is poured']
    """
    token = _ASIDE.set(aside)
    try:
        yield
    finally:
        _ASIDE.reset(token)


def give_way() -> None:
    """Called by a search between two tries, where it holds nothing that another question could change."""
    aside = _ASIDE.get()
    if aside is not None:
        aside()
