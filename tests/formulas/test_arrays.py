"""A bucket is told the same deadlines with numpy and without: what counts is the resin, not what is installed."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import astuple
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mixclock.formulas.arrays import numpy_at_hand
from mixclock.formulas.cup import TestCup, cup_edges
from mixclock.formulas.ensemble import BucketLoad, SheetPot, edge_times, hand_over
from mixclock.formulas.ensemble_members import Calibration, calibrate_ensemble
from mixclock.formulas.history import History
from tests.lacking import without_numpy

ROOT = Path(__file__).resolve().parents[2]
ALIKE = 1e-9
"""Rounding is near 1e-15; a root that is looked for lets it grow."""

sheets = st.one_of(
    st.builds(
        SheetPot,
        points=st.tuples(st.tuples(st.floats(5.0, 35.0), st.floats(300.0, 9000.0))),
        mass_kg=st.floats(0.1, 10.0),
        end=st.sampled_from(("gel", "workability", "unknown", "hot")),
        body=st.sampled_from(("unfilled", "filled", "waterborne")),
    ),
    st.builds(
        lambda cold_s, shares: SheetPot(
            ((10.0, cold_s), (20.0, cold_s * shares[0]), (30.0, cold_s * shares[0] * shares[1])), 1.0
        ),
        st.floats(1200.0, 9000.0),
        st.tuples(st.floats(0.3, 0.9), st.floats(0.3, 0.9)),
    ),
)
airs = st.one_of(
    st.floats(-5.0, 40.0),
    st.builds(
        lambda first, then: History((0.0, 900.0, 900.0, 5000.0), (first, then, then + 1.0, first)),
        st.floats(5.0, 30.0),
        st.floats(5.0, 30.0),
    ),
)
loads = st.builds(
    BucketLoad,
    mass_kg=st.floats(0.1, 30.0),
    material_c=st.floats(0.0, 40.0),
    air=airs,
    readings=st.lists(st.tuples(st.floats(0.0, 3000.0), st.floats(10.0, 80.0)), max_size=2).map(tuple),
)


def answers(sheet: SheetPot, load: BucketLoad) -> list[float]:
    """All that is told of a bucket, by a calibration of its own: nothing of it was remembered."""
    calibration = calibrate_ensemble(sheet)
    cups = [TestCup(BucketLoad(0.15, 22.0, 22.0, readings=((300.0, 24.0),)), 0.8 * sheet.points[0][1])]
    edges, after = edge_times(calibration, load, practice=True), cup_edges(calibration, cups, load)
    used = hand_over(calibration, load, 500.0)
    told = (*astuple(edges), *astuple(after[0]), after[1], *used.conversion, *used.ripeness)
    return [each for each in told if isinstance(each, float)]


@settings(max_examples=5)
@given(sheet=sheets, load=loads)
def test_a_bucket_has_the_same_deadlines_with_numpy_and_without(sheet: SheetPot, load: BucketLoad) -> None:
    assert numpy_at_hand() is not None
    fast = answers(sheet, load)
    with without_numpy():
        assert numpy_at_hand(worth_loading=True) is None
        assert answers(sheet, load) == pytest.approx(fast, rel=ALIKE, abs=ALIKE)


def test_a_calibration_in_the_book_serves_whoever_has_numpy_and_whoever_has_not() -> None:
    sheet, load = SheetPot(((25.0, 1800.0),), 0.15), BucketLoad(9.0, 21.0, 23.0)
    with without_numpy():
        kept = calibrate_ensemble(sheet).to_json()
        plain = edge_times(Calibration.from_json(kept), load)
    fast = edge_times(Calibration.from_json(kept), load)
    assert astuple(plain)[:2] == pytest.approx(astuple(fast)[:2], rel=ALIKE)


def test_numpy_is_loaded_where_many_buckets_are_asked_for_and_not_for_one() -> None:
    """A mix at the slab waits for no library; the plan of a hall does not wait for plain Python."""
    words = (
        "import sys; from mixclock.formulas.ensemble import *;"
        "from mixclock.formulas.ensemble_members import calibrate_ensemble;"
        "found = calibrate_ensemble(SheetPot(((25.0, 1800.0),), 0.15));"
        "seen = [edge_times(found, BucketLoad(1.0 + 0.1 * each, 21.0, 21.0)) and 'numpy' in sys.modules"
        " for each in range(20)]; print(seen[0], seen[5], seen[-1])"
    )
    told = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True, cwd=ROOT)
    assert told.stdout.split() == ["False", "False", "True"]
