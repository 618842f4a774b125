"""Asks tests about many mutants of one module without importing anything anew: each in a child forked after collection.

A process of its own collects the module's tests once. For each mutant it forks, and the child puts the broken code into
the living functions and runs those tests that run the broken line, the quickest first, then the others. A fault
outside of functions needs the module anew: `trying.py`.
"""

from __future__ import annotations

import gc
import json
import os
import resource
import signal
import time
import types
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.mutants.breaking import Mutant
from tests.mutants.reaching import Reach, Watching, reach_in

LEAST_S, LONGER = 120.0, 30.0
"""How long a child may take before it counts as hung: so long, and so many times as long as without a fault."""
WHOLE_S = 1800.0
LIVES, FOUND, BROKEN = 0, 1, 9


@dataclass
class Forking:
    """A plugin for pytest: in place of the tests it runs children, and writes down what became of each.

    `reach.json` in the folder tells which test runs which lines, `lives.jsonl` whether a mutant lived, by its place.
    """

    file: Path
    mutants: Sequence[Mutant]
    folder: Path

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """All of it."""
        told = self.folder / "reach.json"
        watching = Watching(self.file, told)
        if not _lives(
            session, session.items, WHOLE_S, lambda: _watch(session, watching), watching.pytest_sessionfinish
        ):
            session.testsfailed += 1
            return True
        reach, source = reach_in(told), self.file.read_text(encoding="utf-8")
        with (self.folder / "lives.jsonl").open("w", encoding="utf-8", buffering=1) as lives:
            for place, mutant in enumerate(self.mutants):
                if mutant.in_function:
                    broken = compile(mutant.put_into(source), str(self.file), "exec", dont_inherit=True)
                    lives.write(json.dumps([place, self._outlives(session, mutant, broken, reach)]) + "\n")
        return True

    def _outlives(self, session: pytest.Session, mutant: Mutant, broken: types.CodeType, reach: Reach) -> bool:
        """Whether no test finds the fault: neither those that run its line nor, for what they remember, the others."""
        near = reach.asked(mutant.lines)
        far = [name for name in reach.took_s if name not in near] if near else []
        items = {item.nodeid: item for item in session.items}
        return all(
            _lives(
                session,
                [items[name] for name in part],
                LEAST_S + LONGER * sum(reach.took_s[name] for name in part),
                lambda: put_in(broken, self.file),
            )
            for part in (near, far)
            if part
        )


def put_in(broken: types.CodeType, file: Path) -> int:
    """Give every living function of a module the code that the broken module has for it; how many differ."""
    codes = {(code.co_qualname, code.co_firstlineno): code for code in _codes(broken)}
    changed = 0
    for found in gc.get_objects():
        if type(found) is types.FunctionType and Path(found.__code__.co_filename) == file:
            code = codes.get((found.__code__.co_qualname, found.__code__.co_firstlineno))
            if code is not None and code != found.__code__:
                found.__code__ = code
                changed += 1
    return changed


def _codes(code: types.CodeType) -> Iterator[types.CodeType]:
    for inner in code.co_consts:
        if isinstance(inner, types.CodeType):
            yield inner
            yield from _codes(inner)


def _watch(session: pytest.Session, watching: Watching) -> None:
    session.config.pluginmanager.register(watching)
    watching.begin()


def _lives(
    session: pytest.Session,
    items: list[pytest.Item],
    limit_s: float,
    before: Callable[[], object],
    after: Callable[[], object] = lambda: None,
) -> bool:
    """Run tests in a child; whether all passed."""
    process = os.fork()
    if process:
        return _ended(process, limit_s) == LIVES
    code = BROKEN
    try:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s), int(limit_s) + 5))
        before()
        code = FOUND if _fails(session, items) else LIVES
        after()
    finally:
        os._exit(code)  # nothing of the parent's is the child's to clean up


def _fails(session: pytest.Session, items: list[pytest.Item]) -> bool:
    from _pytest.main import pytest_runtestloop

    session.items = items
    try:
        pytest_runtestloop(session)
    except (session.Failed, session.Interrupted):
        return True
    return bool(session.testsfailed)


def _ended(process: int, limit_s: float) -> int:
    until_s = time.perf_counter() + limit_s
    while True:
        ended, status = os.waitpid(process, os.WNOHANG)
        if ended:
            code = os.waitstatus_to_exitcode(status)
            assert code != BROKEN, "the child could not run its tests"
            return code
        if time.perf_counter() > until_s:
            os.killpg(process, signal.SIGKILL)
            os.waitpid(process, 0)
            return FOUND
        time.sleep(0.02)  # noqa: TID251 - waits for a real process
