"""How long a statement takes from a cold start, beside the floor: argparse and sqlite3 appending one row.

    python -m tests.bench.start [runs]

They run in turns, each as a process of its own with a book of its own, WAL and synchronous=FULL, so that whatever else
the machine does falls on all. Printed are the medians and their ratios to the floor: of a bucket like one before, whose
answer is remembered, and of the first of its kind, for which the resins are run. The target is 6, 8 at most.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TARGET, MOST = 6.0, 8.0

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

JOB = """
name = "Boat shed"
zone = "Europe/Lisbon"
[[areas]]
name = "slip"
size = "40 m2"
[[vessels]]
name = "pail"
volume = "20 L"
across = "28 cm"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
"""


def main(runs: int = 15) -> int:
    """Measure and print; gives 1 where the ratio is over the most that is allowed."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "MIXCLOCK_HOME": folder, "PYTHONPATH": str(ROOT), **_compiled_once(folder)}
        command = [sys.executable, "-m", "mixclock.cli"]
        job = Path(folder) / "job.toml"
        job.write_text(JOB)
        _run([*command, "job", "start", str(job)], env)
        _run([*command, "reading", "--air", "18 C", "--rh", "60", "--slab", "16 C"], env)
        mixed = [*command, "mixed", "Slow epoxy base", "--on", "slip", "--material", "19 C"]
        floor = [sys.executable, "-c", FLOOR, str(Path(folder) / "floor.sqlite3"), "one row"]
        times: dict[str, list[float]] = {"floor": [], "like one before": [], "first of its kind": []}
        for run in range(-2, runs):
            took = (_run(floor, env), _run([*mixed, "6 L"], env), _run([*mixed, f"{7 + run / 10:.1f} L"], env))
            if run >= 0:  # the runs before only warm what an installed package has warm
                for name, span_s in zip(times, took, strict=True):
                    times[name].append(span_s)
    return _report({name: statistics.median(spans_s) for name, spans_s in times.items()})


def _report(medians_s: Mapping[str, float]) -> int:
    floor_s = medians_s["floor"]
    print(f"floor {floor_s * 1000:.0f} ms (target {TARGET:g} times, most {MOST:g})")
    ratios = {name: span_s / floor_s for name, span_s in medians_s.items() if name != "floor"}
    for name, ratio in ratios.items():
        print(f"mixed, {name}: {medians_s[name] * 1000:.0f} ms, {ratio:.1f} times")
    return 0 if max(ratios.values()) <= MOST else 1


def _compiled_once(folder: str) -> dict[str, str]:
    """An installed package is compiled once; a checkout may be told not to keep what was compiled."""
    return {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(Path(folder) / "compiled")}


def _run(command: Sequence[str], env: Mapping[str, str]) -> float:
    began = time.perf_counter()
    subprocess.run(command, env=dict(env), check=True, capture_output=True)
    return time.perf_counter() - began


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 15))
