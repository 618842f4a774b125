"""Run the harness and print its table.

`python -m tests.faults` runs the short form of each row, as the gate does. `--full` runs as many trials as the promise
asks for; with `--seconds` each row ends after so long, and the table says how many it made.
"""

from __future__ import annotations

import argparse
import sys

from tests.faults.rows import ROWS
from tests.faults.table import CLOCK, bounded, line_of, printed


def main() -> int:
    """Print the table; 1 where a row does not hold (or, broken on purpose, holds)."""
    words = _asked().parse_args()
    ran, lines, bad = [], [], 0
    for row in ROWS:
        if words.row and row.name not in words.row:
            continue
        began_s = CLOCK.monotonic_s()
        wanted = words.trials or (row.full if words.full else row.short)
        with bounded(words.seconds):
            counted = row.run(wanted, words.broken)
        ran.append(row)
        lines.append(line_of(row, counted, wanted))
        bad += not (counted.broken if words.broken else counted.holds)
        print(f"{row.name}: {lines[-1][-1]} ({CLOCK.monotonic_s() - began_s:.0f} s)", file=sys.stderr, flush=True)
        for told in (*counted.notes, *(f"WRONG: {line}" for line in counted.wrong[:5])):
            print(f"  {told}", file=sys.stderr, flush=True)
    print(printed(lines, ran))
    return 1 if bad else 0


def _asked() -> argparse.ArgumentParser:
    asked = argparse.ArgumentParser(
        prog="python -m tests.faults", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    asked.add_argument("--full", action="store_true", help="as many trials as the promise asks for")
    asked.add_argument("--seconds", type=float, help="end each row after so long")
    names = ", ".join(row.name for row in ROWS)
    asked.add_argument("--row", action="append", metavar="NAME", help=f"only this one; may be given again: {names}")
    asked.add_argument("--trials", type=int, help="so many of each instead")
    asked.add_argument("--break", dest="broken", action="store_true", help="with the deliberate break of each row")
    return asked


if __name__ == "__main__":
    sys.exit(main())
