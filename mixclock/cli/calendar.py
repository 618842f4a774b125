"""The windows of days for a phone's calendar."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from mixclock.cli.answering import write_file
from mixclock.cli.mistaken import at_house
from mixclock.cli.options import JobName


def calendar(
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FILE", help="The file to write, such as floor.ics.")
    ] = None,
    job: JobName = None,
) -> None:
    """Write coat, walk and park dates as a calendar file. Import a newer one, and the dates in your calendar move."""
    from mixclock.job.entry import TOLD_BY_MACHINE
    from mixclock.words.calendar import MAY_STAY_SILENT, calendar_events, calendar_text

    with at_house(job=job) as house:
        house.which.settle()
        now = house.clock.now()
        standing = house.standing(skip=TOLD_BY_MACHINE)
        found = house.tracks(standing)
        events = calendar_events(standing, found, now)
        path = to or Path(f"{standing.job.replace('/', '-')}.ics")
        write_file(path, calendar_text(standing, found, now), "name another place with --to")
        typer.echo(f"{path}: {len(events)} dates of '{standing.job}'")
        for event in events:
            typer.echo(f"  {event.title}")
        typer.echo(MAY_STAY_SILENT)
