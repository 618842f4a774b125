"""All jobs that are under way, for a foreman."""

from __future__ import annotations

import typer

from mixclock.cli.answering import say_answer
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house
from mixclock.cli.options import AsJson


def jobs(as_json: AsJson = False) -> None:
    """All jobs under way: what is in a bucket, what is late, who heard, which floor opens this week. Exit 1: none."""
    from mixclock.board.office import Foreman
    from mixclock.board.officepage import office_lines
    from mixclock.cli.streams import fitting_lines
    from mixclock.job.instants import json_text

    with at_house() as house:
        now = house.clock.now()
        looks = Foreman(house).looks(now)
        told = {"at": json_text(now), "jobs": [look.told for look in looks]}
        say_answer(as_json, told, fitting_lines(office_lines(looks, now)))
    if not looks:
        raise typer.Exit(ANSWER_IS_NO)
