"""A command line in its plain form, read without the library: a statement is made with a bucket in the other hand.

Loading typer takes as long as two rows of the book. Words in their places and known options with their values are read
here, by the same description that typer is given. Everything else (help, completion, a slip, a value that begins with a
dash, an option said twice) is left to typer, whose answer then stands.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from mixclock.cli.shared import SharedOption


class PlainWord(NamedTuple):
    """A word in its place; `many` takes all that follow."""

    name: str
    many: bool
    needed: bool


class PlainOption(NamedTuple):
    """A value behind its name; `many` may be said again, a flag has no value."""

    name: str
    flag: str
    many: bool = False
    needed: bool = False
    is_flag: bool = False
    variable: str = ""


class PlainCommand(NamedTuple):
    """What a command takes."""

    words: Sequence[PlainWord]
    options: Sequence[PlainOption]

    def read(self, typed: Sequence[str]) -> dict[str, Any] | None:
        """The value of each word and option by its name; None where the line is not plain."""
        placed, said = self._sorted(typed)
        if placed is None or said is None or not self._fit(placed):
            return None
        found = self._placed(placed)
        for option in self.options:
            values = said.get(option.name)
            if values is None and option.variable and os.environ.get(option.variable):
                values = [os.environ[option.variable]]
            if values is None and option.needed:
                return None
            found[option.name] = bool(values) if option.is_flag else values if option.many else values and values[0]
        return found

    def _sorted(self, typed: Sequence[str]) -> tuple[list[str] | None, Mapping[str, list[str]] | None]:
        """The words in their places, and what was said for each option; None where something is odd."""
        known = {option.flag: option for option in self.options}
        placed: list[str] = []
        said: dict[str, list[str]] = {}
        left = iter(typed)
        for word in left:
            if not word.startswith("-"):
                placed.append(word)
                continue
            flag, given, value = word.partition("=")
            option = known.get(flag)
            if option is None or (option.is_flag and given) or (option.name in said and not option.many):
                return None, None
            if not option.is_flag:
                value = value if given else next(left, "")
                if not value or value.startswith("-"):
                    return None, None
            said.setdefault(option.name, []).append(value)
        return (placed if all(placed) else None), said

    def _fit(self, placed: Sequence[str]) -> bool:
        most = len(placed) if self.words and self.words[-1].many else len(self.words)
        least = sum(word.needed for word in self.words)
        return least <= len(placed) <= most and not any(word.many for word in self.words[:-1])

    def _placed(self, placed: Sequence[str]) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for place, word in enumerate(self.words):
            rest = list(placed[place:])
            found[word.name] = (rest or None) if word.many else rest[0] if rest else None
        return found


def shared_option(known: SharedOption) -> PlainOption:
    """A shared option as it is read here."""
    return PlainOption(known.name, known.flag, is_flag=not known.metavar, variable=known.variable)
