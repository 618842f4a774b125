"""Page to page: how long after a touch on one phone it stands on another's glass, beside a bare echo.

Run `python -m tests.bench.phones 200`. Both phones are real pages of one browser, on the board and the daemon that
`watch` joins, over a book of its own: each touch is durable before it is answered, and what it moves is reckoned. The
echo goes the same way in the same run, from one page's request through the same event stream to the other page, with
nothing kept, reckoned or drawn: the ratio tells what our own work adds, whatever else the machine is doing.

Two moments are told. A touch is drawn when the other page shows what was stated: the batch, and how far it is. What
follows from it, the next time on its card, is worked out after that and has a line of its own.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, sync_playwright

from mixclock.board.server import BoardServer
from mixclock.cli.watch import joined
from mixclock.outside.channels.choosable import ChannelWishes
from mixclock.outside.clock import SystemClock
from mixclock.wiring import open_house

MOST_MS, MOST_RATIO = 150.0, 2.0
BAYS, PATIENCE_MS = 5, 8000
JOB = """
name = "Boat shed floor"
zone = "Europe/Lisbon"
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
kit = "9 L"
""" + "".join(f'[[areas]]\nname = "slip {number}"\nsize = "24 m2"\n' for number in range(1, BAYS + 1))
STEPS = ("mixing", "poured", "rolled", "flaked")

# what stands on each card, by the moment it was first seen there; a flaked batch may join those that wait alike. The
# echo comes by the very stream that brings the views
LISTEN = """
  window.seen = {};
  window.stamp = (what) => { window.seen[what] ??= performance.timeOrigin + performance.now(); };
  window.EventSource = class extends EventSource {
    constructor(...all) {
      super(...all);
      this.addEventListener("echo", (event) => window.stamp(event.data));
    }
  };
