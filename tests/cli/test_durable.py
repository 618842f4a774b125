"""Statements made by several people at once, and commands that are killed: what was answered is in the book."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.job.entry import Combined, Noted, Poured
from mixclock.outside.book import Book
from mixclock.outside.clock import SystemClock
from tests.outside.verified import verify
from tests.running import Ran, Runner

Run = Callable[..., Ran]
JOB = "Pottery studio floor"


def begun(home: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "mixclock.cli", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=Runner(home).environment(),
    )


def test_two_people_who_mix_at_the_same_moment_get_batches_of_their_own(studio: Run, home: Path) -> None:
    mixing = ("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on")
    both = [begun(home, *mixing, bay, "--by", who) for bay, who in (("bay 1", "mixer"), ("bay 2", "roller"))]
    said = [process.communicate(timeout=60)[0] for process in both]
    assert [process.returncode for process in both] == [0, 0]
    assert sorted(re.findall(r"^Batch (\d)", "".join(said), re.MULTILINE)) == ["1", "2"]
    with Book(home / "book.sqlite3", SystemClock()) as book:
        assert sum(isinstance(entry.facts, Combined) for entry in book.entries(JOB)) == 2
        assert verify(book) is None


def test_of_two_who_pour_the_same_bucket_one_is_told_that_it_is_out(studio: Run, home: Path) -> None:
    studio("mixing", "Slow epoxy base", "4 L", "--coat", "base", "--on", "bay 1", "--ago", "5 min")
    both = [begun(home, "poured", "1", "--by", who) for who in ("mixer", "roller")]
    said = [process.communicate(timeout=60) for process in both]
    assert sorted(process.returncode for process in both) == [0, 2]
    assert sum("batch 1 was poured out at" in err for _, err in said) == 1
    with Book(home / "book.sqlite3", SystemClock()) as book:
        assert sum(isinstance(entry.facts, Poured) for entry in book.entries(JOB)) == 1


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no SIGKILL")
def test_a_statement_that_was_answered_outlives_a_kill(studio: Run, home: Path) -> None:
    answered: list[str] = []
    for trial in range(8):
        process = begun(home, "noted", f"trial {trial}")
        threading.Event().wait(0.15 * trial)
        with contextlib.suppress(ProcessLookupError):
            os.kill(process.pid, signal.SIGKILL)
        out, _ = process.communicate(timeout=30)
        answered += re.findall(r"^Noted at .*: (trial \d)  \(entry \d+\)$", out, re.MULTILINE)
    assert studio("noted", "the book still opens").code == 0
    with Book(home / "book.sqlite3", SystemClock()) as book:
        there = {entry.facts.text for entry in book.entries(JOB) if isinstance(entry.facts, Noted)}
        assert set(answered) <= there
        assert verify(book) is None


def test_a_defect_in_the_answer_does_not_make_a_statement_look_lost(
    studio: Run, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from mixclock.wiring import House

    def broken(*_: object) -> None:
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr(House, "answer", broken)
    ran = studio("noted", "door opened")
    assert ran.code == 0
    assert " ".join(ran.out.split()) == (
        "Look out: what comes next could not be worked out, a defect of mixclock (ZeroDivisionError: float division by "
        "zero) 'noted' is in the book (entry 2)"
    )
    with Book(home / "book.sqlite3", SystemClock()) as book:
        assert book.entries(JOB)[-1].facts == Noted("door opened")


def test_a_broken_book_is_made_anew_by_the_first_command_which_says_so(studio: Run, home: Path) -> None:
    studio("noted", "door opened")
    for path in home.glob("book.sqlite3*"):
        if path.is_file():
            path.write_bytes(b"spilled resin " * 400)
    ran = studio("noted", "door shut")
    assert ran.code == 0
    assert "made anew from its copies" in ran.err
    assert "nothing that was stated is lost" in ran.err
    assert studio("book", "check").out.endswith("lists them\n")
    assert studio("noted", "again").err == ""


def test_a_broken_book_without_copies_is_one_line_for_every_command(studio: Run, home: Path) -> None:
    shutil.rmtree(home / "book.sqlite3.copies")
    for path in home.glob("book.sqlite3*"):
        path.write_bytes(b"spilled resin " * 400)
    for words in (("now",), ("noted", "x"), ("job", "list")):
        ran = studio(*words)
        assert ran.code == 2
        assert ran.err.count("\n") == 1
        assert "the file is damaged" in ran.err


def test_a_home_that_cannot_be_is_one_line(home: Path) -> None:
    (home / "file").write_text("in the way")
    ran = Runner(home, {"MIXCLOCK_HOME": str(home / "file" / "home")})("job", "list")
    assert ran.code == 2
    assert ran.err.count("\n") == 1
    assert "MIXCLOCK_HOME" in ran.err
