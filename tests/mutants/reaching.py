"""Which tests reach which lines of the core modules, and how long each takes: who has to be asked about a fault.

A test that never runs a line cannot find a fault in it. What runs as a module is imported concerns every test; what
makes a fixture ready that several tests share concerns each of them.
"""

from __future__ import annotations

import json
import os
from collections.abc import Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import coverage
import pytest

AT_IMPORT = ""
"""Stands for no test: what runs outside of all of them."""
SHARED = ("module", "package", "session")


def file_of(test: str) -> str:
    """The file of a test, from its name for pytest."""
    return test.partition("::")[0]


@dataclass(frozen=True)
class Reach:
    """Of each test that passes, by its name for pytest, how long it takes and the lines that it runs, by their file."""

    took_s: Mapping[str, float]
    lines: Mapping[str, Mapping[str, frozenset[int]]]

    def asked(self, file: Path, lines: Iterable[int], within_s: float) -> tuple[str, ...]:
        """The tests to ask about a fault in these lines: as many as can be asked in such a time, and one at least.

        First those that run one of the lines; then, for what these remember for others, the rest of their files. File
        by file, so that what tests of a file share is made ready once, the quickest file first.
        """
        wanted = frozenset(lines)
        near = [name for name in self.took_s if wanted & self._of(name, file)]
        if wanted & self._of(AT_IMPORT, file):
            near = list(self.took_s)
        files = {file_of(name) for name in near}
        rest = [name for name in self.took_s if file_of(name) in files and name not in set(near)]
        return self._as_many([*self._by_file(near), *self._by_file(rest)], within_s)

    def files(self, file: Path, within_s: float) -> tuple[str, ...]:
        """The files of tests that run anything of a module, the quickest first, for a fault outside of functions."""
        near = [name for name in self.took_s if self._of(name, file)]
        return tuple(dict.fromkeys(map(file_of, self._as_many(self._by_file(near), within_s))))

    def _of(self, name: str, file: Path) -> frozenset[int]:
        return self.lines.get(name, {}).get(str(file), frozenset())

    def _by_file(self, names: Sequence[str]) -> list[str]:
        """Together by file, the quickest file first; in a file as they stand there."""
        files = [list(group) for _, group in groupby(sorted(names, key=file_of), key=file_of)]
        return [name for group in sorted(files, key=self.spent_s) for name in group]

    def spent_s(self, names: Iterable[str]) -> float:
        """How long these tests take."""
        return sum(self.took_s[name] for name in names)

    def _as_many(self, names: Sequence[str], within_s: float) -> tuple[str, ...]:
        spent_s, taken = 0.0, list[str]()
        for name in names:
            spent_s += self.took_s[name]
            if taken and spent_s > within_s:
                break
            taken.append(name)
        return tuple(taken)

    def written(self) -> str:
        """As it is kept."""
        lines = {name: {file: sorted(of) for file, of in files.items()} for name, files in self.lines.items()}
        return json.dumps({"took_s": dict(self.took_s), "lines": lines})


def reach_in(text: str) -> Reach:
    """Read what was kept."""
    read = json.loads(text)
    lines = {name: {file: frozenset(of) for file, of in files.items()} for name, files in read["lines"].items()}
    return Reach(read["took_s"], lines)


class Watching:
    """A plugin for pytest: notes the lines of some files as tests run them."""

    def __init__(self, files: Sequence[Path]) -> None:
        self._coverage = coverage.Coverage(data_file=None, include=[str(file) for file in files], config_file=False)
        self._took_s = dict[str, float]()
        self._failed = set[str]()
        self._shares = dict[str, set[str]]()

    def begin(self) -> None:
        """From here on, in every thread that begins later too."""
        self._coverage.start()

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        """One test, with what is made ready for it alone; in processor time, which a busy machine makes no longer."""
        self._coverage.switch_context(item.nodeid)
        self._shares[item.nodeid] = {_named(one) for one in _shared_of(item)}
        began_s = _processor_s()
        answer = yield
        self._took_s[item.nodeid] = _processor_s() - began_s
        self._coverage.switch_context(AT_IMPORT)
        return answer

    @pytest.hookimpl(wrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any, request: Any) -> Generator[None, object, object]:
        """What several tests share is noted by its own name."""
        if fixturedef.scope not in SHARED:
            return (yield)
        self._coverage.switch_context(_named(fixturedef))
        try:
            return (yield)
        finally:
            self._coverage.switch_context(request._pyfuncitem.nodeid)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """One that fails without a fault is never asked."""
        if report.failed:
            self._failed.add(report.nodeid)

    def reach(self) -> Reach:
        """All that was seen."""
        self._coverage.stop()
        seen: dict[str, dict[str, set[int]]] = {}
        data = self._coverage.get_data()
        for file in data.measured_files():
            for line, contexts in data.contexts_by_lineno(file).items():
                for context in contexts:
                    seen.setdefault(context, {}).setdefault(file, set()).add(line)
        names = [AT_IMPORT, *(name for name in self._took_s if name not in self._failed)]
        lines = {name: _joined(seen, [name, *self._shares.get(name, ())]) for name in names}
        return Reach({name: self._took_s[name] for name in names[1:]}, lines)

    def failing(self) -> list[str]:
        """The tests that fail as it is."""
        return sorted(self._failed)


def _processor_s() -> float:
    return sum(os.times()[:4])


def _joined(seen: Mapping[str, Mapping[str, set[int]]], names: Sequence[str]) -> dict[str, frozenset[int]]:
    files = {file for name in names for file in seen.get(name, {})}
    return {file: frozenset().union(*(seen.get(name, {}).get(file, ()) for name in names)) for file in sorted(files)}


def _shared_of(item: pytest.Item) -> list[Any]:
    info = getattr(item, "_fixtureinfo", None)
    every = info.name2fixturedefs.values() if info else ()
    return [one for each in every for one in each if one.scope in SHARED]


def _named(fixture: Any) -> str:
    return f"made ready for {fixture.baseid}: {fixture.argname}"
