"""Facts as the book stores them, and back again."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mixclock.job.entry import KINDS, Facts
from mixclock.job.frozen import REQUIRED


def facts_to(facts: Facts) -> dict[str, Any]:
    """Facts as JSON-ready values; what is None or empty is left out, so that old entries stay readable.

    >>> from mixclock.job.entry import Poured
    >>> facts_to(Poured(batch=3, areas=("bay 1",)))
    {'batch': 3, 'areas': ['bay 1']}
    """
    stored: dict[str, Any] = {}
    for name in facts.fields:
        value = getattr(facts, name)
        if value is not None and value != facts.defaults.get(name, REQUIRED):
            stored[name] = list(value) if isinstance(value, tuple) else value
    return stored


def facts_from(kind: str, stored: Mapping[str, Any]) -> Facts:
    """Facts of a kind from what the book stored.

    >>> facts_from("poured", {"batch": 3, "areas": ["bay 1"]})
    Poured(batch=3, areas=('bay 1',), part_l=None, part_kg=None, covered_m2=None)
    """
    if kind not in KINDS:
        raise ValueError(f"an entry of kind '{kind}' is unknown here; the book was written by a newer mixclock")
    known = KINDS[kind]
    values: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value
        for name, value in stored.items()
        if name in known.fields
    }
    return known(**values)
