"""A board that stays up for a whole file of tests, and the phones that stay paired with it.

To load a page takes a browser seven times as much as to show another house on one that is open. Before the next test
such a page forgets what the last one did to it. A test that turns on what a page keeps to itself (its sound, its own
clock, what it folded away, how it was let in) takes a page of its own: the fixture `phone`.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import count
from typing import Any

from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse
from tests.board.conftest import LIKE_A_PHONE, Served, looked_at_now_and_then
from tests.board.scenes import SHOWS, ChangingHouse

PEDAL_BOUNCES_MS = 1500
FORGET_THE_LAST_TEST = """async (pedal_bounces_ms) => {
  const { store, forgetDouble, tick, draw } = await import('/static/main.js');
  window.store = store;
  await new Promise((then) => setTimeout(then, 100));  // nothing is drawn until the last touch is let go
  for (const each of document.querySelectorAll('.group button')) {
    if (each.textContent.includes('touch to fold')) each.click();
  }
  document.querySelector('#sheet-close').click();
  document.querySelector('#toast').hidden = true;
  document.activeElement?.blur();
  if (localStorage.getItem('mixclock.pedal')) await new Promise((then) => setTimeout(then, pedal_bounces_ms));
  localStorage.clear();
  forgetDouble();
  mixclockBoard.said.length = 0;
  mixclockBoard.played.length = 0;
  store.heardHere.clear();
  const shown = store.view;
  Object.assign(store, { onlyMine: false, holder: null, view: null });
  tick();  // without a call on it, it forgets what it sounded
  draw();
  store.view = shown;  // another one comes by the line, which keeps the order
  draw();
  scrollTo(0, 0);
}"""


class StandingHouse(ChangingHouse):
    """The house of the test that runs. It is news where another is put on, and when that one says so."""

    def __init__(self) -> None:
        super().__init__()
        self.put_on = 0

    def change(self, to: Any) -> None:
        """Another house."""
        self.put_on += 1
        super().change(to)

    def version(self) -> Any:
        """Which house it is, and how far that is."""
        return self.put_on, self.__getattr__("version")()


@dataclass
class Showing:
    """What a test put on, with the names that a board of its own has."""

    house: FakeHouse
    served: Served
    phones: int = 0

    @property
    def server(self) -> Any:
        """The board's server, which is another one after it was down."""
        return self.served.server

    def down(self) -> None:
        """The whole process is gone."""
        self.served.down()

    def up(self) -> None:
        """It is back on the same port, as it must be before the test ends."""
        self.served.up()


@dataclass
class StandingBoard:
    """A board on which one house after the other is put, with the phones that look at it all along."""

    browser: Any
    kept: StandingHouse = field(default_factory=StandingHouse)
    pages: list[Any] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)
    number: Any = field(default_factory=count)

    def __post_init__(self) -> None:
        self._change_to(FakeHouse())
        self.served = Served(self.kept, SystemClock())  # type: ignore[arg-type]

    def put_on(self, house: FakeHouse | None = None) -> Showing:
        """Show this house from the first look on, under a name that no other had."""
        shown = house or FakeHouse()
        if shown.job.job is not None:
            shown.job = replace(shown.job, job=f"{shown.job.job} {next(self.number)}")
        return Showing(shown, self.served)

    def page_of(self, showing: Showing, size: tuple[int, int]) -> Any:
        """A page that shows it: the next one that this test has not asked for yet."""
        if not showing.phones:
            self._show(showing.house)
        page = self.pages[showing.phones] if showing.phones < len(self.pages) else self._another()
        showing.phones += 1
        if page.viewport_size != {"width": size[0], "height": size[1]}:
            page.set_viewport_size({"width": size[0], "height": size[1]})
        page.evaluate(FORGET_THE_LAST_TEST, PEDAL_BOUNCES_MS)
        page.wait_for_function(SHOWS, arg=showing.house.job.job)
        return page

    def end(self) -> None:
        """Close the pages and the board."""
        for page in self.pages:
            page.context.close()
        self.served.down()

    def _change_to(self, house: FakeHouse) -> None:
        self.kept.change(lambda: house)

    def _show(self, house: FakeHouse) -> None:
        if house.job.job is None:  # a board without a job looks like the last one without
            between = self.put_on().house
            self._show(between)
            for page in self.pages:
                page.wait_for_function(SHOWS, arg=between.job.job)
        self._change_to(house)
        desk = self.served.server._desk
        desk.ledger._lately.clear()  # what another house was told is no double
        for each in desk.phones.listed():
            desk._room.ask(partial(desk.phones.hold, each["id"], None)).result()
        self.served.server.notify_change()
        for _ in range(2000 if self.pages else 0):
            if desk.hub.view(None).get("job", "") == house.job.job:
                return
            time.sleep(0.005)  # noqa: TID251  the server has a thread of its own
        assert not self.pages, "the board does not show the new house"

    def _another(self) -> Any:
        page = self.browser.new_context(has_touch=True, **LIKE_A_PHONE).new_page()
        looked_at_now_and_then(page)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(self.served.server.pairing_url())
        page.wait_for_selector("#contact[data-state=ok]")
        self.pages.append(page)
        return page
