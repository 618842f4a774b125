"""Over which code a figure is measured: this tree, and beside it an earlier commit's under the same measures."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
LONGEST_S = 40.0
FLOOR = """
import argparse, sqlite3
parser = argparse.ArgumentParser()
parser.add_argument("book")
parser.add_argument("text")
args = parser.parse_args()
book = sqlite3.connect(args.book, isolation_level=None)
book.execute("PRAGMA journal_mode = WAL")
book.execute("PRAGMA synchronous = FULL")
book.execute("CREATE TABLE IF NOT EXISTS entries (number INTEGER PRIMARY KEY, text TEXT)")
book.execute("INSERT INTO entries (text) VALUES (?)", (args.text,))
book.close()
print("written")
"""


@dataclass(frozen=True)
class Tree:
    """A folder that holds `mixclock` and `tests`, and one for what Python compiles of them."""

    root: Path
    compiled: Path

    def env(self, home: Path | None = None) -> Mapping[str, str]:
        """The environment in which its code runs; compiled once, as an installed package is."""
        own = {"PYTHONPATH": str(self.root), "PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(self.compiled)}
        return {**os.environ, **own, **({} if home is None else {"MIXCLOCK_HOME": str(home)})}

    def figures(self, name: str, *words: object) -> Mapping[str, float]:
        """What one measure gives in a process of its own; nothing where this code cannot be measured so."""
        asked = [sys.executable, "-m", "tests.bench.measures", name, *map(str, words)]
        return self._json(asked)

    def bus_figures(self, live: int, watched_s: float) -> Mapping[str, float]:
        """What the calls to a notification bus give, on a bus of its own."""
        asked = ["dbus-run-session", "--", sys.executable, "-m", "tests.bench.buscalls", str(live), str(watched_s)]
        return self._json(asked)

    def command_ms(self, home: Path, *words: str) -> float:
        """How long a whole command takes."""
        return process_ms([sys.executable, "-m", "mixclock", *words], self.env(home), self.root)

    def _json(self, asked: Sequence[str]) -> Mapping[str, float]:
        try:
            ran = subprocess.run(
                asked,
                env=dict(self.env()),
                cwd=self.root,
                capture_output=True,
                text=True,
                check=False,
                timeout=3 * LONGEST_S,
            )
        except subprocess.TimeoutExpired:
            print(f"!  {' '.join(asked[2:])}: ended after {3 * LONGEST_S:.0f} s", file=sys.stderr)
            return {}
        if ran.returncode:
            print(f"!  {' '.join(asked[2:])}: {ran.stderr.strip().splitlines()[-1:]}", file=sys.stderr)
            return {}
        told: Mapping[str, float] = json.loads(ran.stdout.strip().splitlines()[-1])
        return told


def process_ms(command: Sequence[str], env: Mapping[str, str], cwd: Path = ROOT, longest_s: float = LONGEST_S) -> float:
    """How long a process takes from its start to its end; what takes longer than so is ended, and takes for ever.

    A process that fails has no time: a refusal is quick, and answers nothing.
    """
    began = time.perf_counter()
    try:
        ran = subprocess.run(command, env=dict(env), cwd=cwd, check=False, capture_output=True, timeout=longest_s)
    except subprocess.TimeoutExpired:
        return math.inf
    return 1000 * (time.perf_counter() - began) if ran.returncode == 0 else math.nan


@contextmanager
def trees(beside: str | None) -> Iterator[tuple[Tree, Tree | None]]:
    """This tree, and that of the commit that is measured beside it."""
    with TemporaryDirectory(prefix="bench-") as made:
        folder = Path(made)
        ours = Tree(ROOT, folder / "compiled")
        if beside is None:
            yield ours, None
            return
        subprocess.run(["git", "worktree", "add", "--detach", "-f", str(folder / "before"), beside],
                       cwd=ROOT, check=True, capture_output=True)  # fmt: skip
        try:
            over = folder / "over"
            over.mkdir()
            for name, where in (("mixclock", folder / "before"), ("profiles", folder / "before"), ("tests", ROOT)):
                if (where / name).exists():
                    (over / name).symlink_to(where / name)
            yield ours, Tree(over, folder / "compiled before")
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", str(folder / "before")], cwd=ROOT, check=False)
