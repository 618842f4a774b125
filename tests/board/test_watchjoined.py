"""The board as `mixclock watch` serves it: a process that is killed outright, and started again."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from queue import Empty, Queue
from typing import Any

import pytest

from tests.board.boardfakes import wall_clock
from tests.board.conftest import LIKE_A_PHONE
from tests.boatshed import PAIL, areas_of

SAME_TOUCH = timedelta(seconds=1)
ROOT = Path(__file__).resolve().parents[2]

MIXER = '[[crew]]\nname = "mixer"\n'
SLIP = 'name = "slip 1"\nsize = "24 m2"'
JOB = areas_of(SLIP, name="Boat shed floor", zone="Europe/Lisbon", vessel=MIXER + PAIL, of_coat='kit = "9 L"\n')


class Watch:
    """`mixclock watch` as a process of its own."""

    def __init__(self, runner: Any) -> None:
        self.runner = runner
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.start()

    def start(self) -> str:
        """Start, and wait for the address that pairs."""
        words = [sys.executable, "-m", "mixclock.cli", "watch", "--port", str(self.port), "--plain", "--no-sound"]
        env = {**self.runner.environment(), "PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(
            words, env=env, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        )
        self.lines: Queue[str] = Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self.url = self.line_with("#pair=").split()[-1]
        return self.url

    def _read(self) -> None:
        for line in self.process.stdout or ():
            self.lines.put(line)

    def line_with(self, words: str, span_s: float = 20.0) -> str:
        """The next line that has the words in it."""
        ends, seen = time.monotonic() + span_s, []  # noqa: TID251  a real process needs real time
        while time.monotonic() < ends:  # noqa: TID251
            try:
                seen.append(self.lines.get(timeout=0.2))
            except Empty:
                continue
            if words in seen[-1]:
                return seen[-1]
        raise AssertionError(f"no line with {words!r} in {seen}")

    def end(self, how: signal.Signals) -> int:
        """End the process, and wait."""
        if self.process.poll() is None:
            os.kill(self.process.pid, how)
        code = self.process.wait(15)
        self._reader.join(5)
        if self.process.stdout is not None:
            self.process.stdout.close()
        return code


@pytest.fixture
def watch(run_process: Any, run: Any, home: Path) -> Iterator[Watch]:
    (home / "job.toml").write_text(JOB, encoding="utf-8")
    assert run("job", "start", str(home / "job.toml")).code == 0
    began = Watch(run_process)
    yield began
    began.end(signal.SIGKILL)


def test_what_is_stated_on_the_laptop_is_seen_and_a_killed_daemon_gets_every_tap_once_with_its_own_time(
    watch: Watch, browser: Any
) -> None:
    """That a phone sounds where the laptop stays silent for 15 s is looked at beside (`test_secondclock.py`)."""
    page = browser.new_context(**LIKE_A_PHONE).new_page()
    page.goto(watch.url)
    page.wait_for_selector("#contact[data-state=ok]")
    next_code = watch.line_with("Paired. For the next one").split()[-1]
    assert next_code.startswith(watch.url.partition("#pair=")[0])
    assert next_code != watch.url
    assert watch.runner("mixing", "Slow epoxy base", "9 L", "--on", "slip 1", "--by", "mixer").code == 0
    page.wait_for_selector(".card")
    by = wall_clock(_pour_by(watch), "Europe/Lisbon", datetime.now(UTC))  # noqa: TID251  the daemon's clock is real
    page.wait_for_function(
        "words => document.querySelector('.card .closing').textContent === words",
        arg=f"Pour it out by {by}",
    )
    page.wait_for_function("() => document.querySelector('#bar-out-what').textContent === 'batch 1'")
    watch.end(signal.SIGKILL)
    touched = datetime.now(UTC)  # noqa: TID251  the browser's own clock is real
    page.click("#bar-out")
    page.wait_for_selector(".notice.taps")
    page.wait_for_selector("#contact[data-state=amber]")
    watch.start()
    page.wait_for_selector(".notice.taps", state="detached")
    page.wait_for_selector("#contact[data-state=ok]")
    page.wait_for_function("() => document.querySelector('.card .stuff').textContent.includes('on the floor')")
    log = _statements(watch)
    assert [kind for kind, _ in log] == ["combined", "poured"]
    assert abs(log[1][1] - touched) < SAME_TOUCH
    assert watch.end(signal.SIGTERM) == 0
    page.context.close()


@pytest.mark.long
def test_a_tap_made_when_the_laptop_has_been_silent_for_15_s_keeps_its_time_too(watch: Watch, browser: Any) -> None:
    page = browser.new_context(**LIKE_A_PHONE).new_page()
    page.goto(watch.url)
    page.wait_for_selector("#contact[data-state=ok]")
    page.click("#bar-in")
    page.locator("#sheet").get_by_role("button", name="slip 1").first.click()
    page.wait_for_function("() => document.querySelector('#bar-out-what').textContent === 'batch 1'")
    page.wait_for_timeout(1500)
    watch.end(signal.SIGKILL)
    page.wait_for_function("() => mixclockBoard.played.some((each) => each.name === 'lost')")
    touched = datetime.now(UTC)  # noqa: TID251  the browser's own clock is real
    page.click("#bar-out")
    page.wait_for_selector(".notice.taps")
    watch.start()
    page.wait_for_selector(".notice.taps", state="detached")
    log = _statements(watch)
    assert [kind for kind, _ in log] == ["combined", "poured"]
    assert abs(log[1][1] - touched) < SAME_TOUCH
    page.context.close()


def _pour_by(watch: Watch) -> datetime:
    """When the only batch is to be poured by, as another command tells."""
    (batch,) = watch.runner("now", "--json").json["batches"]
    early: str = next(each for each in batch["windows"] if each["name"] == "pour-out")["closes"]["early"]
    return datetime.fromisoformat(early)


def _statements(watch: Watch) -> list[tuple[str, datetime]]:
    from mixclock.wiring import open_house

    with open_house(watch.runner.home) as house:
        said = [entry for entry in house.entries() if entry.facts.kind in ("combined", "poured")]
    return [(entry.facts.kind, entry.happened) for entry in said]
