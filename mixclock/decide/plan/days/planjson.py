"""A plan as the log keeps it: compact JSON that reads back as the same plan."""

from __future__ import annotations

import dataclasses
import json
import types
import typing
from collections.abc import Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any

from mixclock.decide.plan.floor.plans import Plan
from mixclock.job.entry import Entry, Planned
from mixclock.job.instants import utc_from, utc_text


def plan_text(plan: Plan) -> str:
    """A plan as one line of JSON. Times are ISO 8601 in UTC; values that are as usual are left out."""
    stored = _plain(plan)
    mixers = {step.batch: step.who for step in plan.steps if step.kind == "mix"}
    for batch, told in zip(plan.batches, stored["batches"], strict=True):
        told |= {"areas": list(batch.areas), "who": mixers.get(batch.number)}
    return json.dumps(stored, ensure_ascii=False, separators=(",", ":"))


@lru_cache(maxsize=16)
def plan_from(text: str) -> Plan:
    """The plan that `plan_text` wrote; raises ValueError where it is none."""
    try:
        found: Plan = _restored(Plan, json.loads(text))
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"not a plan as this mixclock writes it: {error}") from error
    return found


def plans_in(entries: Sequence[Entry], withdrawn: frozenset[int] = frozenset()) -> tuple[Plan, ...]:
    """The plans that a log holds, the oldest first. A plan that cannot be read, such as one of a newer mixclock, is
    left out."""
    found = []
    for entry in entries:
        if isinstance(entry.facts, Planned) and entry.number not in withdrawn:
            try:
                found.append(plan_from(entry.facts.plan))
            except ValueError:
                continue
    return tuple(found)


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return utc_text(value)
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if not dataclasses.is_dataclass(value):
        return value
    shape = [(field, getattr(value, field.name)) for field in dataclasses.fields(value)]
    return {field.name: _plain(each) for field, each in shape if each != field.default}


def _restored(kind: Any, stored: Any) -> Any:
    if isinstance(kind, types.UnionType):
        inner = next(each for each in typing.get_args(kind) if each is not type(None))
        return None if stored is None else _restored(inner, stored)
    if typing.get_origin(kind) is tuple:
        inside = typing.get_args(kind)
        if len(inside) == 2 and inside[1] is Ellipsis:
            return tuple(_restored(inside[0], each) for each in stored)
        return tuple(_restored(one, each) for one, each in zip(inside, stored, strict=True))
    # not `is`: a test that holds the clock has a kind of its own, and shapes are kept
    if isinstance(kind, type) and issubclass(kind, datetime):
        return utc_from(stored)
    if not isinstance(kind, type) or not dataclasses.is_dataclass(kind):
        return stored
    shape = _shape_of(kind)
    return kind(**{name: _restored(inner, stored[name]) for name, inner in shape.items() if name in stored})


@lru_cache(maxsize=32)
def _shape_of(kind: type) -> dict[str, Any]:
    return typing.get_type_hints(kind)
