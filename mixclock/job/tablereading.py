"""Reads the tables of a TOML text, key by key. A mistake is noted and does not end the reading.

A reader asks a `Table` for the keys that it knows. A key that no reader asked for is a mistake. So the reader's code is
the list of known keys, and the two can't drift apart.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from mixclock.job.mistakes import Mistake, did_you_mean, quoted
from mixclock.job.printedfigures import both_ends
from mixclock.values import dataclass

NAME_LENGTH_MAX = 200


@dataclass(frozen=True)
class QuantityKind:
    """A kind of quantity: how its text is read, an example of it, and the values that make sense.

    `above` is excluded, `low` and `high` are included; `unit` is how these bounds are said.
    """

    read: Callable[[str], float]
    example: str
    unit: str
    above: float | None = None
    low: float = -math.inf
    high: float = math.inf

    def objection(self, value: float) -> str | None:
        """What is wrong with a value that was read, if anything."""
        if not math.isfinite(value):
            return "is not a finite number"
        if self.above is not None and value <= self.above:
            return "is zero" if value == 0 else "is negative"
        if not self.low <= value <= self.high:
            if math.isinf(self.low):
                return f"is outside: at most {_plain(self.high)} {self.unit}"
            return f"is outside {_plain(self.low)} to {_plain(self.high)} {self.unit}"
        return None


def _plain(bound: float) -> str:
    """A bound as people write it.

    >>> _plain(1_000_000.0), _plain(0.5)
    ('1000000', '0.5')
    """
    return f"{bound:.0f}" if bound == round(bound) else f"{bound:g}"


class Findings:
    """What a reading gathers: the mistakes, the keys that the reader knows, and the quantities as people wrote them."""

    def __init__(self) -> None:
        """Start with nothing found."""
        self.mistakes: list[Mistake] = []
        self.known: set[str] = set()
        self.quantities: list[str] = []

    def add(self, where: str, what: str, mend: str) -> None:
        """Keep one mistake."""
        self.mistakes.append(Mistake(where, what, mend))

    def quantity(self, raw: object, kind: QuantityKind, where: str) -> float | None:
        """The value of one written quantity, or None after the mistake is noted."""
        if not isinstance(raw, str):
            self.add(where, _not_quantity(raw), f'write it in quotes with its unit, as in "{kind.example}"')
            return None
        self.quantities.append(raw)
        try:
            value = kind.read(raw)
        except ValueError as error:
            what, colon, mend = str(error).rpartition(": ")
            self.add(where, what if colon else mend, mend if colon else f'expected something like "{kind.example}"')
            return None
        objection = kind.objection(value)
        if objection is not None:
            self.add(where, f"{quoted(raw)} {objection}", f'expected something like "{kind.example}"')
            return None
        return value


class Table:
    """One table of the text. Every key that a reader asks for becomes known."""

    def __init__(self, values: Mapping[str, Any], path: str, found: Findings, schema: str | None = None) -> None:
        """`path` is this table's name in mistakes. `schema` is the same without names that a user chose."""
        self.values = values
        self.path = path
        self.found = found
        self.schema = path if schema is None else schema
        self.asked: list[str] = []

    def where(self, key: str) -> str:
        """The path of a key in this table."""
        return f"{self.path}.{key}" if self.path else key

    def raw(self, key: str) -> Any:
        """The value as TOML gave it, or None if the key is absent."""
        self.asked.append(key)
        self.found.known.add(f"{self.schema}.{key}" if self.schema else key)
        return self.values.get(key)

    def wrong(self, key: str, what: str, mend: str) -> None:
        """Keep a mistake about a key."""
        self.found.add(self.where(key), what, mend)

    def text(self, key: str, example: str, *, required: bool = False) -> str | None:
        """A line of text."""
        raw = self.raw(key)
        if raw is None:
            if required:
                self.wrong(key, "is missing", f'expected something like "{example}"')
            return None
        if not isinstance(raw, str) or not raw.strip():
            what = "is empty" if isinstance(raw, str) else f"{quoted(raw)} is not a text in quotes"
            self.wrong(key, what, f'expected something like "{example}"')
            return None
        if len(raw) > NAME_LENGTH_MAX or not raw.isprintable():
            self.wrong(key, f"{quoted(raw)} is no single short line", f"expected at most {NAME_LENGTH_MAX} letters")
            return None
        return raw.strip()

    def choice(self, key: str, known: Iterable[str], *, required: bool = False) -> str | None:
        """One of the known words."""
        names = list(known)
        word = self.text(key, names[0], required=required)
        if word is None or word in names:
            return word
        lowered = {name.casefold(): name for name in names}
        if word.casefold() in lowered:
            return lowered[word.casefold()]
        self.wrong(key, f"{quoted(word)} is unknown", did_you_mean(word, names))
        return None

    def quantity(self, key: str, kind: QuantityKind) -> float | None:
        """A number with its unit."""
        raw = self.raw(key)
        return None if raw is None else self.found.quantity(raw, kind, self.where(key))

    def pair(self, key: str, kind: QuantityKind) -> tuple[float, float] | None:
        """Two quantities, the lower first."""
        raw = self.raw(key)
        if raw is None:
            return None
        mend = f'expected ["lowest", "highest"], each as in "{kind.example}"'
        alone = raw[0] if isinstance(raw, list) and len(raw) == 1 else raw
        raw = list(both_ends(alone) or (alone,)) if isinstance(alone, str) else raw
        if not isinstance(raw, list) or len(raw) != 2:
            self.wrong(key, f"{quoted(raw)} is not a pair", mend)
            return None
        low, high = (self.found.quantity(part, kind, self.where(key)) for part in raw)
        if low is None or high is None:
            return None
        if low > high:
            self.wrong(key, f"the lowest, {quoted(raw[0])}, is above the highest, {quoted(raw[1])}", mend)
            return None
        return low, high

    def words(self, key: str, example: str) -> tuple[str, ...]:
        """A list of lines of text; a single one may stand without the brackets."""
        raw = self.raw(key)
        if raw is None:
            return ()
        parts = [raw] if isinstance(raw, str) else raw
        if not isinstance(parts, list) or not all(isinstance(part, str) and _is_line(part) for part in parts):
            self.wrong(key, f"{quoted(raw)} is not a list of words", f"expected something like {example}")
            return ()
        return tuple(part.strip() for part in parts)

    def flag(self, key: str) -> bool | None:
        """True or false."""
        raw = self.raw(key)
        if raw is None or isinstance(raw, bool):
            return raw
        self.wrong(key, f"{quoted(raw)} is neither true nor false", "expected true or false, without quotes")
        return None

    def whole(self, key: str, low: int) -> int | None:
        """A whole number."""
        raw = self.raw(key)
        if raw is None:
            return None
        if isinstance(raw, bool) or not isinstance(raw, int) or not low <= raw <= 10_000:
            self.wrong(key, f"{quoted(raw)} is no whole number from {low} on", "write it in figures, without quotes")
            return None
        return raw

    def table(self, key: str, example: str) -> Table:
        """The table of that name. If it is absent or no table, an empty one, so that reading goes on."""
        raw = self.raw(key)
        if raw is not None and not isinstance(raw, dict):
            self.wrong(key, f"{quoted(raw)} is no table", f"expected a table, as in {example}")
        values = raw if isinstance(raw, dict) else {}
        return Table(values, self.where(key), self.found, f"{self.schema}.{key}" if self.schema else key)

    def tables(self, key: str) -> list[Table]:
        """The tables written as [[key]], in the order of the file."""
        raw = self.raw(key)
        if raw is None:
            return []
        if not isinstance(raw, list) or not all(isinstance(part, dict) for part in raw):
            self.wrong(key, "is not a list of tables", f"begin each one with a line [[{key}]]")
            return []
        return [Table(part, f"{key}[{_label(part, number)}]", self.found, key) for number, part in enumerate(raw, 1)]

    def finish(self) -> None:
        """Report the keys that nobody asked for."""
        for key in self.values:
            if key not in self.asked:
                self.wrong(key, "is no key that mixclock knows here", did_you_mean(key, dict.fromkeys(self.asked)))


def parse_toml(text: str, found: Findings) -> Mapping[str, Any] | None:
    """The text as TOML, or None after the mistake is noted."""
    try:
        return tomllib.loads(text.removeprefix("\ufeff"))
    except RecursionError:
        found.add("", "brackets are nested far too deep", "expected a file laid out like the template")
    except ValueError as error:
        found.add("", f"this is not TOML: {error}", 'expected lines such as name = "Slow epoxy base"')
    return None


def _is_line(text: str) -> bool:
    return bool(text.strip()) and text.isprintable()


def _label(values: Mapping[str, Any], number: int) -> str:
    name = values.get("name")
    return quoted(name).strip("'") if isinstance(name, str) and name.strip() else str(number)


def _not_quantity(raw: object) -> str:
    if isinstance(raw, float) and not math.isfinite(raw):
        return f"{raw} is not a finite number"
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return f"{raw} stands without a unit"
    return f"{quoted(raw)} is not a text in quotes"
