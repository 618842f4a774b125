"""Turns what a person said into entries for the log, given the job as it stands.

Each verb of the command line and of the board is one pure function: `(standing, said, **what was said) -> drafts`. It
raises `CannotTellError`, one line, where the statement cannot be taken; nothing is written then.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from mixclock.job.drafts import Draft
from mixclock.job.saying import CannotTellError, Said
from mixclock.job.statingfloor import began, did, flaked, rolled
from mixclock.job.statingmix import mixed, mixing, poured
from mixclock.job.statingseen import (
    QUANTITIES,
    finished,
    found,
    heard,
    measured,
    noted,
    photo,
    quantity_named,
    reading,
    saw,
    traffic,
    value_alone,
    withdraw,
)

Verb = Callable[..., tuple[Draft, ...]]

VERBS: Mapping[str, Verb] = MappingProxyType(
    {
        verb.__name__: verb
        for verb in (
            mixing,
            mixed,
            poured,
            rolled,
            flaked,
            did,
            began,
            reading,
            measured,
            noted,
            photo,
            traffic,
            saw,
            found,
            heard,
            finished,
            withdraw,
        )
    }
)

__all__ = ["QUANTITIES", "VERBS", "CannotTellError", "Draft", "Said", "Verb", "quantity_named", "value_alone"]
