"""Page to page: how long after a touch on one phone it stands on another's glass, beside a bare echo.

Run `python -m tests.bench.phones 200`. Both phones are real pages of one browser. The board and the daemon that
`watch` joins run in a process of their own, over a book of their own: each touch is durable before it is answered, and
what it moves is reckoned. The echo goes the same way in the same run, from one page's request through the same event
stream onto the other page, where a bare card with the lines of a real one is drawn. Nothing is kept or reckoned for it:
the ratio tells what our own work adds, whatever else the machine is doing.

Two moments are told. A touch is drawn when the other page shows what was stated: the batch, and how far it is. What
follows from it, the next time on its card, is worked out after that and has a line of its own.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, sync_playwright

from mixclock.board.server import BoardServer
from mixclock.cli.watch import joined
from mixclock.outside.channels.choosable import ChannelWishes
from mixclock.outside.clock import SystemClock
from mixclock.outside.memory import give_back
from mixclock.wiring import open_house

MOST_MS, MOST_RATIO = 150.0, 2.0
BAYS, PATIENCE_MS = 5, 8000
SERVE = "--serve"
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

# what an echo brings: the lines of a card, as a page gets those of a statement
ECHOED = {
    "id": 1, "product": "Slow epoxy base", "amount": "7.2 L", "grit": "9.6 kg of flake", "where": "slip 1",
    "stage": "on the floor", "closing": "Poured 10:42, mixer", "remain": "", "button": "Rolled",
    "others": [{"label": f"Saw: {sign}", "statement": {"verb": "saw", "sign": sign, "batch": 1}}
               for sign in ("skin", "gel", "strings", "blush", "bubbles")],
}  # fmt: skip

# what stands on each card, by the moment it was first seen there; a flaked batch may join those that wait alike. The
# echo comes by the very stream that brings the views, and is seen as a real card is: drawn
LISTEN = """
  window.seen = {};
  window.stamp = (what) => { window.seen[what] ??= performance.timeOrigin + performance.now(); };
  const echoed = ({ name, card }) => {
    const made = (tag, cls, text) => Object.assign(document.createElement(tag), { className: cls, textContent: text });
    const tile = made("button", "number", `${card.id}`);
    const about = made("div", "about", "");
    const stuff = [card.stage, card.amount, card.grit, card.product].join(" · ");
    for (const [cls, text] of Object.entries({ place: card.where, closing: card.closing, remain: card.remain, stuff }))
      about.append(made("p", cls, text));
    const does = made("div", "does", "");
    does.append(made("button", "target main", card.button));
    const drawn = made("li", "card", "");
    drawn.dataset.name = name;
    drawn.append(tile, about, does);
    document.querySelector("#echoes").replaceChildren(drawn);
  };
  window.EventSource = class extends EventSource {
    constructor(...all) {
      super(...all);
      this.addEventListener("echo", (event) => {
        const told = JSON.parse(event.data);
        window.stamp(`${told.name} came`);
        echoed(told);
      });
    }
  };
"""
WATCH = """() => {
  let before = [];
  const echoes = Object.assign(document.createElement("ul"), { id: "echoes", className: "cards" });
  document.querySelector("#batches").append(echoes);
  new MutationObserver(() => window.stamp(echoes.firstChild.dataset.name)).observe(echoes, { childList: true });
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
    undrawn_ms: tuple[float, ...]
    """The same echoes, the moment they are in the other page's script."""
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
            ("echo, the same stream, a bare card drawn", self.echoes_ms),
            ("the same echo before it is drawn", self.undrawn_ms),
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
    with _served() as pairing_url, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        one, other = _paired(browser, pairing_url()), _paired(browser, pairing_url())
        for page in (one, other):
            page.evaluate(WATCH)
        touches, echoes, undrawn, followed = [], [], [], []
        for number in range(times):
            batch, step = number // len(STEPS) + 1, STEPS[number % len(STEPS)]
            name, echo = f"{step} {batch}", f"echo {number}"
            touched = one.evaluate(STATE, _statement(batch, step))
            touches.append(_seen_ms(other, name) - touched)
            followed.append(_seen_ms(other, f"{name} and what follows") - touched)
            asked = one.evaluate(ECHO, echo)
            echoes.append(_seen_ms(other, echo) - asked)
            undrawn.append(_seen_ms(other, f"{echo} came") - asked)
        browser.close()
    return Latency(tuple(touches), tuple(echoes), tuple(undrawn), tuple(followed))


@contextmanager
def _served() -> Iterator[Callable[[], str]]:
    """The watch in a process of its own, as a crew runs it. Gives what asks it for the next phone's address."""
    command = [sys.executable, "-m", "tests.bench.phones", SERVE]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as served:

        def pairing_url() -> str:
            assert served.stdin is not None
            assert served.stdout is not None
            print("the next phone", file=served.stdin, flush=True)
            return served.stdout.readline().strip()

        yield pairing_url
        served.communicate()  # the end of its input ends it


def serve() -> int:
    """Be that process: a line in, a phone's address out, until there are no more lines."""
    with tempfile.TemporaryDirectory() as home, open_house(Path(home), SystemClock()) as house:
        house.start(JOB)
        daemon, server = joined(house, ChannelWishes(sound=False), (False, 0), lambda _: None)
        assert server is not None
        _answer_echoes(server)
        daemon.start()
        server.start()
        give_back()
        try:
            for _ in sys.stdin:
                print(server.pairing_url(), flush=True)
        finally:
            daemon.stop()
            server.stop()
    return 0


def _answer_echoes(server: BoardServer) -> None:
    """A receipt of a page called "echo ..." is sent to every page, by the stream that brings the views."""
    desk = server._desk
    kept = desk.receipts.put

    def put(phone: str, page: str, shown: Any) -> None:
        if page.startswith("echo"):
            desk.hub.send("echo", json.dumps({"name": page, "card": ECHOED}))
        else:
            kept(phone, page, shown)

    desk.receipts.put = put  # type: ignore[method-assign]


def _paired(browser: Browser, address: str) -> Any:
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.add_init_script(LISTEN)
    page.goto(address)
    page.wait_for_selector("#contact[data-state=ok]")
    return page


def _statement(batch: int, step: str) -> dict[str, Any]:
    if step != STEPS[0]:
        return {"verb": step, "batch": batch}
    slip = f"slip {(batch - 1) % BAYS + 1}"
    return {"verb": step, "product": "Slow epoxy base", "areas": [slip], "volume_l": 7.2, "coat": "base"}


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
    sys.exit(serve() if sys.argv[1:] == [SERVE] else main(int(sys.argv[1]) if len(sys.argv) > 1 else 200))
