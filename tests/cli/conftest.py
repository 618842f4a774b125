"""A job that is under way."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.studio import STUDIO
from tests.running import Ran

Run = Callable[..., Ran]


@pytest.fixture
def studio(home: Path, run: Run) -> Run:
    """The studio's job, started; gives the runner of commands."""
    (home / "studio.toml").write_text(STUDIO)
    started = run("job", "start", str(home / "studio.toml"))
    assert started.code == 0, started.err
    return run
