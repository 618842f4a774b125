"""What a field of a statement takes: how people type it at the command line, and what a phone may send for it.

One description serves both. A field names its kind. A kind reads what somebody typed, reads and writes JSON, and knows
which values make sense.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from mixclock.job.frozen import REQUIRED, FieldDefault
from mixclock.job.mistakes import quoted
from mixclock.job.saying import CannotTellError
from mixclock.units import Amount, CrewUnits, UnitError, amount, area_m2, pct, span_s, temp_c, write_span

LONGEST_NAME = 400
_MOST_NAMES = 64
_MOST_BATCHES = 100_000

Json = Mapping[str, Any]


class Room:
    """What the reader of a typed text may need: the scale of a temperature without one, or None to refuse such a
    number."""

    def __init__(self, degrees: Callable[[], str | None] = lambda: None) -> None:
        self.degrees = degrees


class FieldKind:
    """A kind of value; the plain one is a text."""

    said_as = "text"

    def read(self, typed: str, where: str, room: Room) -> Any:
        """The value that was typed; a refusal names where."""
        return typed

    def keys(self, name: str) -> tuple[str, ...]:
        """The keys of JSON that hold a field of this name."""
        return (name,)

    def taken(self, name: str, told: Json) -> Any:
        """The value that JSON holds, None if it holds none; raises `ValueError` if it makes no sense."""
        value = told.get(name)
        if value is not None and not self.fits(value):
            raise ValueError(name)
        return value

    def told(self, name: str, value: Any) -> dict[str, Any]:
        """The value as JSON."""
        return {name: value}

    def fits(self, value: Any) -> bool:
        """Whether a value from JSON is of this kind."""
        return isinstance(value, str) and 0 < len(value) <= LONGEST_NAME and value.isprintable()

    def refuse_nonsense(self, value: Any, called: str, units: CrewUnits) -> None:
        """Raise `CannotTellError` where no floor has such a value."""


class OneOf(FieldKind):
    """One of a few words."""

    def __init__(self, *words: str) -> None:
        """The words that are known."""
        self.words = words

    def read(self, typed: str, where: str, room: Room) -> str:
        """The word, whatever its case."""
        known = {word.casefold(): word for word in self.words}
        if typed.strip().casefold() not in known:
            raise CannotTellError(f"{where} is {quoted(typed)}; expected {' or '.join(self.words)}")
        return known[typed.strip().casefold()]

    def fits(self, value: Any) -> bool:
        """Whether a value from JSON is one of them."""
        return value in self.words


class Names(FieldKind):
    """Several texts."""

    said_as = "list of texts"

    def taken(self, name: str, told: Json) -> Any:
        """The texts as a tuple."""
        found = super().taken(name, told)
        return None if found is None else tuple(found)

    def told(self, name: str, value: Any) -> dict[str, Any]:
        """The texts as a list."""
        return {name: list(value)}

    def fits(self, value: Any) -> bool:
        """Whether it is a list of few texts."""
        return (
            isinstance(value, list | tuple)
            and len(value) <= _MOST_NAMES
            and all(super(Names, self).fits(each) for each in value)
        )


class Count(FieldKind):
    """A number that counts: a batch or an entry. `what` says which, `such_as` how to write it."""

    said_as = "count"

    def __init__(self, what: str, such_as: str, before: tuple[str, ...]) -> None:
        self._what, self._such_as, self._before = what, such_as, before

    def read(self, typed: str, where: str, room: Room) -> int:
        """The number as people say it: 3, b3, #3, batch 3."""
        number = self.number(typed)
        if number is None:
            raise CannotTellError(f"{where}: {quoted(typed)} is no {self._what}; {self._such_as}")
        return number

    def number(self, typed: str) -> int | None:
        """The number that was typed; None if it is no number."""
        digits = typed.strip().casefold()
        for word in self._before:
            digits = digits.removeprefix(word)
        digits = digits.strip(" #.")
        return int(digits) if digits.isascii() and digits.isdecimal() and len(digits) < 10 else None

    def fits(self, value: Any) -> bool:
        """Whether it is a whole number above zero and within reason."""
        return isinstance(value, int) and not isinstance(value, bool) and 0 < value < _MOST_BATCHES


class Measure(FieldKind):
    """A quantity in the unit that ends the field's name, from `low` to `high`."""

    said_as = "number"

    def __init__(
        self,
        reader: Callable[..., float],
        low: float,
        high: float,
        write: Callable[[CrewUnits, float], str],
        called: str = "",
        above: bool = False,
    ) -> None:
        self._reader, self._low, self._high, self._write = reader, low, high, write
        self._called, self._above = called, above

    def read(self, typed: str, where: str, room: Room) -> float:
        """The typed quantity."""
        return self._understood(typed, where)

    def fits(self, value: Any) -> bool:
        """Whether it is a number."""
        return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6

    def refuse_nonsense(self, value: Any, called: str, units: CrewUnits) -> None:
        """Refuse what lies outside the limits, in the crew's units."""
        name = self._called or called
        if self._above and value <= self._low:
            raise CannotTellError(f"{name} must be above {self._low:g}; mend it")
        if not self._low <= value <= self._high:
            shown, low, high = (self._write(units, each) for each in (value, self._low, self._high))
            raise CannotTellError(f"{name} of {shown} is outside {low} to {high}; mend it")

    def _understood(self, typed: str, where: str, **how: Any) -> float:
        try:
            return self._reader(typed, **how)
        except UnitError as error:
            raise error.at(where) from None


