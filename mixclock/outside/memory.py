"""Keeps the daemon's memory small, where the C library lets a program say so (glibc).

glibc gives each thread a heap of its own. That is quick for many threads that ask for memory all the time, and the
daemon's few threads sleep nearly always: they share one. What a start used and left is given back to the system.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import sys
from collections.abc import Iterator

_ARENA_MAX = -8
"""M_ARENA_MAX of mallopt(3)."""

SELDOM = 10_000, 20, 20
"""How many new things there are before unused ones are looked for, and how seldom among older ones."""


def share_one_heap() -> None:
    """Let all threads share one heap. Only what begins after this call is sure to."""
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):  # another C library
            ctypes.CDLL(None).mallopt(_ARENA_MAX, 1)


def give_back() -> None:
    """Give the system what is no longer used. What stays for the day is not gone through again (`gc.freeze`)."""
    gc.collect()
    gc.freeze()
    if sys.platform == "linux":
        with contextlib.suppress(OSError, AttributeError):
            ctypes.CDLL(None).malloc_trim(0)


@contextlib.contextmanager
def tidied_seldom() -> Iterator[None]:
    """While a plan is searched, what is no longer used is looked for seldom, and not among what was there before.

    A search makes millions of small tuples and hardly a ring of them: to look for rings after every seven hundred took
    a seventh of its time. After every ten thousand it takes no more memory.
    """
    before = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()
