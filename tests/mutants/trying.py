"""Runs tests against mutants: in children that are forked from a process that has imported everything foreign already.

One child collects the tests and asks them about each fault in a function (`inplace.py`). For a fault that stands
outside of functions, a child finds the broken module in the place of the real one. Nothing of the project is written
to; a child that hangs is ended.
"""

from __future__ import annotations

import ast
import contextlib
import importlib
import importlib.abc
import importlib.machinery
import importlib.util
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
import types
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.mutants.inplace import HUNG, LEAST_S, LONGER, WAITS_LONGER, Forking

FOREIGN = ("numpy", "scipy.integrate", "hypothesis", "pytest", "pint", "typer", "sqlite_utils", "freezegun", "jeepney")
EARLY = "ignore::pytest.PytestAssertRewriteWarning"
"""What is imported before pytest begins has its asserts as they are: they are not ours."""
PASSED, FAILED, NOTHING_RUN, BROKEN = 0, 1, 5, 9


@dataclass(frozen=True)
class Trial:
    """Tests that are run in a process of their own: about a broken module, or by a plugin that breaks it many times."""

    tests: tuple[str, ...]
    limit_s: float
    """Of processor time."""
    module: str = ""
    file: Path = Path()
    tree: ast.Module = field(default_factory=lambda: ast.Module([], []))
    forking: Forking | None = None


@dataclass
class _Child:
    place: int
    process: int
    until_s: float
    said: Path


def limit_s(spent_s: float) -> float:
    """How long tests may take that take so long without a fault, with what they import."""
    return 2 * LEAST_S + LONGER * spent_s


def survivals(
    trials: Sequence[Trial], at_once: int, goes_on: Callable[[], bool] = lambda: True
) -> Iterator[tuple[int, bool, str]]:
    """Which of the trials passed all their tests, as they end: its place, whether, and what was said."""
    for name in FOREIGN:
        importlib.import_module(name)
    assert not [name for name in sys.modules if name.startswith("mixclock.")], "the child must import it anew"
    waiting, running = list(enumerate(trials)), dict[int, _Child]()
    with tempfile.TemporaryDirectory() as folder:
        try:
            while (waiting or running) and goes_on():
                while waiting and len(running) < at_once:
                    place, trial = waiting.pop(0)
                    child = _begun(place, trial, Path(folder) / f"{place}.txt")
                    running[child.process] = child
                yield from _ended(running)
        finally:
            for process in running:
                _end(process)


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
    return _Child(place, process, time.perf_counter() + WAITS_LONGER * trial.limit_s, said)


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
            _end(child.process)
            running.pop(child.process)
            yield child.place, False, HUNG
    time.sleep(0.1)  # noqa: TID251 - waits for real processes


def _end(process: int) -> None:
    with contextlib.suppress(ProcessLookupError):
        os.killpg(process, signal.SIGKILL)
    os.waitpid(process, 0)


def _run(trial: Trial, said: Path) -> int:
    """In the child: put the module in its place and run the tests, up to the first that fails."""
    import pytest

    os.setsid()
    if trial.forking is None:
        resource.setrlimit(resource.RLIMIT_CPU, (int(trial.limit_s), int(trial.limit_s) + 5))
    out = os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(out, 1)
    os.dup2(out, 2)
    # the same examples every time, none made smaller; what is missing may skip
    os.environ |= {"CI": "true", "MIXCLOCK_PARTS": "hidden", "MIXCLOCK_EXAMPLES": "found at all"}
    words = ["-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--tb=line", "--assert=plain", "-W", EARLY]
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
