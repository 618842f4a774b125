"""What the board's tests may ask for: a served board over a fake house, and phones that are real browser pages."""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from mixclock.board.desk import Wishes
from mixclock.board.server import BoardServer
from mixclock.outside.clock import Clock, SystemClock
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
def serve() -> Iterator[Callable[..., Served]]:
    """Serve boards; they are taken down afterwards."""
    served: list[Served] = []

    def up(house: FakeHouse | None = None, clock: Clock | None = None, **rest: Any) -> Served:
        served.append(Served(house or FakeHouse(), clock or SystemClock(), **rest))
        return served[-1]

    yield up
    for each in served:
        each.down()


@pytest.fixture
def phone(browser: Any) -> Iterator[Callable[..., Any]]:
    """Pair a phone with a board: a page in a browser profile of its own. What the page complains of fails the test."""
    contexts: list[Any] = []
    complaints: list[str] = []

    def pair(served: Served, *, size: tuple[int, int] = (390, 844), init: str = "", **context: Any) -> Any:
        contexts.append(browser.new_context(viewport={"width": size[0], "height": size[1]}, **context))
        if init:
            contexts[-1].add_init_script(init)
        page = contexts[-1].new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(served.server.pairing_url())
        page.wait_for_selector("#contact[data-state=ok]")
        return page

    yield pair
    for context in contexts:
        context.close()
    assert complaints == []


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
