"""Asks tests about many mutants without importing anything anew: each in a child forked after collection.

One process collects the tests of all core modules once. For each mutant it forks, and the child puts the broken code
into the living functions and runs the tests that `reaching` names, up to the first that fails. That one is then asked
again without the fault, for a test that a busy machine fails has found nothing. Where a child ran out of time, the test
that it was at is asked by itself, with the fault and without: only one that hangs by the fault alone has found it. A
fault outside of functions needs its module anew: `trying.py`.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import mmap
import os
import resource
import signal
import sys
import time
import types
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import chain
from pathlib import Path

import pytest

from tests.mutants.breaking import Mutant
from tests.mutants.reaching import Reach, Watching, reach_in

LEAST_S, LONGER = 20.0, 10.0
"""The processor time after which a child is ended: so much, and so many times as much as without a fault."""
WAITS_LONGER = 10.0
"""And by the clock, on a machine that does other things too."""
WHOLE_S = 3600.0
TRIES = 3
"""So many tests may fail without the fault too before it counts as not found."""
HUNG = "it hung"
"""What a child that was ended has found, until the test that it was at was asked by itself."""
NO_TIME = "its tests ran out of time"
"""Of one that lives: no single test hangs by it, and not all were asked."""
NAME_BYTES = 4096
LIVES, FOUND, BROKEN = 0, 1, 9


@dataclass(frozen=True)
class Fault:
    """A mutant of a file, to be tried."""

    file: Path
    mutant: Mutant


@dataclass(frozen=True)
class Outcome:
    """What became of a mutant."""

    lives: bool
    by: str
    """The test that found it; of one that lives, why not all were asked."""
    asked: int
    processor_s: float


Told = Callable[[int, Outcome], None]


@dataclass
class Forking:
    """A plugin for pytest: in place of the tests it runs children, and tells what became of each mutant, by its place.

    Which test runs which lines is read from a file, or else seen first and written there.
    """

    faults: Sequence[Fault]
    watched: Sequence[Path]
    reach_file: Path
    cap_s: float
    at_once: int
    told: Told

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """All of it."""
        if not self.reach_file.exists():
            _run([_Child(WHOLE_S, lambda: self._watch(session), lambda _: ())], 1)
        if not self.reach_file.exists():
            session.testsfailed += 1
            return True
        reach = reach_in(self.reach_file.read_text(encoding="utf-8"))
        _run((self._child(session, place, reach, frozenset()) for place, _ in enumerate(self.faults)), self.at_once)
        return True

    def _watch(self, session: pytest.Session) -> Outcome:
        watching = Watching(self.watched)
        session.config.pluginmanager.register(watching)
        session.config.option.maxfail = 0
        watching.begin()
        _first_failing(session, list(session.items))
        kept = self.reach_file.with_suffix(".new")
        kept.write_text(watching.reach().written(), encoding="utf-8")
        kept.replace(self.reach_file)
        for name in watching.failing():
            os.write(2, f"not asked, for it fails without a fault: {name}\n".encode())
        return Outcome(True, "", 0, 0.0)

    def _child(
        self, session: pytest.Session, place: int, reach: Reach, unsound: frozenset[str], only: str = ""
    ) -> _Child:
        """Asks about one fault all the tests that run its lines, but those that failed without it too; or only one."""
        fault = self.faults[place]
        every = [only] if only else reach.asked(fault.file, fault.mutant.lines, self.cap_s)
        wanted = [name for name in every if name not in unsound]
        items, at = _items(session, wanted), mmap.mmap(-1, NAME_BYTES)

        def asked() -> Outcome:
            source = fault.file.read_text(encoding="utf-8")
            put_in(compile(fault.mutant.put_into(source), str(fault.file), "exec", dont_inherit=True), fault.file)
            by = _first_failing(session, items, lambda name: _note(at, name))
            return Outcome(not by, by, len(items), _processor_s())

        def told(outcome: Outcome) -> Iterable[_Child]:
            hung_at = _noted(at) if outcome.by == HUNG else ""
            if hung_at and not only:
                return (self._child(session, place, reach, unsound, hung_at),)
            if outcome.lives or len(unsound) == TRIES or (outcome.by == HUNG and not hung_at):
                self.told(place, replace(outcome, lives=True, by=NO_TIME if only or outcome.by == HUNG else ""))
                return ()
            return (self._without(session, place, reach, unsound, outcome, hung_at or outcome.by),)

        return _Child(LEAST_S + LONGER * reach.spent_s(wanted), asked, told)

    def _without(
        self, session: pytest.Session, place: int, reach: Reach, unsound: frozenset[str], found: Outcome, by: str
    ) -> _Child:
        """Asks the test that found it again, without the fault."""
        items = _items(session, [by])

        def told(outcome: Outcome) -> Iterable[_Child]:
            if not outcome.lives:
                return (self._child(session, place, reach, unsound | {by}),)
            self.told(place, replace(found, by=f"{HUNG}: {by}" if found.by == HUNG else by))
            return ()

        def asked() -> Outcome:
            return Outcome(not _first_failing(session, items), "", 1, _processor_s())

        return _Child(LEAST_S + LONGER * reach.spent_s([by]), asked, told)


def _items(session: pytest.Session, names: Iterable[str]) -> list[pytest.Item]:
    items = {item.nodeid: item for item in session.items}
    return [items[name] for name in names if name in items]


def _note(at: mmap.mmap, name: str) -> None:
    """Where the parent can read it, also of a child that was ended."""
    at[:] = name.encode()[:NAME_BYTES].ljust(NAME_BYTES, b"\0")


def _noted(at: mmap.mmap) -> str:
    return at[:].rstrip(b"\0").decode(errors="replace")


REMEMBERING = type(lru_cache(len))


def put_in(code: types.CodeType, file: Path) -> int:
    """Give every living function of a module the code that this text of it has for it; how many differ."""
    codes = {(one.co_qualname, one.co_firstlineno): one for one in _codes(code)}
    changed = 0
    gc.unfreeze()  # what the tests' session has frozen is not listed else, and no fault would be put in
    for found in gc.get_objects():
        if type(found) is types.FunctionType and found.__code__.co_filename == str(file):
            put = codes.get((found.__code__.co_qualname, found.__code__.co_firstlineno))
            if put is not None and put != found.__code__:
                found.__code__ = put
                changed += 1
        elif type(found) is REMEMBERING and found.__module__.startswith("mixclock."):
            found.cache_clear()  # what was worked out without the fault tells nothing of it
    return changed


def _codes(code: types.CodeType) -> Iterator[types.CodeType]:
    for inner in code.co_consts:
        if isinstance(inner, types.CodeType):
            yield inner
            yield from _codes(inner)


def _processor_s() -> float:
    return sum(os.times()[:4])


def _first_failing(
    session: pytest.Session, items: list[pytest.Item], begins: Callable[[str], None] = lambda _: None
) -> str:
    """Run tests; the name of the one that fails first, if any does."""
    from _pytest.main import pytest_runtestloop

    names: list[str] = []

    class Listening:
        def pytest_runtest_logstart(self, nodeid: str) -> None:
            begins(nodeid)

        def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
            if report.failed:
                names.append(report.nodeid)

    listening = Listening()
    session.config.pluginmanager.register(listening)
    session.items, session.testsfailed, session._shouldfail, session._shouldstop = items, 0, False, False
    with contextlib.suppress(session.Failed, session.Interrupted):
        pytest_runtestloop(session)
    session.config.pluginmanager.unregister(listening)
    session._setupstate.teardown_exact(None)
    return names[0] if names else ""


@dataclass
class _Child:
    limit_s: float
    work: Callable[[], Outcome]
    told: Callable[[Outcome], Iterable[_Child]]
    """What is to be asked next."""
    until_s: float = 0.0
    pipe: int = -1


def _run(children: Iterable[_Child], at_once: int) -> None:
    """All of them, side by side; one that hangs is ended."""
    waiting, running = iter(children), dict[int, _Child]()
    while True:
        while len(running) < at_once and (child := next(waiting, None)):
            running[_begun(child)] = child
        if not running:
            return
        for process, child in list(running.items()):
            if (outcome := _ended(process, child)) is not None:
                del running[process]
                waiting = chain(list(child.told(outcome)), waiting)
        time.sleep(0.01)  # noqa: TID251 - waits for real processes


def _begun(child: _Child) -> int:
    child.pipe, written = os.pipe()
    child.until_s = time.perf_counter() + LEAST_S + WAITS_LONGER * child.limit_s
    process = os.fork()
    if process:
        os.close(written)
        return process
    try:
        os.setsid()
        _end_with_parent()
        resource.setrlimit(resource.RLIMIT_CPU, (int(child.limit_s) + 1, int(child.limit_s) + 5))
        outcome = child.work()
        os.write(written, f"{int(outcome.lives)}\0{outcome.by}\0{outcome.asked}\0{outcome.processor_s}".encode())
    except BaseException as error:
        os.write(2, f"a child broke: {error!r}\n".encode())
        os._exit(BROKEN)
    finally:
        os._exit(LIVES)  # nothing of the parent's is the child's to clean up


def _end_with_parent() -> None:
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(1, signal.SIGKILL)


def _ended(process: int, child: _Child) -> Outcome | None:
    ended, status = os.waitpid(process, os.WNOHANG)
    if not ended and time.perf_counter() < child.until_s:
        return None
    if not ended:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process, signal.SIGKILL)
        os.waitpid(process, 0)
    said = _read(child.pipe).split("\0")
    if len(said) == 4:
        return Outcome(said[0] == "1", said[1], int(said[2]), float(said[3]))
    assert not ended or os.waitstatus_to_exitcode(status) != BROKEN, "the child could not run its tests"
    return Outcome(False, HUNG, 0, child.limit_s)


def _read(pipe: int) -> str:
    """What the child has said; somebody whom it began may hold the other end open still."""
    os.set_blocking(pipe, False)
    try:
        return os.read(pipe, 65536).decode()
    except BlockingIOError:
        return ""
    finally:
        os.close(pipe)
