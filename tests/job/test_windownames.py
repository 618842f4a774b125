"""Each window of the trade has its meaning: its edges, its law, and who states it."""

from __future__ import annotations

import pytest

from mixclock.job.windownames import (
    DEFAULT_ENERGIES,
    MEANINGS,
    Law,
    carries_bucket,
    default_energy,
    is_step,
    law_of,
    statement_for,
)


def test_hardness_has_a_law_of_its_own_and_borrows_nothing_from_gel() -> None:
    hard = {name for name in MEANINGS if law_of(name) is Law.HARDNESS}
    assert hard == {"foot-traffic", "vehicle-traffic", "full-cure"}
    assert default_energy("foot-traffic").likely_kj_mol > default_energy("recoat").likely_kj_mol


@pytest.mark.parametrize("law", Law)
def test_every_default_energy_lies_in_its_own_range_and_says_its_source(law: Law) -> None:
    energy = DEFAULT_ENERGIES[law]
    assert energy.low_kj_mol < energy.likely_kj_mol < energy.high_kj_mol
    assert energy.source


def test_what_was_used_up_in_the_bucket_goes_with_the_wet_film_and_not_with_the_hard_one() -> None:
    assert {name for name in MEANINGS if carries_bucket(name)} == {"back-roll", "wet-edge", "broadcast", "tack-free"}


@pytest.mark.parametrize(
    ("window", "statement"),
    [
        ("pour-out", "poured"),
        ("back-roll", "rolled"),
        ("broadcast", "flaked"),
        ("scrape", "did scrape"),
        ("neutralise", "did neutralise"),
        ("second sanding", "did second sanding"),
        ("foot-traffic", None),
        ("recoat", None),
    ],
)
def test_a_step_is_finished_by_what_a_person_says(window: str, statement: str | None) -> None:
    assert statement_for(window) == statement
    assert is_step(window) is (statement is not None)
