"""Histories made of others: shifted, moved by a doubt, the colder or the warmer of several."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from hashlib import sha256

from mixclock.formulas.history import History, Past
from mixclock.formulas.past import ForgottenError


def shifted_by(history: History, by: float) -> History:
    """A history as much higher throughout."""
    past = history.past and history.past.turned(f"+{by!r}", lambda whole: shifted_by(whole, by))
    return History(history.times_s, tuple(value + by for value in history.values), past)


def moved_by(history: History, by: History, sense: float) -> History:
    """A history moved by another one."""
    times = sorted({*history.times_s, *_since(by, history.known_from_s)})
    both = zip(history.along(times), by.along(times), strict=True)
    past = None
    if history.past is not None:
        held = _held_until(by, history.known_from_s)
        later = _told(by.times_s, by.values, sense)
        past = history.past.turned(f"+{sense * held!r}", lambda whole: moved_by(whole, by, sense), later)
    return History(tuple(times), tuple(value + sense * doubt for value, doubt in both), past)


def outermost(histories: Sequence[History], pick: Callable[[Iterable[float]], float]) -> History:
    """The colder or the warmer of several at each of their knots."""
    if len(histories) == 1:
        return histories[0]
    name = "min" if pick is min else "max"
    return combined(histories, pick, name)


def combined(histories: Sequence[History], value: Callable[[Sequence[float]], float], name: str) -> History:
    """What follows from the values of several histories at each of their knots; `name` tells how it follows."""
    from_s = max(history.known_from_s for history in histories)
    times = sorted({at for history in histories for at in _since(history, from_s)})
    every = zip(*(history.along(times) for history in histories), strict=True)
    found = tuple(value(values) for values in every)
    known = next((history.past for history in histories if history.past is not None), None)
    if known is None:
        return History(tuple(times), found)
    label = f"{name}({','.join(label_of(history, from_s) for history in histories)})"
    own = f"{name}({','.join(own_name(history) for history in histories)})"
    past = Past(label, known.notes, lambda: combined([history.whole for history in histories], value, name), own)
    return History(tuple(times), found, past)


def label_of(history: History, until_s: float) -> str:
    """What tells a history up to an instant from others: its past by name, and its values that are at hand."""
    past = "" if history.past is None else history.past.label
    if history.past is not None and until_s <= history.known_from_s:
        return past
    last = bisect_right(history.times_s, until_s)
    return past + _told(history.times_s[:last], history.values[:last], history.at(until_s))


def own_name(history: History) -> str:
    """What tells a whole history from others."""
    return history.past.own if history.past is not None else _told(history.times_s, history.values)


def _told(*figures: object) -> str:
    return sha256(repr(figures).encode()).hexdigest()[:20]


def _since(history: History, from_s: float) -> tuple[float, ...]:
    """The knots of a history from an instant on, and the instant itself."""
    if math.isinf(from_s):
        return history.times_s
    return from_s, *history.times_s[bisect_left(history.times_s, from_s) :]


def _held_until(by: History, until_s: float) -> float:
    """What a history holds at up to an instant; where it moves before, the past of what it moves is another one."""
    held = by.values[: bisect_right(by.times_s, until_s)]
    if any(value != by.values[0] for value in (*held, by.at(until_s))):
        raise ForgottenError("a doubt changes before the readings that are at hand")
    return by.values[0]
