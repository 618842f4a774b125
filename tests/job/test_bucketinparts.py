"""A bucket poured in parts or dumped: how much of it lies where, when it is empty, and when its mixing ended."""

from __future__ import annotations

import pytest

from mixclock.job.entry import Combined, Dumped, MixingEnded, Poured
from tests.decide.worlds import Log, minutes_of

MIXED_L = 4.0
"""Of Shed base: two parts of 1.13 kg/L to one of 0.98 kg/L, so 1.08 kg/L; its sheet says three minutes of mixing."""


def bucket() -> Log:
    """A bucket mixed for bay 1 and bay 2 at eight."""
    log = Log()
    log.add(0, Combined("Shed base", ("bay 1", "bay 2"), volume_l=MIXED_L, material_c=20.0, vessel="pail"))
    return log


@pytest.mark.parametrize(
    ("parts_l", "on_the_floor_l"),
    [
        ((None,), [4.0]),
        ((1.0, None), [1.0, 3.0]),
        ((3.5, None), [3.5, 0.5]),
        ((1.5, 1.5, None), [1.5, 1.5, 1.0]),
        ((4.1, None), [4.1, 0.0]),
    ],
)
def test_a_pour_without_an_amount_is_what_was_left_in_the_bucket(
    parts_l: tuple[float | None, ...], on_the_floor_l: list[float]
) -> None:
    log = bucket()
    for minute, part_l in enumerate(parts_l, start=5):
        log.add(minute, Poured(1, part_l=part_l))
    (batch,) = log.standing().batches
    assert [portion.volume_l for portion in batch.portions] == pytest.approx(on_the_floor_l)
    assert [portion.number for portion in batch.portions] == [*range(1, len(parts_l) + 1)]
    assert batch.emptied is not None
    assert minutes_of(batch.emptied.at) == 5 + len(parts_l) - 1
    assert batch.left_l == 0.0


def test_a_part_in_kilograms_is_so_many_litres_by_the_sheets_density() -> None:
    log = bucket()
    log.add(5, Poured(1, part_kg=2.16))
    (batch,) = log.standing().batches
    assert [portion.volume_l for portion in batch.portions] == pytest.approx([2.0])
    assert batch.left_l == pytest.approx(2.0)


@pytest.mark.parametrize(
    ("parts_l", "is_empty"),
    [((3.91,), False), ((3.92,), True), ((2.0, 1.91), False), ((2.0, 1.93), True), ((2.0,), False)],
    ids=["2.25 % left", "2 % left", "2.25 % left of two", "1.75 % left of two", "half left"],
)
def test_what_sticks_to_the_wall_two_parts_in_a_hundred_is_no_portion(
    parts_l: tuple[float, ...], is_empty: bool
) -> None:
    log = bucket()
    for minute, part_l in enumerate(parts_l, start=5):
        log.add(minute, Poured(1, part_l=part_l))
    (batch,) = log.standing().batches
    assert (batch.emptied is not None) == is_empty
    assert (batch.left_l > 0.0) == (not is_empty)


@pytest.mark.parametrize("gone", [Poured(1), Dumped(1)], ids=["poured", "dumped"])
def test_a_bucket_that_is_gone_after_a_minute_was_mixed_for_a_minute(gone: Poured | Dumped) -> None:
    log = bucket()
    log.add(1, gone)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 1.0


@pytest.mark.parametrize("gone", [Poured(1), Dumped(1)], ids=["poured", "dumped"])
def test_a_bucket_that_is_gone_after_ten_minutes_was_mixed_as_its_sheet_says(gone: Poured | Dumped) -> None:
    log = bucket()
    log.add(10, gone)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 3.0


def test_where_somebody_stated_the_end_of_mixing_a_pour_that_is_said_to_be_earlier_moves_it_not() -> None:
    log = bucket()
    log.add(4, MixingEnded(1))
    log.add(2, Poured(1), written=5)
    assert minutes_of(log.standing().batches[0].mixing_ended) == 4.0
