"""Statements about the film: rolled, flaked, did, began."""

from __future__ import annotations

from typing import Annotated

import typer

from mixclock.cli.options import Ago, AsJson, At, Batch, By, Extra, Note, On
from mixclock.cli.statement import state
from mixclock.cli.typed import batch_number

Step = Annotated[str, typer.Argument(metavar="STEP", help="The step, such as scrape, neutralise or rinse.")]


def rolled(
    batch: Batch = None,
    on: On = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Back-rolling is finished."""
    extra = Extra(at, ago, by, note, as_json)
    state("rolled", extra, lambda _: {"batch": batch_number(batch), "areas": on or ()})


def flaked(
    batch: Batch = None,
    on: On = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """The flake is thrown."""
    extra = Extra(at, ago, by, note, as_json)
    state("flaked", extra, lambda _: {"batch": batch_number(batch), "areas": on or ()})


def did(
    step: Step,
    batch: Batch = None,
    on: On = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Any other step that the product has a window for is finished."""
    extra = Extra(at, ago, by, note, as_json)
    state("did", extra, lambda _: {"step": step, "batch": batch_number(batch), "areas": on or ()})


def began(
    step: Step,
    batch: Batch = None,
    on: On = None,
    at: At = None,
    ago: Ago = None,
    by: By = None,
    note: Note = None,
    as_json: AsJson = False,
) -> None:
    """Somebody is on a step: it is quiet until its early edge."""
    extra = Extra(at, ago, by, note, as_json)
    state("began", extra, lambda _: {"step": step, "batch": batch_number(batch), "areas": on or ()})