class Temperature(Measure):
    """A temperature in °C. The job file names the scale of a number without one."""

    def __init__(self, low: float, high: float, called: str = "") -> None:
        super().__init__(temp_c, low, high, CrewUnits.write_temp, called)

    def read(self, typed: str, where: str, room: Room) -> float:
        """The typed temperature."""
        try:
            return temp_c(typed)
        except UnitError:
            return self._understood(typed, where, bare=room.degrees())


class AmountKind(FieldKind):
    """A volume or a weight: one value, whichever of the two somebody said."""

    said_as = "number"

    def __init__(self, called: str = "") -> None:
        self._called = called

    def read(self, typed: str, where: str, room: Room) -> Amount:
        """The typed amount."""
        try:
            return amount(typed)
        except UnitError as error:
            raise error.at(where) from None

    def keys(self, name: str) -> tuple[str, ...]:
        """Its litres and its kilograms."""
        return ("volume_l", "mass_kg") if name == "amount" else (f"{name}_l", f"{name}_kg")

    def taken(self, name: str, told: Json) -> Any:
        """The amount whose litres or kilograms are there."""
        litres, kilograms = (told.get(key) for key in self.keys(name))
        if litres is None and kilograms is None:
            return None
        for key, value in zip(self.keys(name), (litres, kilograms), strict=True):
            if value is not None and not SHARE.fits(value):
                raise ValueError(key)
        if litres is not None and kilograms is not None:
            raise ValueError(name)
        return Amount(litres, kilograms)

    def told(self, name: str, value: Any) -> dict[str, Any]:
        """The one of the two that is known."""
        pair = zip(self.keys(name), (value.volume_l, value.mass_kg), strict=True)
        return {key: size for key, size in pair if size is not None}

    def refuse_nonsense(self, value: Any, called: str, units: CrewUnits) -> None:
        """Refuse an amount of nothing, and one that would fill a lake."""
        if not 0 < (value.volume_l if value.volume_l is not None else value.mass_kg) < 1e6:
            raise CannotTellError(f"{self._called or called} must be above 0; mend it")


def _share(_: CrewUnits, value: float) -> str:
    return f"{value:g} %"


TEXT = FieldKind()
NAMES = Names()
BATCH = Count("batch", "say its number, such as 3", ("batch", "b"))
ENTRY = Count(
    "entry's number",
    "write the number that the statement answered with, such as 12, or none for the last statement",
    ("entry",),
)
AMOUNT = AmountKind()
SHARE = Measure(pct, 0.0, 100.0, _share)
FLOOR = Measure(area_m2, 0.0, 1e6, CrewUnits.write_area, above=True)


def span(low_s: float, high_s: float, called: str) -> Measure:
    """A span of time within limits."""
    return Measure(span_s, low_s, high_s, lambda _, value: write_span(value), called)


def percentage(low: float, high: float, called: str) -> Measure:
    """A percentage within limits."""
    return Measure(pct, low, high, _share, called)


class Field(FieldDefault):
    """One field of a statement, with the way to type it: as an option, or as a word if `option` is None."""

    __slots__ = ("help", "kind", "many", "metavar", "option", "typed", "where")

    def __init__(
        self,
        kind: FieldKind,
        default: Any,
        option: str | None,
        metavar: str = "",
        help: str = "",  # noqa: A002
        many: bool = False,
        called: str = "",
    ) -> None:
        super().__init__(default)
        self.kind, self.option, self.metavar, self.help, self.many = kind, option, metavar, help, many
        self.typed = bool(metavar)
        self.where = called or option or metavar.strip("[]")


def option(kind: FieldKind, name: str, metavar: str, help: str, *, default: Any = REQUIRED) -> Any:  # noqa: A002
    """A field that people type behind its name."""
    return Field(kind, default, name, metavar, help, many=isinstance(kind, Names))


def word(
    kind: FieldKind,
    metavar: str,
    help: str,  # noqa: A002
    *,
    default: Any = REQUIRED,
    many: bool = False,
    called: str = "",
) -> Any:
    """A field that people type in its place. `many` takes all the words that follow; `called` is its name in
    refusals."""
    return Field(kind, default, None, metavar, help, many, called)


def untyped(kind: FieldKind, *, default: Any = REQUIRED) -> Any:
    """A field that only a phone sends, or that people type together with another."""
    return Field(kind, default, None)


def its_batch(*, default: int | None) -> Any:
    """The batch that it is about, typed in its place."""
    return word(
        BATCH, "[BATCH]", "The batch's number. Leave it out if only one can be meant.", default=default, many=True
    )


def on_areas(*, default: tuple[str, ...]) -> Any:
    """The areas that it is about."""
    return option(NAMES, "--on", "AREA", "The area; say it again for more areas.", default=default)


def on_area(*, default: str | None) -> Any:
    """The one area that it is about."""
    return option(TEXT, "--on", "AREA", "The area.", default=default)


def of_batch(*, default: int | None) -> Any:
    """The batch that it is about, typed behind its name."""
    return option(BATCH, "--batch", "BATCH", "The batch.", default=default)
