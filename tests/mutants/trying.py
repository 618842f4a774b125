"""Runs tests against mutants: in a child that is forked from a process that has imported everything foreign already.

One child collects a module's tests and asks them about each fault in its functions (`inplace.py`). For a fault that
stands outside of them, a child finds the broken module in the place of the real one. Nothing of the project is
written to; a child that hangs is ended, and counts as found out.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import os
import signal
import sys
import tempfile
import time
import traceback
import types
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.mutants.inplace import Forking

FOREIGN = ("numpy", "scipy.integrate", "hypothesis", "pytest", "pint", "typer", "sqlite_utils", "freezegun", "jeepney")
EARLY = "ignore::pytest.PytestAssertRewriteWarning"
"""What is imported before pytest begins has its asserts as they are: they are not ours."""
LIMIT_S, FORKING_LIMIT_S = 600.0, 24 * 3600.0
PASSED, NOTHING_RUN, BROKEN = 0, 5, 9


@dataclass(frozen=True)
class Trial:
    """A module's text, broken or not, and the tests that are asked about it."""

    module: str
    file: Path
    tree: ast.Module
    tests: tuple[str, ...]
    forking: Forking | None = None
    """Asks them about many faults that are put in later."""


@dataclass
class _Child:
    place: int
    process: int
    until_s: float
    said: Path


def survivals(trials: Sequence[Trial], at_once: int) -> Iterator[tuple[int, bool, str]]:
    """Which of the trials passed all their tests, as they end: its place, whether, and what was said."""
    for name in FOREIGN:
        importlib.import_module(name)
    assert not [name for name in sys.modules if name.startswith("mixclock.")], "the child must import it anew"
    waiting, running = list(enumerate(trials)), dict[int, _Child]()
    with tempfile.TemporaryDirectory() as folder:
        while waiting or running:
            while waiting and len(running) < at_once:
                place, trial = waiting.pop(0)
                child = _begun(place, trial, Path(folder) / f"{place}.txt")
                running[child.process] = child
            yield from _ended(running)


def _begun(place: int, trial: Trial, said: Path) -> _Child:
    process = os.fork()
    if process == 0:
        code = BROKEN
        try:
            code = _run(trial, said)
        except Exception:
            said.write_text(traceback.format_exc(), encoding="utf-8")
        finally:
            os._exit(code)  # nothing of the parent's is the child's to clean up
    return _Child(place, process, time.perf_counter() + (LIMIT_S if trial.forking is None else FORKING_LIMIT_S), said)


def _ended(running: dict[int, _Child]) -> Iterable[tuple[int, bool, str]]:
    process, status = os.waitpid(-1, os.WNOHANG)
    if process in running:
        child = running.pop(process)
        code = os.waitstatus_to_exitcode(status)
        said = child.said.read_text(encoding="utf-8", errors="replace") if child.said.exists() else ""
        assert code not in (NOTHING_RUN, BROKEN), f"no test was run: {said}"
        yield child.place, code == PASSED, said
        return
    for child in list(running.values()):
        if time.perf_counter() > child.until_s:
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child.process, signal.SIGKILL)
            os.waitpid(child.process, 0)
            running.pop(child.process)
            yield child.place, False, "it hung"
    time.sleep(0.1)  # noqa: TID251 - waits for real processes


def _run(trial: Trial, said: Path) -> int:
    """In the child: put the module in its place and run the tests, up to the first that fails."""
    import pytest

    os.setsid()
    out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(out, 2)
    os.environ |= {"CI": "true", "MIXCLOCK_PARTS": "hidden"}  # the same examples every time; what is missing may skip
    words = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb=line", "-W", EARLY]
    words += ["-m", "not long", *trial.tests]
    broken = _InItsPlace(trial)
    plugins = [broken, *([trial.forking] if trial.forking else [])]
    sys.meta_path.insert(0, broken)  # a conftest may import it before the session begins
    return int(pytest.main(words, plugins=plugins))


class _InItsPlace(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    def __init__(self, trial: Trial) -> None:
        self._trial = trial

    def pytest_sessionstart(self) -> None:
        """Before whatever pytest itself has put in front: it would read a module that is asked for by its path."""
        sys.meta_path.insert(0, self)

    def find_spec(self, name: str, path: object, target: object = None) -> importlib.machinery.ModuleSpec | None:
        """Only this one module is ours."""
        if name != self._trial.module:
            return None
        return importlib.util.spec_from_file_location(name, self._trial.file, loader=self)

    def exec_module(self, module: types.ModuleType) -> None:
        """Run the broken text as if it stood in the file."""
        exec(compile(self._trial.tree, str(self._trial.file), "exec"), module.__dict__)
