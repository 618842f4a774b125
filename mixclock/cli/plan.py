"""Plan the floor: batches, times, purchases; before the first pail is opened, and again when the day runs late."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.mistaken import ANSWER_IS_NO, one_line_errors
from mixclock.cli.options import AsJson, JobName

if TYPE_CHECKING:
    from mixclock.words.plan import PlanSheet

ENDINGS = (".html", ".svg")


def plan(
    file: Annotated[
        Path | None,
        typer.Argument(metavar="[FILE]", help="The file of a job that has not begun. Without it: the job in use."),
    ] = None,
    instead: Annotated[
        str | None,
        typer.Option("--instead", metavar="PRODUCT=PRODUCT", help="Plan with another product too, and compare both."),
    ] = None,
    instead_kit: Annotated[
        str | None, typer.Option("--instead-kit", metavar="SIZE", help="The size of the other product's kit.")
    ] = None,
    instead_price: Annotated[
        str | None, typer.Option("--instead-price", metavar="PRICE", help="The price of that kit.")
    ] = None,
    sure: Annotated[
        str | None,
        typer.Option(
            "--sure", metavar="PERCENT", help="Size batches so that the plan holds on so many days in a hundred."
        ),
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write a page (.html) or the picture (.svg).")
    ] = None,
    begin: Annotated[
        str | None, typer.Option("--begin", metavar="TIME", help="When work begins, such as 8:30.")
    ] = None,
    seed: Annotated[
        int,
        typer.Option(
            "--seed",
            metavar="N",
            help="A number that the dice start from: the same seed gives the same plan and the same played days.",
        ),
    ] = 1,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """Plan the floor: what to buy, which batches, who does what and when. Exit code 1: no plan fits."""
    from mixclock.cli.planrunning import planned
    from mixclock.cli.plantyped import wish

    with one_line_errors():
        job = None if file is not None and job == os.environ.get("MIXCLOCK_JOB") else job
        _check(file, out, job)
        wished = wish(instead, instead_kit, instead_price, sure, begin, seed)
        sheet = planned(file, job, wished)
        if out is not None:
            _write(sheet, out)
        if as_json:
            from mixclock.words.plan import plan_json

            print_json(plan_json(sheet))
        else:
            _print(sheet, short=out is not None)
    if not sheet.plan.feasible:
        raise typer.Exit(ANSWER_IS_NO)


def _check(file: Path | None, out: Path | None, job: str | None) -> None:
    from mixclock.job.saying import CannotTellError

    if file is not None and job is not None:
        raise CannotTellError("FILE and --job both say which job; give one of them")
    if out is not None and out.suffix.casefold() not in ENDINGS:
        raise CannotTellError(
            f"--out: {out} is neither a page nor a picture; name it {out.stem or 'plan'}.html or .svg"
        )


def _write(sheet: PlanSheet, out: Path) -> None:
    from mixclock.job.saying import CannotTellError
    from mixclock.outside.atomicfile import write_atomically
    from mixclock.words.plan import plan_page, plan_picture

    told = plan_page(sheet) if out.suffix.casefold() == ".html" else plan_picture(sheet)
    try:
        write_atomically(out, told)
    except OSError as error:
        raise CannotTellError(f"--out: {out}: {error.strerror or error}; name another place") from error
    typer.echo(f"{out}: {'the plan, ready to print' if out.suffix.casefold() == '.html' else 'the picture'}", err=True)


def _print(sheet: PlanSheet, short: bool) -> None:
    from mixclock.words.plan import plan_lines
    from mixclock.words.plan.text import answer_lines, fit

    lines = [part for line in answer_lines(sheet) for part in fit(line)] if short else plan_lines(sheet)
    say_lines(lines)
