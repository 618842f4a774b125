"""How the job stands."""

from __future__ import annotations

import typer

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house
from mixclock.cli.options import AsJson, AsOf, JobName, Known


def now(
    at: AsOf = None,
    known: Known = False,
    job: JobName = None,
    as_json: AsJson = False,
) -> None:
    """How the job stands: batches, windows, conditions and alerts; 1 where nothing is live."""
    from mixclock.cli.statement import others_live_lines
    from mixclock.cli.typed import instant
    from mixclock.job.saying import CannotTellError
    from mixclock.words.nowjson import is_live
    from mixclock.words.nowscreen import now_lines

    with at_house(job=job) as house:
        present = house.clock.now()
        moment = instant(house, at, "--at")
        if known and moment is None:
            raise CannotTellError("--known asks what was known at a past instant; say which with --at TIME")
        if moment is not None and moment > present:
            raise CannotTellError("--at: that is still to come; `mixclock plan` looks ahead")
        answer = house.snapshot(present, at=moment, known=moment if known else None)
        if as_json:
            print_json(answer)
        else:
            site = house.site()
            say_lines((*others_live_lines(house), *now_lines(answer, site.wall, site.units)))
    if not is_live(answer):
        raise typer.Exit(ANSWER_IS_NO)
