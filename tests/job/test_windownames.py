"""Each window has its temperature law, and some go on from where the bucket was."""

from __future__ import annotations

import pytest

from mixclock.job.steps import WINDOWS, row_of
from mixclock.job.windownames import DEFAULT_ENERGIES, Law, default_energy, law_of


def test_hardness_has_a_law_of_its_own_and_borrows_nothing_from_gel() -> None:
    hard = {name for name in WINDOWS if law_of(name) is Law.HARDNESS}
    assert hard == {"foot-traffic", "vehicle-traffic", "full-cure"}
    assert default_energy("foot-traffic").likely_kj_mol > default_energy("recoat").likely_kj_mol


@pytest.mark.parametrize("law", Law)
def test_every_default_energy_lies_in_its_own_range_and_says_its_source(law: Law) -> None:
    energy = DEFAULT_ENERGIES[law]
    assert energy.low_kj_mol < energy.likely_kj_mol < energy.high_kj_mol
    assert energy.source


def test_what_was_used_up_in_the_bucket_goes_with_the_wet_film_and_not_with_the_hard_one() -> None:
    assert {name for name in WINDOWS if row_of(name).from_bucket} == {"back-roll", "wet-edge", "broadcast", "tack-free"}
