"""Days upon days, compressed, on a book on the disk, with everything that can befall them at random."""

from __future__ import annotations

import gc
import math
import os
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mixclock.outside.book import Book
from mixclock.outside.bookcopies import LIVE_EVERY_S
from mixclock.outside.channels.message import Outcome
from mixclock.outside.unrecorded import UnrecordedEntries
from tests.faults.forking import quick_folder
from tests.faults.jobdays import Fused, KilledError, dice, job_day, minutes, mix, receipt_before_sending, unmarked
from tests.faults.table import Counted, time_is_up

P99_WITHIN_S = 2.0
SEEN_WITHIN = 120
"""A kill between a receipt and its sending is rare: the deliberate break is looked for through so many deadlines."""


@dataclass(frozen=True)
class Hours:
    """How long a day is, the end of it in which nothing is mixed, and its buckets."""

    buckets: int
    day_s: float
    last_s: float


SHORT, LONG = Hours(3, 1.5 * 3600, 0.75 * 3600), Hours(6, 4 * 3600, 2 * 3600)
LONG_EVERY = 10
"""A long day costs twice as much for each deadline: its log is longer, and more befalls it."""

STATED_AFTER_S = 30.0
WAKES_BEFORE_S = 5.0
"""Whoever states something has opened the lid a moment before."""

FAULT_EVERY_S = 180.0
"""On average; when the next one strikes has nothing to do with what is due."""

GROWS_AT_MOST_MB = 24.0
FLAT_FROM_DAYS = 6
"""Pools and caches fill during the first days; from then on nothing may grow."""


class SoakBook(Fused, Book):
    """A book on the disk. `broken` makes every write fail, as a full disk does."""

    broken = False

    def _append(self, *args: Any) -> Any:
        if self.broken:
            raise sqlite3.OperationalError("attempt to write a readonly database")
        return super()._append(*args)

    def record(self) -> None:
        if not self.broken:
            super().record()


Statement = tuple[float, str, int]
"""When, in elapsed seconds since the day began, what, and of which batch."""

ANSWERS = {"pour-out": "poured", "back-roll": "rolled", "broadcast": "flaked", "wet-edge": "taped", "mixing": ""}


