"""Whether the network keeps this machine's clock right, as far as the system says so."""

from __future__ import annotations

import ctypes
import sys

_ROOM_BYTES = 512
"""More than any kernel's `struct timex` takes."""

_NOT_SYNCHRONISED = 5
"""TIME_ERROR of adjtimex(2): the clock is not synchronised."""


def is_network_time() -> bool | None:
    """Whether the kernel's clock is synchronised (adjtimex(2)); None where the system does not say."""
    if sys.platform != "linux":
        return None
    try:
        answered = ctypes.CDLL(None).adjtimex(ctypes.create_string_buffer(_ROOM_BYTES))
    except (OSError, AttributeError):
        return None
    return None if answered < 0 else answered != _NOT_SYNCHRONISED
