"""All jobs that are under way, for a foreman."""

from __future__ import annotations

import typer

from mixclock.cli.mistaken import ANSWER_IS_NO, one_line_errors
from mixclock.cli.options import AsJson


def jobs(as_json: AsJson = False) -> None:
    """All jobs under way: what is in a bucket, what is late, who heard, which floor opens this week; 1 if none."""
    from mixclock.board.office import jobs_told, office_lines
    from mixclock.cli.statement import print_json
    from mixclock.job.instants import json_text
    from mixclock.wiring import open_house

    with one_line_errors(), open_house() as house:
        now = house.clock.now()
        told = jobs_told(house, now)
        if as_json:
            print_json({"at": json_text(now), "jobs": told})
        else:
            for line in office_lines(told, now):
                typer.echo(line)
    if not told:
        raise typer.Exit(ANSWER_IS_NO)
