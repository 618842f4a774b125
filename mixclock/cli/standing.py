"""How the job stands, told; `now` is its command."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mixclock.cli.answering import print_json, say_lines
from mixclock.cli.commandwords import AS_JSON, AS_OF, JOB, KNOWN, CommandWord
from mixclock.cli.mistaken import ANSWER_IS_NO, at_house


def tell_standing(at: str | None, known: bool, job: str | None, as_json: bool) -> int:
    """Tell how the job stands; gives the exit code."""
    from mixclock.cli.statement import others_live_lines
    from mixclock.cli.typed import past_instant
    from mixclock.job.saying import CannotTellError
    from mixclock.words.nowjson import is_live
    from mixclock.words.nowscreen import now_lines

    with at_house(job=job) as house:
        present = house.clock.now()
        moment = past_instant(house, at)
        if known and moment is None:
            raise CannotTellError("--known asks what was known at a past instant; say which with --at TIME")
        answer = house.snapshot(present, at=moment, known=moment if known else None, in_words=as_json)
        if as_json:
            print_json(answer)
        else:
            site = house.site()
            say_lines((*others_live_lines(house), *now_lines(answer, site.wall, site.units)))
    return 0 if is_live(answer) else ANSWER_IS_NO


def takes(_: str) -> tuple[CommandWord, ...]:
    """What `now` takes."""
    return (AS_OF, KNOWN, JOB, AS_JSON)


def run(_: str, typed: Mapping[str, Any]) -> int:
    """`now`, from what was typed for each of its words; gives the exit code."""
    return tell_standing(**typed)