@dataclass
class SoakDay:
    """One day of some batches. Without a folder nothing befalls it, and the crew states each step when it is called.

    With a folder something befalls it every few minutes, and the crew states the same at the same times (`script`).
    """

    seed: int
    folder: Path | None = None
    script: list[Statement] = field(default_factory=list)
    asleep: list[tuple[float, float]] = field(default_factory=list)
    hours: Hours = SHORT
    mended_s: float | None = None
    copied_s: float = -math.inf

    def __post_init__(self) -> None:
        throw = dice(self.seed)
        self.fate = dice(self.seed + 1_000_000)
        self.day = job_day(self.hours.buckets, self._book) if self.folder else job_day(self.hours.buckets)
        self.begins_s = self.day.clock.boot_s()
        mixed = sorted(throw.uniform(120, self.hours.day_s - self.hours.last_s) for _ in range(self.hours.buckets))
        self.to_state = list(self.script) or [(at_s, "mixing", bay) for bay, at_s in enumerate(mixed, start=1)]
        self.answered: set[str] = set()
        self.fault_s = self.fate.expovariate(1 / FAULT_EVERY_S) if self.folder else math.inf

    def _book(self, clock: Any) -> SoakBook:
        assert self.folder is not None
        return SoakBook(self.folder / "book.sqlite3", clock, UnrecordedEntries(self.folder / "second place"))

    @property
    def now_s(self) -> float:
        """Elapsed seconds of this day."""
        return self.day.clock.boot_s() - self.begins_s

    def play(self) -> dict[str, float]:
        """Let it pass; when each deadline was first called, in elapsed seconds."""
        if self.folder:
            self.day.desktop.book = self.day.book  # type: ignore[attr-defined]
        while self.now_s < self.hours.day_s:
            try:
                self._mend()
                self._copy_if_due()
                self._state_what_is_next()
                self._befall()
                self._to_the_next()
            except KilledError:
                self._restart()
        if self.folder:
            self._close()
        return self._called()

    def _called(self) -> dict[str, float]:
        found: dict[str, float] = self.day.desktop.first_s  # type: ignore[attr-defined]
        return {name: at_s - self.begins_s for name, at_s in found.items() if name.rpartition(".")[2] in ANSWERS}

    def _to_the_next(self) -> None:
        """On to the next instant at which anything can happen, as elapsed time goes."""
        clock = self.day.clock
        stops = [self.hours.day_s, max(self.fault_s, self.mended_s or 0.0), *(at_s for at_s, *_ in self.to_state[:1])]
        stops += [self.mended_s] if self.mended_s is not None else []
        ahead_s = max(0.05, min(stops) - self.now_s)
        known = self.day.job in self.day.ticker.watched  # not so until a copy finds that the list of jobs is damaged
        reached = self.day.next_look(clock.now() + minutes(ahead_s / 60)) if known else clock.now()
        clock.advance(max(0.05, min(ahead_s, (reached - clock.now()).total_seconds())))
        self.day.look()
        if self.folder:
            self.day.book.record()  # as the daemon does after each look
        else:
            self._answer()

    def _answer(self) -> None:
        """Somebody does what was called, and states it."""
        for name, at_s in self._called().items():
            batch, _, window = name.removeprefix("b").rpartition(".")
            if name not in self.answered and ANSWERS[window]:
                self.to_state.append((at_s + STATED_AFTER_S, ANSWERS[window], int(batch.partition(".")[0])))
            self.answered.add(name)
        self.to_state.sort()

    def _state_what_is_next(self) -> None:
        """A statement is acknowledged or it was not made: whoever states it states it again then."""
        while self.to_state and self.now_s >= self.to_state[0][0]:
            book: Any = self.day.book
            fuse, book.fuse = book.fuse, None
            full, book.broken = book.broken, False
            at_s, verb, batch = self.to_state.pop(0)
            if not self.folder:
                self.script.append((at_s, verb, batch))
            if verb == "mixing":
                mix(self.day, batch)
            else:
                self.day.say(verb, batch=batch)
            book.fuse, book.broken = fuse, full

    def _mend(self) -> None:
        if self.mended_s is not None and self.now_s >= self.mended_s:
            self.day.desktop.outcome, self.day.book.broken, self.mended_s = Outcome.SENT, False, None

    def _copy_if_due(self) -> None:
        """The chores of the daemon: a checked copy at its start and every five minutes."""
        if self.folder and self.now_s - self.copied_s >= LIVE_EVERY_S:
            self.copied_s = self.now_s
            self.day.book.copy()
            self.day.look()

    def _restart(self) -> None:
        """The process is gone with all that it had in mind; another one opens what is on the disk."""
        while True:
            try:
                broken = self.day.book.broken
                self._close()
                self.day.book = self._book(self.day.clock)
                self.day.book.broken = broken
                self.day.desktop.book = self.day.book  # type: ignore[attr-defined]
                self.day.start()
                self.copied_s = -math.inf
                return
            except KilledError:
                continue

    def _close(self) -> None:
        """Let go of what the end of a process lets go."""
        book: Any = self.day.book
        book.close()
        book.unrecorded.close()

    def _befall(self) -> None:
        if self.now_s < self.fault_s or self.mended_s is not None:
            return
        self.fault_s = self.now_s + self.fate.expovariate(1 / FAULT_EVERY_S)
        kinds = (self._kill, self._kill, self._deafen, self._fill, self._set_clock, self._sleep, self._flip)
        self.fate.choice(kinds)()

    def _kill(self) -> None:
        self.day.book.fuse = self.fate.randrange(0, 5)

    def _deafen(self) -> None:
        self.day.desktop.outcome = Outcome.RETRY
        self.mended_s = self.now_s + self.fate.uniform(1, 3)

    def _fill(self) -> None:
        self.day.book.broken = True
        self.mended_s = self.now_s + self.fate.uniform(5, 60)

    def _set_clock(self) -> None:
        self.day.clock.step(self.fate.choice((-1, 1)) * 10 ** self.fate.uniform(0, 5.2))
        self.day.look()

    def _sleep(self) -> None:
        began_s = self.now_s
        nobody_says_s = min((at_s for at_s, *_ in self.to_state), default=self.hours.day_s) - WAKES_BEFORE_S - began_s
        span_s = min(10 ** self.fate.uniform(0, 3.5), nobody_says_s)
        if span_s > 1.0:
            self.day.clock.suspend(span_s)
            self.asleep.append((began_s, began_s + span_s))
            self.day.look()

    def _flip(self) -> None:
        """One bit of the book's file, behind its back; half the time the process then starts anew."""
        assert self.folder is not None
        flip_a_bit(self.folder / "book.sqlite3", self.fate)
        if self.fate.random() < 0.5:
            self._restart()
            self._copy_if_due()  # nothing passes before it: the daemon makes a copy as soon as it has looked
        else:
            self.day.look()

    def woken_s(self, due_s: float) -> float:
        """When somebody could first be called for what fell due then: on waking, where the machine slept."""
        for began_s, ended_s in self.asleep:
            if began_s <= due_s < ended_s:
                return ended_s
        return due_s


