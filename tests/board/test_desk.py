"""The desk beats, so that a page knows the laptop to be there; the loop's time is the test's own."""

from __future__ import annotations

import asyncio
import json
import re
import selectors
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from mixclock.board import desk as of_desk
from mixclock.board.desk import Desk, Wishes
from mixclock.outside.clock import FakeClock, SystemClock
from tests.board.boardfakes import FakeHouse

DOUBTS_AFTER_S = 5.0
"""A page turns amber when the laptop said nothing for so long (link.js)."""


class WaitingSelector(selectors.DefaultSelector):
    """Waits for nothing: what it would have waited for has passed."""

    def __init__(self) -> None:
        super().__init__()
        self.now_s = 1000.3

    def select(self, timeout: float | None = None) -> list[Any]:
        if timeout is None:
            raise RuntimeError("nobody would ever go on")
        self.now_s += max(timeout, 0.0)
        return super().select(0)


class Loop(asyncio.SelectorEventLoop):
    """A loop on whose clock a minute is over at once."""

    def __init__(self) -> None:
        self.waiting = WaitingSelector()
        super().__init__(self.waiting)

    def time(self) -> float:
        return self.waiting.now_s


class Beaten(Desk):
    """A desk that writes down what it beat, and when; it beats in a thread of its own."""

    troubles: list[str]

    def played(self, for_s: float, *then: tuple[float, Callable[[], None]]) -> list[tuple[float, dict[str, Any]]]:
        """Beat for so long; meanwhile, at some second, something happens."""
        loop, told = Loop(), list[tuple[float, dict[str, Any]]]()
        begins_s = loop.time()
        self.hub.send = lambda event, data: told.append((loop.time() - begins_s, json.loads(data)))  # type: ignore[method-assign]

        async def play() -> None:
            for after_s, happens in then:
                loop.call_later(after_s, happens)
            with suppress(TimeoutError):
                await asyncio.wait_for(self.beat_on(), for_s)

        with closing(loop), ThreadPoolExecutor(1) as apart:  # a browser that was driven before keeps this thread's loop
            apart.submit(loop.run_until_complete, play()).result()
        return told


@pytest.fixture
def desk() -> Iterator[Beaten]:
    troubles: list[str] = []
    made = Beaten(FakeHouse, FakeClock(SystemClock().now()), Wishes(troubles=lambda: troubles))
    made.troubles = troubles
    yield made
    made.close()


def test_a_page_doubts_the_laptop_after_the_seconds_that_these_tests_go_by() -> None:
    link = (Path(of_desk.__file__).parent / "static" / "link.js").read_text(encoding="utf-8")
    (amber_ms,) = re.findall(r'>= (\d+) \? "amber"', link)
    assert int(amber_ms) == DOUBTS_AFTER_S * 1000


def test_where_nothing_runs_a_page_hears_the_laptop_every_two_seconds_and_one_lost_beat_raises_no_doubt(
    desk: Beaten,
) -> None:
    at_s = [second for second, _ in desk.played(60.0)]
    spans_s = [later - sooner for sooner, later in pairwise(at_s)]
    assert len(spans_s) >= 28
    assert spans_s == pytest.approx([2.0] * len(spans_s))
    assert 2 * max(spans_s) < DOUBTS_AFTER_S
    assert at_s[0] < DOUBTS_AFTER_S


@pytest.mark.parametrize("shown", ["batches", "alerts", "deadlines"])
def test_while_a_bucket_or_a_call_is_on_a_page_the_laptop_is_heard_every_second(desk: Beaten, shown: str) -> None:
    desk.hub.open("mixer's phone", "page 1")
    desk.hub.show({"job": "Pottery studio floor", shown: [{"number": 1}]})
    at_s = [second for second, _ in desk.played(20.0)]
    spans_s = [later - sooner for sooner, later in pairwise(at_s)]
    assert len(spans_s) >= 18
    assert spans_s == pytest.approx([1.0] * len(spans_s))


@pytest.mark.parametrize("begins_s", [4.05, 5.05])
def test_a_new_trouble_is_on_every_page_at_once_though_nothing_runs(desk: Beaten, begins_s: float) -> None:
    """An idle beat may be two seconds away; a trouble that is told waits for none. Nor does its end."""
    ends_s = begins_s + 7.0

    def begin() -> None:
        desk.troubles.append("The disk is full")
        desk.trouble_told()

    def end() -> None:
        desk.troubles.clear()
        desk.trouble_told()

    told = desk.played(20.0, (begins_s, begin), (ends_s, end))
    spoken = [second for second, beat in told if beat["trouble"] == "The disk is full"]
    silent = [second for second, beat in told if beat["trouble"] is None and second > begins_s + 0.1]
    assert spoken[0] == pytest.approx(begins_s, abs=0.1)
    assert silent[0] == pytest.approx(ends_s, abs=0.1)
    assert spoken[-1] < silent[0]


def test_a_trouble_that_is_told_when_the_board_has_ended_hurts_nobody(desk: Beaten) -> None:
    desk.played(3.0)
    desk.defect("the next kit: nobody knows")
    desk.sensor_said("slab", "sensor slab: 80 °C. Held back")
    assert "the next kit" in json.loads(desk.beat())["trouble"]
