"""The question of the next kit, as the page asks it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from mixclock.board.house import RefusedError
from mixclock.decide.kitshapes import KitAnswer
from mixclock.job.saying import CannotTellError
from mixclock.outside.bookerrors import BookError
from mixclock.outside.followedjob import FollowedJob
from mixclock.wiring import House
from mixclock.words.byfinger import by_finger
from mixclock.words.nextkit import kit_entry, kit_json, kit_said


def told_kit(house: House, followed: FollowedJob | None, now: datetime) -> Mapping[str, Any]:
    """The answer, with the words for the ear."""
    answer, followed = _answer(house, followed, now)
    assert followed.standing is not None
    site = followed.standing.site
    told = kit_json(answer, site, now)
    touched = {"because": by_finger(told["because"]), "ways": [by_finger(way) for way in told["ways"]]}
    return {**told, **touched, "spoken": kit_said(answer, site, now)}


def ask_kit(house: House, followed: FollowedJob | None, now: datetime, by: str | None) -> Mapping[str, Any]:
    """The answer. The book keeps it, with the name of whoever asked."""
    told = told_kit(house, followed, now)
    answer, followed = _answer(house, followed, now)
    assert followed.standing is not None
    if followed.standing.finished is None:
        try:
            house.book.append(followed.job, kit_entry(answer, followed.standing, now), by=by)
        except (BookError, CannotTellError) as refused:
            raise RefusedError(str(refused)) from refused
    return told


def _answer(house: House, followed: FollowedJob | None, now: datetime) -> tuple[KitAnswer, FollowedJob]:
    if followed is None or followed.standing is None:
        raise RefusedError("no job is under way: start one on the laptop")
    return house.kits.answer(followed.standing, followed.tracks, now, followed.plans), followed
