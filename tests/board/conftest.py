"""What the board's tests may ask for: a served board over a fake house, and phones that are real browser pages."""

from __future__ import annotations

import os
import threading
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.desk import Wishes
from mixclock.board.joining import JoinedHouse
from mixclock.board.server import BoardServer
from mixclock.outside.clock import Clock, SystemClock
from mixclock.wiring import House
from tests.board.boardfakes import FakeHouse


@dataclass
class Served:
    """A board that is up, with a daemon that ticks until it is told to fall silent."""

    house: FakeHouse
    clock: Clock
    port: int = 0
    wishes: Wishes = field(default_factory=Wishes)
    limits: dict[str, Any] = field(default_factory=dict)
    server: BoardServer = field(init=False)

    def __post_init__(self) -> None:
        self._silent = threading.Event()
        self.up()

    def up(self) -> None:
        """Start, or start again on the same port: the daemon is back."""
        self.server = BoardServer(lambda: self.house, self.clock, port=self.port, wishes=self.wishes, **self.limits)
        self.port = int(self.server.address.rstrip("/").rpartition(":")[2])
        self.server.start()
        self.ticking()

    def ticking(self) -> None:
        """The daemon ticks twice a second."""
        self._silent.clear()
        self.server.heartbeat(self.clock.now())
        threading.Thread(target=self._tick, daemon=True).start()

    def silence(self) -> None:
        """The daemon hangs; the server still answers."""
        self._silent.set()

    def down(self) -> None:
        """The whole process is gone."""
        self._silent.set()
        self.server.stop()

    def _tick(self) -> None:
        while not self._silent.wait(0.4):
            self.server.heartbeat(self.clock.now())


@pytest.fixture
def joined(house: House) -> JoinedHouse:
    """The pottery studio's floor as the board sees it."""
    return JoinedHouse(house)


@pytest.fixture
def serve() -> Iterator[Callable[..., Served]]:
    """Serve boards; they are taken down afterwards."""
    served: list[Served] = []

    def up(house: FakeHouse | None = None, clock: Clock | None = None, **rest: Any) -> Served:
        served.append(Served(house or FakeHouse(), clock or SystemClock(), **rest))
        return served[-1]

    yield up
    for each in served:
        each.down()


A_PHONE = (390, 844)
LIKE_A_PHONE = {"viewport": {"width": A_PHONE[0], "height": A_PHONE[1]}, "permissions": ["screen-wake-lock"]}
"""A page that may not keep the screen on by the browser's lock plays a video: half of what an idle page does."""


def looked_at_now_and_then(page: Any) -> None:
    """Whoever waits on this page looks every 50 ms. By itself a page is drawn sixty times a second to be looked at."""
    page.wait_for_function = partial(page.wait_for_function, polling=50)


@dataclass(frozen=True)
class Profile:
    """A browser profile of a kind, with its page that stays and the boards that it has been to."""

    context: Any
    stays: Any
    like: frozenset[Any]
    seen: set[str] = field(default_factory=set)

    def tab(self) -> Any:
        """Another page, opened from the one that stays: for one from nowhere a browser begins a process and ends it."""
        with self.context.expect_page() as opened:
            self.stays.evaluate("() => { window.open('about:blank'); }")
        return opened.value

    def forget(self, address: str) -> None:
        """Forget what was kept of a board. Most get a port that nobody had, so that nothing was."""
        if address in self.seen:
            session = self.context.new_cdp_session(self.stays)
            session.send("Storage.clearDataForOrigin", {"origin": address.rstrip("/"), "storageTypes": "all"})
            session.detach()
        self.seen.add(address)


