"""How many examples a property is tried on: many in the long form, a third of them in every run."""

from __future__ import annotations

from typing import Any

from hypothesis import settings

LEAST = 8
"""Fewer say little."""
LONG_FORM = 100
"""Where so many are tried of each property that does not say how many (tests/conftest.py), the run is a long one."""


def examples(many: int, **rest: Any) -> settings:
    """What a property of its own number of examples is run with; what else hypothesis takes goes along."""
    in_full = settings.default.max_examples >= LONG_FORM
    return settings(max_examples=many if in_full else min(many, max(many // 3, LEAST)), **rest)
