"""Which tests reach which lines of a module, and how long each takes: who has to be asked about a fault in a line.

A test that never runs a line cannot find a fault in it. What runs as the module is imported concerns every test.
"""

from __future__ import annotations

import json
import sys
import threading
import time
from collections.abc import Callable, Generator, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

AT_IMPORT = ""
"""Stands for no test: what runs outside of all of them."""


@dataclass(frozen=True)
class Reach:
    """Of each test, by its name for pytest, how long it took and the lines it ran."""

    took_s: dict[str, float]
    lines: dict[str, frozenset[int]]

    def asked(self, lines: Iterable[int]) -> tuple[str, ...]:
        """The tests that run one of the lines, the quickest first."""
        wanted = frozenset(lines)
        everybody = wanted & self.lines.get(AT_IMPORT, frozenset())
        found = [name for name in self.took_s if everybody or wanted & self.lines[name]]
        return tuple(sorted(found, key=lambda name: self.took_s[name]))


def reach_in(file: Path) -> Reach:
    """Read what `Watching` wrote."""
    read: dict[str, tuple[float, list[int]]] = json.loads(file.read_text(encoding="utf-8"))
    took_s = {name: took for name, (took, _) in read.items() if name != AT_IMPORT}
    return Reach(took_s, {name: frozenset(lines) for name, (_, lines) in read.items()})


class Watching:
    """A plugin for pytest: notes the lines of one file as tests run them, and writes them down at the end."""

    def __init__(self, file: Path, told: Path) -> None:
        self._file, self._told = str(file), told
        self._seen = set[int]()
        self._found: dict[str, tuple[float, list[int]]] = {}

    def begin(self) -> None:
        """From here on, in every thread that begins later too."""
        threading.settrace(self._call)
        sys.settrace(self._call)

    @pytest.hookimpl(wrapper=True, tryfirst=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Generator[None, object, object]:
        """One test, with what is made ready for it."""
        self.note(AT_IMPORT, 0.0)
        began_s = time.perf_counter()
        self.begin()  # a test before may have ended it
        answer = yield
        self.note(item.nodeid, time.perf_counter() - began_s)
        return answer

    def pytest_sessionfinish(self) -> None:
        """Write it down."""
        sys.settrace(None)
        self.note(AT_IMPORT, 0.0)
        self._told.write_text(json.dumps(self._found), encoding="utf-8")

    def note(self, name: str, took_s: float) -> None:
        """What ran since the last note is this test's."""
        before = self._found.get(name, (0.0, []))
        self._found[name] = (before[0] + took_s, sorted({*before[1], *self._seen}))
        self._seen.clear()

    def _call(self, frame: FrameType, event: str, argument: Any) -> Callable[..., Any] | None:
        return self._line if frame.f_code.co_filename == self._file else None

    def _line(self, frame: FrameType, event: str, argument: Any) -> Callable[..., Any]:
        self._seen.add(frame.f_lineno)
        return self._line
