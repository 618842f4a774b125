"""The one door to numpy. Mixclock works without it; `pip install 'mixclock[fast]'` adds it for work on many buckets.

Loading numpy takes as long as some ten new buckets in plain Python, and half of the battery that a phone can spare for
an idle daemon. So a single command never waits for it, and a long plan uses it. Both ways take the same steps, and
their answers agree to eleven digits (`tests/formulas/test_arrays.py`).
"""

import sys
from typing import Any


def numpy_at_hand(worth_loading: bool = False) -> Any:
    """numpy if this process has loaded it, or if it is installed and `worth_loading`; else None.

    >>> numpy_at_hand(worth_loading=True) is numpy_at_hand()
    True
    """
    if not worth_loading and "numpy" not in sys.modules:
        return None
    try:
        import numpy  # waits if another thread is loading it now
    except ImportError:
        return None
    return numpy
