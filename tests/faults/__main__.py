"""Run the harness and print its table: `python -m tests.faults [--short] [--row NAME] [--trials N] [--break]`."""

from __future__ import annotations

import argparse
import sys

from mixclock.outside.clock import SystemClock
from tests.faults.rows import ROWS
from tests.faults.table import line_of, printed


def main() -> int:
    """Print the table; 1 where a row does not hold (or, broken on purpose, holds)."""
    asked = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    asked.add_argument("--short", action="store_true", help="the form that the gate runs")
    asked.add_argument("--row", action="append", help="only this one; may be given again")
    asked.add_argument("--trials", type=int, help="so many of each instead")
    asked.add_argument("--break", dest="broken", action="store_true", help="with the deliberate break of each row")
    words = asked.parse_args()
    clock, lines, bad = SystemClock(), [], 0
    for row in ROWS:
        if words.row and row.name not in words.row:
            continue
        began_s = clock.monotonic_s()
        counted = row.run(words.trials or (row.short if words.short else row.long), words.broken)
        lines.append(line_of(row, counted))
        bad += counted.holds == words.broken
        print(f"{row.name}: {lines[-1][-1]} ({clock.monotonic_s() - began_s:.0f} s)", file=sys.stderr, flush=True)
    print(printed(lines))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
