"""Several processes on one book: a first use at the same moment, two people stating at once, a killed writer."""

from __future__ import annotations

import contextlib
import itertools
import os
import signal
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest

from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.clock import FakeClock, SystemClock
from tests.outside.verified import verify

ROOT = Path(__file__).resolve().parents[2]
MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)

OPEN_AND_WRITE = """
import sys
from pathlib import Path
from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
print("ready", flush=True)
sys.stdin.readline()
with Book(Path(sys.argv[1]), SystemClock()) as book:
    for place in range(int(sys.argv[3])):
        print(book.append("job", Noted(f"{sys.argv[2]} {place}")).number, flush=True)
"""

OPEN_EACH_THAT_IS_NAMED = """
import sys
from pathlib import Path
from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
print("ready", flush=True)
for path in sys.stdin:
    with Book(Path(path.strip()), SystemClock()) as book:
        print(book.append("job", Noted(sys.argv[1])).number, flush=True)
"""

CLOSE_WHILE_OTHERS_READ = """
import sys, threading
from pathlib import Path
from mixclock.job.entry import Noted
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock

def read(book, begun, over):
    while not over.is_set():
        list(book.rows()), book.entries("job")
        begun.set()

for round in range(20):
    with Book(Path(sys.argv[1]), SystemClock()) as book:
        for place in range(5):
            book.append("job", Noted(f"{round} {place}"))
        over = threading.Event()
        begun = [threading.Event() for _ in range(4)]
        threads = [threading.Thread(target=read, args=(book, one, over)) for one in begun]
        for thread in threads:
            thread.start()
        assert all(one.wait(30) for one in begun)
    over.set()
    for thread in threads:
        thread.join()
print("whole", flush=True)
"""


def writer(path: Path, name: str, entries: int) -> subprocess.Popen[str]:
    return started(OPEN_AND_WRITE, str(path), name, str(entries))


def started(script: str, *words: str) -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-c", script, *words],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    return process


def go(process: subprocess.Popen[str]) -> None:
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


def finish(process: subprocess.Popen[str]) -> list[int]:
    out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    return [int(line) for line in out.split()]


@pytest.mark.parametrize("books", [8, pytest.param(20, marks=pytest.mark.long)])
def test_two_processes_open_each_of_many_new_books_at_the_same_moment(books: int, tmp_path: Path) -> None:
    both = [started(OPEN_EACH_THAT_IS_NAMED, name) for name in ("mixer", "roller")]
    numbers: list[list[str]] = []
    for place in range(books):
        for process in both:
            assert process.stdin is not None
            process.stdin.write(f"{tmp_path / f'book-{place}.sqlite3'}\n")
            process.stdin.flush()
        numbers.append(sorted(process.stdout.readline().strip() for process in both if process.stdout is not None))
    assert [finish(process) for process in both] == [[], []]
    assert numbers == [["1", "2"]] * books


def test_two_people_stating_at_once_lose_nothing_and_get_numbers_of_their_own(tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    both = [writer(path, name, 60) for name in ("mixer", "roller")]
    for process in both:
        go(process)
    numbers = sorted(itertools.chain.from_iterable(finish(process) for process in both))
    assert numbers == list(range(1, 121))
    with Book(path, SystemClock()) as book:
        said = [entry.facts.text for entry in book.entries("job") if isinstance(entry.facts, Noted)]
        assert sorted(said) == sorted(f"{name} {place}" for name in ("mixer", "roller") for place in range(60))
        assert [text for text in said if text.startswith("mixer")] == [f"mixer {place}" for place in range(60)]
        assert verify(book) is None


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
@pytest.mark.parametrize("trials", [5, pytest.param(12, marks=pytest.mark.long)])
def test_every_statement_that_was_acknowledged_outlives_a_kill(trials: int, tmp_path: Path) -> None:
    path = tmp_path / "book.sqlite3"
    acknowledged: list[int] = []
    for trial in range(trials):
        process = writer(path, f"trial {trial}", 100_000)
        go(process)
        assert process.stdout is not None
        heard = [process.stdout.readline() for _ in range(1 + 3 * trial)]
        with contextlib.suppress(ProcessLookupError):
            os.kill(process.pid, signal.SIGKILL)
        # through the same buffer as the lines above: `communicate` reads past what that buffer holds already
        rest = process.stdout.read()
        process.communicate(timeout=30)
        # a last line that the kill cut short was no acknowledgement
        complete = "".join(heard) + rest.rpartition("\n")[0]
        acknowledged += [int(line) for line in complete.split()]
        with Book(path, SystemClock()) as book:
            there = {entry.number for entry in book.entries("job")}
            assert set(acknowledged) <= there
            assert len(there) - len(acknowledged) <= trial + 1, "at most one unacknowledged entry a kill"
            assert verify(book) is None
    assert len(acknowledged) >= sum(1 + 3 * trial for trial in range(trials))


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root may mount a small disk")
def test_on_a_disk_that_is_really_full_the_reserve_takes_the_last_statements(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=12m", "tmpfs", str(disk)], check=False)
    if mounted.returncode != 0:
        pytest.skip("this machine does not allow a small disk to be mounted")
    try:
        clock = FakeClock(MORNING)
        book = Book(disk / "book.sqlite3", clock)
        book.append("job", Noted("while there was room"))
        _fill(disk / "films")
        for place in range(40):
            book.append("job", Noted(f"on the full disk {place}"))
        assert book.reserve_used
        book.close()
        with Book(disk / "book.sqlite3", clock) as again:
            assert len(again.entries("job")) == 41
            assert verify(again) is None
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=True)


def _fill(path: Path) -> None:
    with path.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(b"x" * 65536)


def test_a_book_that_is_closed_while_other_threads_read_it_ends_nobody(tmp_path: Path) -> None:
    closing = subprocess.run(
        [sys.executable, "-c", CLOSE_WHILE_OTHERS_READ, str(tmp_path / "book.sqlite3")],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=False,
    )
    assert (closing.returncode, closing.stdout, closing.stderr) == (0, "whole\n", "")


def test_the_file_is_not_held_open_for_threads_that_are_over(tmp_path: Path) -> None:
    import threading

    with Book(tmp_path / "book.sqlite3", SystemClock()) as book:
        for place in range(12):
            thread = threading.Thread(target=book.append, args=("job", Noted(str(place))))
            thread.start()
            thread.join()
        assert len(book.entries("job")) == 12
        assert len(book.connection._all) <= 2
