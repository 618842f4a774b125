"""What the base set does not bring along, taken away for a while: as on a machine where only it was installed."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import numpy


@contextmanager
def without_numpy() -> Iterator[None]:
    """Nobody finds numpy; what was remembered with it is still known, so ask of what is new."""
    sys.modules["numpy"] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        sys.modules["numpy"] = numpy
