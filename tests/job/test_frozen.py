"""Values that never change are as safe as dataclasses and cost a cold start next to nothing."""

from __future__ import annotations

import copy
import pickle
from typing import ClassVar

import pytest

from mixclock.job.entry import KINDS, Poured, Saw
from mixclock.job.frozen import FrozenRecord


class Pail(FrozenRecord):
    """For the tests."""

    made: ClassVar[str] = "of tin"
    name: str
    volume_l: float = 20.0


class Lidded(Pail):
    """For the tests."""

    lid: str = "loose"


def test_fields_come_by_place_or_by_name_and_those_of_a_base_first() -> None:
    assert Lidded("tin", 5.0, "tight") == Lidded(name="tin", lid="tight", volume_l=5.0)
    assert (Lidded.fields, Lidded.made) == (("name", "volume_l", "lid"), "of tin")


@pytest.mark.parametrize(
    ("values", "named"),
    [((), {}), (("tin", 5.0, "more"), {}), (("tin",), {"name": "tin"}), (("tin",), {"litres": 5.0}), ((), {"lid": 1})],
)
def test_too_few_too_many_or_unknown_values_are_refused(values: tuple[object, ...], named: dict[str, object]) -> None:
    with pytest.raises(TypeError, match="Pail takes name, volume_l; got"):
        Pail(*values, **named)  # type: ignore[arg-type]


def test_nothing_of_it_can_be_changed() -> None:
    pail = Pail("tin")
    with pytest.raises(AttributeError, match="cannot be changed"):
        pail.name = "zinc"  # type: ignore[misc]
    with pytest.raises(AttributeError, match="cannot be deleted"):
        del pail.name
    assert pail.but(name="zinc") == Pail("zinc")
    assert pail == Pail("tin")


def test_equal_values_of_two_kinds_are_not_the_same() -> None:
    assert Pail("tin") != Lidded("tin")
    assert len({Pail("tin"), Pail("tin"), Lidded("tin")}) == 2


def test_a_copy_is_the_same() -> None:
    for copied in (copy.copy(Pail("tin")), copy.deepcopy(Pail("tin")), pickle.loads(pickle.dumps(Pail("tin")))):
        assert copied == Pail("tin")


@pytest.mark.parametrize("kind", KINDS)
def test_the_facts_of_each_kind_name_it(kind: str) -> None:
    assert KINDS[kind].kind == kind


def test_what_an_older_or_a_newer_book_holds_is_read() -> None:
    """A field that came later is what it was before it came; one that this mixclock does not know is left out."""
    assert Poured.of_stored({"batch": 3}) == Poured(3)
    assert Saw.of_stored({"sign": "hot", "batch": 1, "smell": "sharp"}) == Saw("hot", 1)
    assert Saw("hot", 1).as_stored() == {"sign": "hot", "batch": 1}
