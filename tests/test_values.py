"""Classes that cost nothing to define do what the standard library's dataclasses do."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mixclock import values


def _classes(made_by: Any) -> tuple[type[Any], type[Any], type[Any]]:
    @made_by.dataclass(frozen=True)
    class Pail:
        name: str
        volume_l: float = 20.0
        lids: list[str] = made_by.field(default_factory=list, compare=False)
        mark: str = made_by.field(default="", repr=False)

    @made_by.dataclass(frozen=True)
    class Marked(Pail):
        volume_l: float = 5.0
        colour: str = "grey"

        def __post_init__(self) -> None:
            if not self.colour:
                raise ValueError("no colour")

    @made_by.dataclass
    class Shelf:
        pails: list[str]
        height_m: float = made_by.field(init=False)
        made: int = made_by.field(init=False, default=3)

        def __post_init__(self) -> None:
            self.height_m = 0.3 * len(self.pails)

    return Pail, Marked, Shelf


LIBRARY, OURS = _classes(dataclasses), _classes(values)

texts = st.text(max_size=2)
calls = st.tuples(
    st.lists(st.one_of(texts, st.floats(allow_nan=False)), max_size=5),
    st.dictionaries(st.sampled_from(["name", "volume_l", "lids", "mark", "colour", "pails", "made", "other"]), texts),
)


def _told(kind: type[Any], values: list[Any], named: dict[str, Any], often: int) -> object:
    """What becomes of a call; `often` times, since a class is filled otherwise once it is used often."""
    try:
        made = [kind(*values, **named) for _ in range(often)]
    except (TypeError, ValueError) as refused:
        return type(refused), str(refused)
    if kind.__dataclass_params__.frozen:
        shape: object = hash(made[0]) == hash(made[-1]) if not isinstance(made[0].name, list) else None
    else:
        shape = kind.__hash__
    return repr(made[-1]), dataclasses.asdict(made[-1]) if hasattr(made[-1], "name") else vars(made[-1]), shape


@given(which=st.integers(0, 2), call=calls, often=st.sampled_from([1, 30]))
def test_a_class_takes_refuses_compares_and_prints_as_the_librarys_does(
    which: int, call: tuple[list[Any], dict[str, Any]], often: int
) -> None:
    assert _told(OURS[which], *call, often) == _told(LIBRARY[which], *call, often)


@given(first=calls, second=calls)
def test_two_values_are_equal_where_the_librarys_are(
    first: tuple[list[Any], dict[str, Any]], second: tuple[list[Any], dict[str, Any]]
) -> None:
    def compared(kind: type[Any]) -> object:
        try:
            one, other = kind(*first[0], **first[1]), kind(*second[0], **second[1])
        except TypeError:
            return "refused"
        return one == other, one != other, (hash(one) == hash(other)) >= (one == other)

    assert compared(OURS[0]) == compared(LIBRARY[0])


def test_a_frozen_value_cannot_be_changed_and_a_changed_copy_can_be_had() -> None:
    pail = OURS[0]("tin")
    for change in (lambda: setattr(pail, "name", "zinc"), lambda: delattr(pail, "name"), lambda: setattr(pail, "x", 1)):
        with pytest.raises(dataclasses.FrozenInstanceError):
            change()
    for changed in (values.replace(pail, name="zinc"), dataclasses.replace(pail, name="zinc")):
        assert (changed.name, changed.volume_l, pail.name) == ("zinc", 20.0, "tin")
    with pytest.raises(TypeError):
        values.replace(pail, litres=3)
    assert values.replace(LIBRARY[0]("tin"), name="zinc") == LIBRARY[0]("zinc")


def test_the_library_knows_such_a_class_as_one_of_its_own() -> None:
    for ours, librarys in zip(OURS, LIBRARY, strict=True):
        assert dataclasses.is_dataclass(ours)
        told = [
            [(each.name, each.type, each.default, each.init, each.compare) for each in dataclasses.fields(kind)]
            for kind in (ours, librarys)
        ]
        assert told[0] == told[1]
        assert ours.__match_args__ == librarys.__match_args__

    @dataclasses.dataclass(frozen=True)
    class Painted(OURS[0]):  # type: ignore[misc, name-defined]
        paint: str = "blue"

    assert Painted("tin").paint == "blue"


@values.dataclass(frozen=True)
class Kept:
    """For the tests."""

    name: str


def test_a_value_survives_copying_and_pickling() -> None:
    kept = Kept("tin")
    assert copy.deepcopy(kept) == copy.copy(kept) == pickle.loads(pickle.dumps(kept)) == kept


def test_a_default_that_can_change_is_refused() -> None:
    with pytest.raises(ValueError, match="lids"):

        @values.dataclass
        class _Shared:
            lids: list[str] = []  # noqa: RUF012 - that is the point
