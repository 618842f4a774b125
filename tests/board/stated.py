"""What phones have stated in a house, waited for as it comes: how soon that is the machine decides, not the test."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from tests.board.boardfakes import FakeHouse

COMES_WITHIN_MS, MORE_WOULD_COME_WITHIN_MS = 4000, 400


def verbs(house: FakeHouse) -> list[str]:
    """What stands, in the order in which it was stated."""
    return [each.statement["verb"] for each in house.live()]


def until(page: Any, holds: Callable[[], bool], within_ms: int = COMES_WITHIN_MS) -> None:
    """Wait until something comes to hold, while the page goes on: it is not asked, which would cost it a turn."""
    for _ in range(within_ms // 20):
        if holds():
            return
        time.sleep(0.02)  # noqa: TID251  a browser and a server need real time
    raise AssertionError("it did not come to pass in time")


def come_to(page: Any, house: FakeHouse, *expected: str) -> None:
    """These were stated in this order, and nothing after them."""
    until(page, lambda: len(verbs(house)) >= len(expected))
    page.wait_for_timeout(MORE_WOULD_COME_WITHIN_MS)
    assert verbs(house) == [*expected]
