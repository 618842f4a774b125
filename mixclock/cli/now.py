"""How the job stands."""

from __future__ import annotations

import typer

from mixclock.cli.options import AsJson, AsOf, JobName, Known
from mixclock.cli.standing import tell_standing


def now(
    at: AsOf = None,
    known: Known = False,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """How the job stands: batches, windows, conditions and alerts. Exit code 1: nothing is live."""
    raise typer.Exit(tell_standing(at, known, job, as_json))