"""
WATCH = """() => {
  let before = [];
  const cards = document.querySelector("#cards");
  const look = () => {
    const now = [...cards.querySelectorAll(".card .number b")].map((number) => number.textContent);
    for (const number of before.filter((each) => !now.includes(each))) {
      window.stamp(`flaked ${number}`);
      window.stamp(`flaked ${number} and what follows`);
    }
    for (const card of cards.querySelectorAll(".card")) {
      const number = card.querySelector(".number b").textContent;
      const stage = card.querySelector(".stuff").textContent;
      if (!number || !stage) continue;
      const shows = (step) => {
        window.stamp(`${step} ${number}`);
        if (!card.hasAttribute("data-first")) window.stamp(`${step} ${number} and what follows`);
      };
      if (/^in the bucket/.test(stage)) shows("mixing");
      if (/^on the floor/.test(stage)) shows("poured");
      for (const done of ["rolled", "flaked"]) if (stage.startsWith(done)) shows(done);
    }
    before = now;
  };
  const what = { childList: true, subtree: true, characterData: true, attributes: true };
  new MutationObserver(look).observe(cards, { ...what, attributeFilter: ["data-first"] });
}"""
STATE = """async (statement) => {
  const { state, forgetDouble } = await import('/static/main.js');
  forgetDouble();
  const at = performance.timeOrigin + performance.now();
  state(statement, { label: 'bench' });
  return at;
}"""
ECHO = """(name) => {
  const at = performance.timeOrigin + performance.now();
  const headers = { 'content-type': 'application/json' };
  fetch('/shown', { method: 'POST', headers, body: JSON.stringify({ page: name, alerts: [] }) });
  return at;
}"""


@dataclass(frozen=True)
class Latency:
    """How long each touch and each echo took to the other page, and how long what follows from a touch."""

    touches_ms: tuple[float, ...]
    echoes_ms: tuple[float, ...]
    followed_ms: tuple[float, ...]

    @property
    def ratio(self) -> float:
        """How many times the echo's 95th percentile a touch's is."""
        return percentile(self.touches_ms, 0.95) / max(percentile(self.echoes_ms, 0.95), 0.1)

    @property
    def holds(self) -> bool:
        """Whether both goals are met."""
        return percentile(self.touches_ms, 0.95) <= MOST_MS and self.ratio <= MOST_RATIO

    def lines(self) -> Iterator[str]:
        """As they are printed."""
        told = (
            ("page to page", self.touches_ms),
            ("echo, the same stream", self.echoes_ms),
            ("the next time on its card", self.followed_ms),
        )
        for name, values in told:
            yield (
                f"{name}: p50 {percentile(values, 0.5):.0f} ms, p95 {percentile(values, 0.95):.0f} ms, "
                f"{len(values)} times"
            )
        yield f"ratio of the p95: {self.ratio:.1f} (at most {MOST_RATIO:g}; the page's at most {MOST_MS:.0f} ms)"


def percentile(values: tuple[float, ...], share: float) -> float:
    """The value below which a share of them lies.

    >>> percentile((3.0, 1.0, 2.0), 0.5)
    2.0
    """
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * share))]


def measure(times: int = 200) -> Latency:
    """Touch so many times, with an echo beside each."""
    with tempfile.TemporaryDirectory() as home, _served(Path(home)) as server, sync_playwright() as playwright:
        _answer_echoes(server)
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        one, other = _paired(browser, server), _paired(browser, server)
        other.evaluate(WATCH)
        touches, echoes, followed = [], [], []
        for number in range(times):
            batch, step = number // len(STEPS) + 1, STEPS[number % len(STEPS)]
            name = f"{step} {batch}"
            touched = one.evaluate(STATE, _statement(batch, step))
            touches.append(_seen_ms(other, name) - touched)
            followed.append(_seen_ms(other, f"{name} and what follows") - touched)
            echoes.append(_took_ms(one, other, ECHO, f"echo {number}", f"echo {number}"))
        browser.close()
    return Latency(tuple(touches), tuple(echoes), tuple(followed))


@contextmanager
def _served(home: Path) -> Iterator[BoardServer]:
    with open_house(home, SystemClock()) as house:
        house.start(JOB)
        daemon, server = joined(house, ChannelWishes(sound=False), (False, 0), lambda _: None)
        assert server is not None
        server.start()
        daemon.start()
        try:
            yield server
        finally:
            daemon.stop()
            server.stop()


def _answer_echoes(server: BoardServer) -> None:
    """A receipt of a page called "echo ..." is sent to every page, by the stream that brings the views."""
    desk = server._desk
    kept = desk.receipts.put

    def put(phone: str, page: str, shown: Any) -> None:
        if page.startswith("echo"):
            desk.hub.send("echo", page)
        else:
            kept(phone, page, shown)

    desk.receipts.put = put  # type: ignore[method-assign]


def _paired(browser: Browser, server: BoardServer) -> Any:
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.add_init_script(LISTEN)
    page.goto(server.pairing_url())
    page.wait_for_selector("#contact[data-state=ok]")
    return page


def _statement(batch: int, step: str) -> dict[str, Any]:
    if step != STEPS[0]:
        return {"verb": step, "batch": batch}
    slip = f"slip {(batch - 1) % BAYS + 1}"
    return {"verb": step, "product": "Slow epoxy base", "areas": [slip], "volume_l": 7.2, "coat": "base"}


def _took_ms(one: Any, other: Any, do: str, told: Any, name: str) -> float:
    touched = one.evaluate(do, told)
    return _seen_ms(other, name) - float(touched)


def _seen_ms(other: Any, name: str) -> float:
    """When it stood on the other page, by the clock that both share."""
    other.wait_for_function("(name) => name in window.seen", arg=name, timeout=PATIENCE_MS)
    time.sleep(0.02)  # noqa: TID251 — a bench, in real time
    return float(other.evaluate("(name) => window.seen[name]", name))


def main(times: int) -> int:
    """Print the percentiles of both, and their ratio; 1 where a goal is missed."""
    found = measure(times)
    print("\n".join(found.lines()))
    return 0 if found.holds else 1


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
