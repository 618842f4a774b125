"""The physics stays inside its budgets; `python -m tests.bench.physics` prints the figures."""

from __future__ import annotations

import pytest

from tests.bench import physics


@pytest.mark.parametrize(
    "rows", [physics.clock_rows, physics.bucket_rows, physics.job_rows], ids=["clock", "bucket", "job"]
)
def test_nobody_in_gloves_waits_for_the_physics(rows) -> None:  # type: ignore[no-untyped-def]
    slow = [f"{row.name}: {row.value:.3g} {row.unit}" for row in rows() if not row.kept]
    assert not slow
