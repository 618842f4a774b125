"""May the next kit be opened?"""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

import typer

from mixclock.cli.answering import say_answer
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house
from mixclock.cli.options import AsJson, JobName


def next(  # noqa: A001 - as it is asked on a floor
    by: Annotated[str | None, typer.Option("--by", metavar="WHO", help="Who asks.")] = None,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """May the next kit be opened? Yes, wait or no, and what turns a no into a yes. Exit code 1: not yes.

    It goes by the plan's own model, at today's pace: the bucket that stands, the wet edge, the hour, the sheet's
    limits, what is left. mixclock checks again by itself until part B goes in.
    """
    from mixclock.decide.kitshapes import KitVerdict
    from mixclock.decide.plan.days.planjson import plans_in
    from mixclock.outside.bookerrors import ShutError
    from mixclock.words.nextkit import kit_entry, kit_json, kit_lines

    with at_house(job=job) as house:
        standing = house.standing(house.which.stated(lambda _: ()))
        now = house.time().now
        plans = plans_in(standing.entries, standing.withdrawn)
        answer = house.kits.answer(standing, house.tracks(standing), now, plans)
        if standing.finished is None:
            with suppress(ShutError):  # the crew gets the answer even where the book cannot keep it
                house.book.append(standing.job, kit_entry(answer, standing, now), by=by)
        say_answer(as_json, kit_json(answer, standing.site, now), kit_lines(answer, standing.site, now))
    if answer.verdict is not KitVerdict.YES:
        raise typer.Exit(ANSWER_IS_NO)
