"""The base of every statement: its fields, how it is read from what somebody typed or sent, and what it adds to the
log."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar, Self, dataclass_transform

from mixclock.job.drafts import Draft
from mixclock.job.entry import Facts
from mixclock.job.frozen import FrozenRecord
from mixclock.job.progress import Standing
from mixclock.job.saying import Attribution, CannotTellError, checked
from mixclock.job.statements.fields import (
    BATCH,
    Field,
    Json,
    Names,
    Room,
    its_batch,
    of_batch,
    on_area,
    on_areas,
    option,
    untyped,
    word,
)

Typed = Mapping[str, str | Sequence[str] | None]
"""What was typed for each field, by its name."""


@dataclass_transform(
    frozen_default=True, field_specifiers=(option, word, untyped, its_batch, on_areas, on_area, of_batch)
)
class Statement(FrozenRecord):
    """One fact that a person states, as it was said.

    Each verb has its own; its docstring is the help of its command.
    """

    verb: ClassVar[str]
    from_a_phone: ClassVar[bool] = False
    """Whether the board has a button for it."""
    needs: ClassVar[tuple[str, ...]] = ()
    """Fields that a phone must send, although at the command line another field can stand in for them."""
    of_all: ClassVar[bool] = False
    """Whether the same said by two people within seconds is one fact."""

    @property
    def once(self) -> bool:
        """Whether the same said by two people within seconds is one fact, as it was said."""
        return self.of_all

    def drafts(self, standing: Standing, said: Attribution) -> tuple[Draft, ...]:
        """What it adds to the log, given the job as it stands; raises `CannotTellError` if that is impossible."""
        said = checked(standing, said)
        return tuple(Draft(each, said.when, said.by, said.note) for each in self.facts(standing, said))

    def facts(self, standing: Standing, said: Attribution) -> tuple[Facts, ...]:
        """The facts, by the job as it stands. `said` is checked already."""
        raise NotImplementedError

    @classmethod
    def of_fields(cls) -> Mapping[str, Field]:
        """Its fields with how they are said, by name."""
        found: Mapping[str, Field] = cls.described
        return found

    @classmethod
    def typed(cls, typed: Typed, room: Room) -> Self:
        """The statement that was typed."""
        return cls(**dict(cls._read(typed, room)))

    @classmethod
    def told(cls, told: Json) -> Self:
        """The statement that JSON holds. JSON that holds anything else is refused."""
        fields = cls.of_fields()
        known = {key for name, field in fields.items() for key in field.kind.keys(name)}
        for key in told:
            if key not in known:
                raise CannotTellError(f"'{cls.verb}' has no '{str(key)[:40]}'; it takes {', '.join(sorted(known))}")
        values = {}
        for name, field in fields.items():
            try:
                value = field.kind.taken(name, told)
            except ValueError as wrong:
                raise CannotTellError(
                    f"'{wrong}' of '{cls.verb}' must be a {field.kind.said_as} within reason"
                ) from None
            if value is not None:
                values[name] = value
        return cls._complete(values)

    def as_json(self) -> dict[str, Any]:
        """The statement as a phone sends it: the verb, and the fields that differ from their defaults."""
        told: dict[str, Any] = {"verb": self.verb}
        for name, field in self.of_fields().items():
            value = getattr(self, name)
            if value != field.default:
                told.update(field.kind.told(name, value))
        return told

    def refuse_nonsense(self, standing: Standing) -> None:
        """Raise `CannotTellError` where a field holds what no floor has."""
        for name, field in self.of_fields().items():
            value = getattr(self, name)
            if value is not None:
                field.kind.refuse_nonsense(value, field.where or name, standing.site.units)

    @classmethod
    def _complete(cls, values: Mapping[str, Any]) -> Self:
        needed = (name for name in cls.fields if name not in cls.defaults or name in cls.needs)
        missing = [name for name in needed if name not in values]
        if missing:
            raise CannotTellError(f"'{cls.verb}' needs its {' and '.join(missing)}")
        return cls(**values)

    @classmethod
    def _read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        """The fields that were typed. A verb whose words hold two fields at once reads them itself."""
        return cls._each_read(typed, room)

    @classmethod
    def _each_read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        for name, field in cls.of_fields().items():
            said = typed.get(name)
            if said is None or said == () or said == []:
                continue
            if isinstance(field.kind, Names):
                yield name, tuple(said)
            else:
                yield name, field.kind.read(said if isinstance(said, str) else " ".join(said), field.where, room)


class OnceStatement(Statement):
    """What is stated once of a batch, or of the areas on which it lies (`batch` and `areas`)."""

    verb: ClassVar[str] = ""
    from_a_phone: ClassVar[bool] = True
    of_all: ClassVar[bool] = True

    @classmethod
    def _read(cls, typed: Typed, room: Room) -> Iterator[tuple[str, Any]]:
        """An area may stand where a batch does: `poured "left bay"`. A bare number is a batch."""
        words = typed.get("batch") or ()
        name = words if isinstance(words, str) else " ".join(words)
        if name and BATCH.number(name) is None:
            more = typed.get("areas") or ()
            typed = {**typed, "batch": None, "areas": (name, *((more,) if isinstance(more, str) else more))}
        return cls._each_read(typed, room)
