"""Page to page: how long after a touch on one phone it stands on another's glass, beside a bare echo.

Run `python -m tests.bench.phones 200`. Both phones are real pages of one browser, on the board as it is served. The
echo is a request of the same page that the same server answers with nothing reckoned, in the same run: the ratio tells
what our own work adds, whatever else the machine is doing.
"""

from __future__ import annotations

import sys
import threading
import time
from typing import Any

from playwright.sync_api import Browser, sync_playwright

from mixclock.board.server import BoardServer
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing

SEEN = """() => {
  window.seen = {};
  new MutationObserver(() => {
    for (const card of document.querySelectorAll('#cards > li')) {
      const number = card.querySelector('.number b')?.textContent;
      if (number && !(number in window.seen)) window.seen[number] = performance.timeOrigin + performance.now();
    }
  }).observe(document.querySelector('#cards'), { childList: true, subtree: true, characterData: true });
}"""
STATE = """async (statement) => {
  const { state, forgetDouble } = await import('/static/queue.js');
  forgetDouble();
  const at = performance.timeOrigin + performance.now();
  state(statement, { label: 'bench' });
  return at;
}"""
ECHO = """async () => {
  const at = performance.timeOrigin + performance.now();
  const headers = { 'content-type': 'application/json' };
  await fetch('/shown', { method: 'POST', headers, body: '{"page":"bench","alerts":[]}' });
  return performance.timeOrigin + performance.now() - at;
}"""


def percentile(values: list[float], share: float) -> float:
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(len(ordered) * share))]


def paired(browser: Browser, server: BoardServer) -> Any:
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.goto(server.pairing_url())
    page.wait_for_selector("#contact[data-state=ok]")
    return page


def _tick(server: BoardServer, clock: SystemClock, over: threading.Event) -> None:
    """The daemon looks, as it does twice a second."""
    while not over.wait(0.4):
        server.heartbeat(clock.now())


def main(times: int) -> None:
    """Print the percentiles of both, and their ratio."""
    house, clock = FakeHouse(planned=[]), SystemClock()
    server = BoardServer(lambda: house, clock, port=0)
    server.start()
    over = threading.Event()
    threading.Thread(target=lambda: _tick(server, clock, over), daemon=True).start()
    took_ms: list[float] = []
    echo_ms: list[float] = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        one, other = paired(browser, server), paired(browser, server)
        other.evaluate(SEEN)
        for number in range(1, times + 1):
            touched = one.evaluate(STATE, {**mixing(f"bay {number % 5 + 1}"), "volume_l": 1.0 + number / 1000})
            card = f"() => '{number}' in window.seen"
            other.wait_for_function(card, timeout=8000)
            took_ms.append(other.evaluate(f"() => window.seen['{number}']") - touched)
            echo_ms.append(one.evaluate(ECHO))
            for done in ("poured", "rolled", "flaked"):
                house.state({"verb": done, "batch": number}, clock.now(), None)
            time.sleep(0.02)  # noqa: TID251 — a bench, in real time
        browser.close()
    over.set()
    server.stop()
    for name, values in (("phone to phone", took_ms), ("echo", echo_ms)):
        print(
            f"{name}: p50 {percentile(values, 0.5):.0f} ms, p95 {percentile(values, 0.95):.0f} ms, {len(values)} times"
        )
    print(f"ratio of the p95: {percentile(took_ms, 0.95) / max(percentile(echo_ms, 0.95), 0.1):.1f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
