"""Makes the pictures of the front page: the real board, in a real browser, on a made-up day.

Run `python -m tests.bench.pictures FOLDER`. A laptop on a normal day, and a phone when a bucket is late.
"""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from mixclock.board.server import BoardServer
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing, studio_plan

MIN = timedelta(minutes=1)
SIZES = {"laptop-day": (1366, 1090), "phone-late": (390, 844)}


def house(name: str) -> FakeHouse:
    """What stands on the floor: two bays under way, or a bucket that was forgotten."""
    clock = SystemClock()
    now = clock.now()
    made = FakeHouse(planned=studio_plan(now))
    made.state(mixing("bay 1"), now - 26 * MIN, "mixer")
    made.state({"verb": "poured", "batch": 1}, now - 21 * MIN, "mixer")
    made.state({"verb": "rolled", "batch": 1}, now - 9 * MIN, "roller")
    made.state(mixing("bay 2"), now - (12 if name == "phone-late" else 4) * MIN, "mixer")
    return made


def take(page: Page, address: str, path: Path) -> None:
    """One picture, once the page has settled."""
    page.goto(address)
    page.wait_for_selector("#contact[data-state=ok]")
    page.locator("#job").click()
    page.wait_for_timeout(1800)
    page.screenshot(path=str(path), animations="disabled")


def main(folder: Path) -> None:
    """Both pictures."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        for name, (width, height) in SIZES.items():
            made, clock = house(name), SystemClock()
            server = BoardServer(lambda made=made: made, clock, port=0)  # type: ignore[misc]
            server.start()
            server.heartbeat(clock.now())
            page = browser.new_page(viewport={"width": width, "height": height}, color_scheme="light")
            take(page, server.pairing_url(), folder / f"{name}.png")
            server.stop()
        browser.close()


if __name__ == "__main__":
    main(Path(sys.argv[1] if len(sys.argv) > 1 else "."))
