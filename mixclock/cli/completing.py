"""What a shell offers after Tab: areas, batches, products, symptoms and the like, as this job has them.

Whatever goes wrong, nothing is offered and nothing is said: the shell shows its line as it was.
"""

from __future__ import annotations

import os
import re
from collections.abc import Callable, Iterable, Iterator
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mixclock.job.site import Site

_ASKED_BY = "_MIXCLOCK_COMPLETE"
_ESCAPES = MappingProxyType({"bash": "\\", "powershell": "`", "pwsh": "`"})


def offered(what: str, incomplete: str) -> list[str]:
    """The words of a kind that go on with what is typed so far, written as the asking shell wants them."""
    typed = re.sub(r"[\\`](?= )", "", incomplete.strip("'\"")).casefold()
    try:
        words = list(dict.fromkeys(_SOURCES[what]()))
    except Exception:  # a book that can't be read is told by the command itself, not in the middle of a line
        return []
    return [_written(word) for word in words if word.casefold().startswith(typed)]


def _written(word: str) -> str:
    """bash and PowerShell put a word in as it comes, so its spaces are escaped; the others quote it themselves."""
    escape = _ESCAPES.get(os.environ.get(_ASKED_BY, "").removeprefix("complete_"), "")
    return word.replace(" ", f"{escape} ")


def _areas() -> Iterable[str]:
    return [area.name for area in _site().areas]


def _coats() -> Iterable[str]:
    return [coat.name for coat in _site().coats]


def _people() -> Iterable[str]:
    return [person.name for person in _site().crew]


def _vessels() -> Iterable[str]:
    return [vessel.name for vessel in _site().vessels]


def _batches() -> Iterator[str]:
    from mixclock.job.entry import TOLD_BY_MACHINE
    from mixclock.wiring import open_house

    with open_house() as house:
        for batch in reversed(house.standing(skip=TOLD_BY_MACHINE).batches):
            yield str(batch.id)


def _batches_and_areas() -> Iterable[str]:
    return [*_batches(), *_areas()]


def _products() -> Iterable[str]:
    from mixclock.outside.profilefiles import names

    return names()


def _jobs() -> Iterable[str]:
    from mixclock.wiring import open_house

    with open_house() as house:
        return [line.name for line in house.book.all_jobs()]


def _symptoms() -> Iterable[str]:
    from mixclock.decide.why import SYMPTOMS

    return SYMPTOMS


def _shapes() -> Iterable[str]:
    from mixclock.decide.why import SHAPES

    return SHAPES


def _signs() -> Iterable[str]:
    from mixclock.job.naming import SIGNS

    return SIGNS


def _steps() -> Iterable[str]:
    from mixclock.job.steps import STATED_ANYWHERE

    return STATED_ANYWHERE


def _ticks() -> Iterable[str]:
    from mixclock.words.ticklist import tick_choices

    return tick_choices()


def _traffic() -> Iterable[str]:
    from mixclock.job.steps import TRAFFIC

    return TRAFFIC


def _site() -> Site:
    from mixclock.wiring import open_house

    with open_house() as house:
        return house.site()


_SOURCES: MappingProxyType[str, Callable[[], Iterable[str]]] = MappingProxyType(
    {
        "areas": _areas,
        "coats": _coats,
        "people": _people,
        "vessels": _vessels,
        "batches": _batches,
        "batches and areas": _batches_and_areas,
        "products": _products,
        "jobs": _jobs,
        "symptoms": _symptoms,
        "shapes": _shapes,
        "signs": _signs,
        "steps": _steps,
        "ticks": _ticks,
        "traffic": _traffic,
    }
)