def flip_a_bit(path: Path, throw: random.Random) -> None:
    """Change one bit of a file, as a disk does that loses its memory."""
    with path.open("r+b") as file:
        at = throw.randrange(path.stat().st_size)
        file.seek(at)
        byte = file.read(1)[0]
        file.seek(at)
        file.write(bytes([byte ^ 1 << throw.randrange(8)]))


def soak(trials: int, broken: bool) -> Counted:
    """So many deadlines, each against the same day without a fault; broken, until that is seen."""
    counted, late, held = Counted(), [], []
    wanted = max(trials, SEEN_WITHIN) if broken else trials
    with receipt_before_sending(broken), tempfile.TemporaryDirectory(prefix="faults-", dir=quick_folder()) as made:
        seed = first = int(broken)  # on the second day a kill falls where the break shows
        while counted.trials < wanted and not (seed > first and (time_is_up() or (broken and counted.wrong))):
            seed += 1
            folder = Path(made) / f"day-{seed}"
            folder.mkdir()
            late += _one_day(counted, seed, folder)
            shutil.rmtree(folder)
            gc.collect()
            held.append((_memory_mb(), sum(1 for _ in Path("/proc/self/fd").iterdir())))
    _judge_lateness(counted, late)
    _judge_growth(counted, held)
    return counted


def _one_day(counted: Counted, seed: int, folder: Path) -> Iterable[float]:
    hours = SHORT if seed % LONG_EVERY else LONG
    sound = SoakDay(seed, hours=hours)
    wanted = sound.play()
    faulty = SoakDay(seed, folder, sound.script, hours=hours)
    told, late = faulty.play(), []
    if not wanted:
        counted.trials += 1
        counted.fail(f"day {seed}: nothing was called on the same day without a fault")
    for name, due_s in wanted.items():
        counted.trials += 1
        if name in told:
            late.append(max(0.0, told[name] - faulty.woken_s(due_s)))
        else:
            counted.miss(f"day {seed}: {name} was never called")
    takings = faulty.day.desktop.takings  # type: ignore[attr-defined]
    counted.repeated += sum(taking.is_marked for taking in takings)
    plain = unmarked(takings)
    counted.unmarked += len(plain)
    counted.wrong += [f"day {seed}: {line}" for line in plain]
    return late


def _judge_lateness(counted: Counted, late: list[float]) -> None:
    late.sort()
    if late:
        p99 = late[min(len(late) - 1, int(0.99 * len(late)))]
        counted.worst_s = late[-1]
        counted.notes.append(f"half of the calls came within {late[len(late) // 2]:.1f} s, 99 % within {p99:.1f} s")
        if p99 > P99_WITHIN_S:
            counted.fail(f"99 % of the calls came within {p99:.1f} s, not {P99_WITHIN_S:g} s")


def _judge_growth(counted: Counted, held: list[tuple[float, int]]) -> None:
    if len(held) <= FLAT_FROM_DAYS:
        return
    (before_mb, before_handles), (after_mb, after_handles) = held[FLAT_FROM_DAYS], held[-1]
    counted.notes.append(
        f"{len(held)} days: memory {before_mb:.0f} → {after_mb:.0f} MB, handles {before_handles} → {after_handles}"
    )
    if after_mb - before_mb > GROWS_AT_MOST_MB:
        counted.fail(f"memory grew from {before_mb:.0f} to {after_mb:.0f} MB")
    if after_handles > before_handles + 2:
        counted.fail(f"handles grew from {before_handles} to {after_handles}")


def _memory_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
