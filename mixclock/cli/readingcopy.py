"""Says what a copy for reading still holds, so that nobody passes on a name by mistake."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mixclock.outside.withoutnames import CopyForReading

_SHOWN = 12


def copy_for_reading_lines(copy: CopyForReading, without_names: bool) -> Iterator[str]:
    """What the file is for, what is not in it, and what must be read before it is handed on."""
    yield "It is for reading: no book joins it with what it has, nobody can state in it, and it calls nobody."
    if copy.photos:
        yield f"{'No photo is' if copy.photos == 1 else f'None of the {copy.photos} photos is'} in it."
    if not without_names:
        return
    yield "The names of the job, its areas, products and lots stand in it as they are."
    if copy.free_words:
        yield "It holds free words too. The crew's names are taken out; only you can spot other names:"
        yield from (f"  {words}" for words in copy.free_words[:_SHOWN])
    if (more := len(copy.free_words) - _SHOWN) > 0:
        yield f"  and {more} more; import the file and read them with `mixclock record`."
