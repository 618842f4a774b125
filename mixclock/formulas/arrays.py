"""The one door to numpy. The base set does without it; `pip install 'mixclock[fast]'` brings it where many are asked.

To load it takes as long as some ten new buckets take in plain Python, and half of what a phone's battery gives an idle
daemon. So one command never waits for it, and a long plan has it. What is answered is the same to eleven digits: the
plain way and numpy's take the same steps (`tests/formulas/test_arrays.py`).
"""

import sys
from typing import Any


def numpy_at_hand(worth_loading: bool = False) -> Any:
    """numpy where this process has it already, or where it is installed and `worth_loading`; else None.

    >>> numpy_at_hand(worth_loading=True) is numpy_at_hand()
    True
    """
    if not worth_loading and "numpy" not in sys.modules:
        return None
    try:
        import numpy  # waits for a thread that is just loading it
    except ImportError:
        return None
    return numpy
