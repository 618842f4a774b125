"""Statements for the tests, by their verb and the keys that JSON has for their fields."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mixclock.job.statements import VERBS, Statement
from mixclock.job.statements.fields import AmountKind, Names
from mixclock.job.statements.seen import quantity_named
from mixclock.units import Amount


def as_said(verb: str, what: Mapping[str, Any] | None = None, /, **more: Any) -> Statement:
    """A statement as if it had been typed: whatever its values, its own checks are still to come."""
    given, kind = {**(what or {}), **more}, VERBS[verb]
    values: dict[str, Any] = {}
    for name, field in kind.of_fields().items():
        found = {key: given.pop(key) for key in field.kind.keys(name) if key in given}
        if isinstance(field.kind, AmountKind) and any(value is not None for value in found.values()):
            litres, kilograms = (found.get(key) for key in field.kind.keys(name))
            values[name] = Amount(litres, kilograms)
        elif name in found and found[name] is not None:
            value = tuple(found[name]) if isinstance(field.kind, Names) else found[name]
            values[name] = quantity_named(value) if name == "quantity" else value
    return kind(**values, **given)
