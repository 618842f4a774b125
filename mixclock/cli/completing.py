"""What a shell offers after Tab: areas, batches, products, symptoms and the like, as this job has them.

Whatever goes wrong, nothing is offered and nothing is said: the shell shows its line as it was.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from functools import partial
from importlib import import_module
from types import MappingProxyType
from typing import Any, cast

_ASKED_BY = "_MIXCLOCK_COMPLETE"
_ESCAPES = MappingProxyType({"bash": "\\", "powershell": "`", "pwsh": "`"})


def offered(what: str, incomplete: str) -> list[str]:
    """The words of a kind that begin with what is typed so far, in the form that the shell wants."""
    typed = re.sub(r"[\\`](?= )", "", incomplete.strip("'\"")).casefold()
    try:
        words = list(dict.fromkeys(_SOURCES[what]()))
    except (
        Exception
    ):  # the command itself reports a book that can't be read: a message now would break the line being typed
        return []
    return [_written(word) for word in words if word.casefold().startswith(typed)]


def _written(word: str) -> str:
    """bash and PowerShell put a word in as it comes, so its spaces are escaped; the others quote it themselves."""
    escape = _ESCAPES.get(os.environ.get(_ASKED_BY, "").removeprefix("complete_"), "")
    return word.replace(" ", f"{escape} ")


def _named_on_site(what: str) -> Iterable[str]:
    from mixclock.wiring import open_house

    with open_house() as house:
        return [each.name for each in getattr(house.site(), what)]


def _batches() -> Iterator[str]:
    from mixclock.job.entry import TOLD_BY_MACHINE
    from mixclock.wiring import open_house

    with open_house() as house:
        for batch in reversed(house.standing(skip=TOLD_BY_MACHINE).batches):
            yield str(batch.id)


def _batches_and_areas() -> Iterable[str]:
    return [*_batches(), *_named_on_site("areas")]


def _jobs() -> Iterable[str]:
    from mixclock.wiring import open_house

    with open_house() as house:
        return [line.name for line in house.book.all_jobs()]


def _ticks() -> Iterable[str]:
    from mixclock.words.ticklist import tick_choices

    return tick_choices()


def _kept_in(module: str, name: str) -> Iterable[str]:
    """A list of words, or a function that gives one, imported only now."""
    words: Any = getattr(import_module(f"mixclock.{module}"), name)
    return cast(Iterable[str], words() if callable(words) else words)


_SOURCES: MappingProxyType[str, Callable[[], Iterable[str]]] = MappingProxyType(
    {
        "areas": partial(_named_on_site, "areas"),
        "coats": partial(_named_on_site, "coats"),
        "people": partial(_named_on_site, "crew"),
        "vessels": partial(_named_on_site, "vessels"),
        "batches": _batches,
        "batches and areas": _batches_and_areas,
        "products": partial(_kept_in, "outside.profilefiles", "names"),
        "jobs": _jobs,
        "symptoms": partial(_kept_in, "decide.why", "SYMPTOMS"),
        "shapes": partial(_kept_in, "decide.why", "SHAPES"),
        "signs": partial(_kept_in, "job.naming", "SIGNS"),
        "steps": partial(_kept_in, "job.steps", "STATED_ANYWHERE"),
        "ticks": _ticks,
        "traffic": partial(_kept_in, "job.steps", "TRAFFIC"),
    }
)