@dataclass
class Phones:
    """Browser profiles that are used again: a new one takes more work than the page itself.

    In each a page that shows next to nothing stays open, because a browser ends a process without pages.
    """

    browser: Any
    idle: dict[frozenset[Any], list[Profile]] = field(default_factory=lambda: defaultdict(list))

    def lend(self, address: str, **kind: Any) -> Profile:
        """A profile of this kind without cookies or anything kept; no two know of each other."""
        like = frozenset(kind.items())
        lent = self.idle[like].pop() if self.idle[like] else self._begin(address, like)
        lent.forget(address)
        return lent

    def take_back(self, lent: Profile) -> None:
        """Close its other pages, and forget where it was let in."""
        if lent.stays.is_closed():  # the test has closed it all
            return
        for page in lent.context.pages:
            if page is not lent.stays:
                page.close()
        lent.context.clear_cookies()
        self.idle[lent.like].append(lent)

    def _begin(self, address: str, like: frozenset[Any]) -> Profile:
        context = self.browser.new_context(**(LIKE_A_PHONE | dict(like)))
        stays = context.new_page()
        stays.goto(f"{address}static/mark.svg")
        return Profile(context, stays, like)


@pytest.fixture(scope="session")
def phones(browser: Any) -> Phones:
    """The profiles of this worker's browser."""
    return Phones(browser)


@pytest.fixture
def phone(phones: Phones) -> Iterator[Callable[..., Any]]:
    """Pair a phone with a board: a page in a browser profile of its own. What the page complains of fails the test.

    One with time of its own can be put ahead by `page.clock.run_for`: its clocks and timers run through that span.
    """
    lent: list[Profile] = []
    own: list[Any] = []
    complaints: list[str] = []

    def page_of(served: Served, own_time: bool, kind: dict[str, Any]) -> Any:
        if own_time:
            own.append(phones.browser.new_context(**(LIKE_A_PHONE | kind)))
            own[-1].clock.install()
            return own[-1].new_page()
        lent.append(phones.lend(served.server.address, **kind))
        return lent[-1].tab()

    def pair(
        served: Served, *, size: tuple[int, int] = A_PHONE, init: str = "", own_time: bool = False, **kind: Any
    ) -> Any:
        page = page_of(served, own_time, kind)
        if size != A_PHONE:
            page.set_viewport_size({"width": size[0], "height": size[1]})
        if init:
            page.add_init_script(init)
        if not own_time:
            looked_at_now_and_then(page)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(served.server.pairing_url())
        page.wait_for_selector("#contact[data-state=ok]")
        return page

    yield pair
    for context in own:
        context.close()
    for each in lent:
        phones.take_back(each)
    assert complaints == []


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In a file those that share a page come last: no other test has to wait while that page is open too."""
    places: dict[Path, int] = {}
    for place, item in enumerate(items):
        places.setdefault(item.path, place)
    items.sort(key=lambda item: (places[item.path], "glass" in getattr(item, "fixturenames", ())))


@pytest.fixture(scope="module")
def standing(browser: Any) -> Iterator[Any]:
    """A board with phones for all tests of a file that leave nothing on a page."""
    from tests.board.standing import StandingBoard

    board = StandingBoard(browser)
    yield board
    board.end()


@pytest.fixture
def board(standing: Any) -> Iterator[Callable[..., Any]]:
    """Put a house on the board that stands. It is asked for as `serve` is."""
    yield standing.put_on
    complaints, standing.complaints = standing.complaints, []
    assert complaints == []


@pytest.fixture
def glass(standing: Any) -> Callable[..., Any]:
    """A phone that looks at it, open since the tests before; another one each time it is asked for. As `phone`."""

    def look(showing: Any, *, size: tuple[int, int] = A_PHONE) -> Any:
        return standing.page_of(showing, size)

    return look


@pytest.fixture(scope="session")
def axe_source() -> str:
    """axe-core, from a node_modules folder that `.ci/run` fills."""
    named = os.environ.get("AXE_CORE")
    places = [Path(named)] if named else []
    places += [folder / "node_modules" / "axe-core" / "axe.min.js" for folder in Path(__file__).resolve().parents]
    found = next((place for place in places if place.is_file()), None)
    if found is None:
        pytest.skip("not installed: axe-core (npm install axe-core, or name its axe.min.js in AXE_CORE)")
    return found.read_text(encoding="utf-8")
