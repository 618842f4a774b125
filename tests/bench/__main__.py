"""One table of what mixclock takes, beside floors and peers in the same run.

    python -m tests.bench [--small] [--row BLOCK] [--beside COMMIT] [--readme] [--long-book FOLDER] [--tests SECONDS]

`--readme` puts it into the front page, with its date and machine and a picture of how it grows.
"""

from __future__ import annotations

import argparse
import os
import platform
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

from mixclock.outside.clock import SystemClock
from tests.bench.blocks import BLOCKS, Run
from tests.bench.growth import growth_picture
from tests.bench.table import Figure, Goal, Row, as_markdown, as_text
from tests.bench.trees import ROOT, trees

BEGINS, ENDS = "<!-- what it takes: begins -->", "<!-- what it takes: ends -->"
PICTURE = ".readme/growth.svg"
LARGEST_SHARE = 0.3
"""Of the time for the whole table: what one block may take before it is given up, so that the others are measured."""


def main(words: Sequence[str]) -> int:
    """Measure and print; 1 where a goal of the full table is missed."""
    asking = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    asking.add_argument("--small", action="store_true", help="a short form of each row, in some seconds")
    asking.add_argument("--row", action="append", choices=list(BLOCKS), help="only this block; may be given again")
    asking.add_argument("--beside", metavar="COMMIT", help="the same of an earlier commit, in the same run")
    asking.add_argument("--readme", action="store_true", help="put the table into the front page")
    asking.add_argument("--long-book", type=Path, help="a folder with the long books in `many` and `one`, made before")
    asking.add_argument("--minutes", type=float, default=8.5, help="when a block that still runs is given up (8.5)")
    asking.add_argument("--tests", type=float, metavar="SECONDS", help="how long the front page's tests took")
    told = asking.parse_args(words)
    rows: list[Row] = []
    ends = time.perf_counter() + told.minutes * 60.0
    with trees(told.beside) as (ours, before):
        run = Run(ours, before, told.small, told.long_book)
        for name in told.row or BLOCKS:
            print(f"measuring: {name}", file=sys.stderr, flush=True)
            try:
                with _given_up_at(min(ends, time.perf_counter() + told.minutes * 60.0 * LARGEST_SHARE)):
                    for row in BLOCKS[name](run):
                        rows.append(row)
                        print(as_text([row]), file=sys.stderr, flush=True)
            except Exception as error:  # what cannot be measured here leaves the other rows standing
                print(f"!  {name} could not be measured here: {type(error).__name__}: {error}", file=sys.stderr)
    if told.tests is not None:
        rows.append(Row("the front page's tests", Figure(told.tests / 60, "min"), "", Goal(most=4.0)))
    said = f"{SystemClock().now():%d %B %Y}, {_machine()}; load at the end {os.getloadavg()[0]:.1f}"
    said += f"; before: {told.beside}" if told.beside else ""
    print(f"{said}\n{as_text(rows)}", flush=True)
    if told.readme:
        _into_readme(said, rows)
    return 0 if told.small or all(row.met is not False for row in rows) else 1


@contextmanager
def _given_up_at(ends: float) -> Iterator[None]:
    """What still runs then ends as a block that could not be measured; a process that it waits for is killed."""

    def give_up(_signal: int, _frame: FrameType | None) -> None:
        raise TimeoutError("the time for the whole table is over")

    earlier = signal.signal(signal.SIGALRM, give_up)
    signal.setitimer(signal.ITIMER_REAL, max(0.001, ends - time.perf_counter()))
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, earlier)


def _machine() -> str:
    return f"{os.cpu_count()} cores, {platform.system()} {platform.machine()}, Python {platform.python_version()}"


def _into_readme(said: str, rows: Sequence[Row]) -> None:
    page = ROOT / "README.md"
    text = page.read_text(encoding="utf-8")
    picture = ROOT / PICTURE
    picture.parent.mkdir(exist_ok=True)
    picture.write_text(growth_picture(rows), encoding="utf-8")
    shown = f"![How one look of the daemon grows with live batches, and `now` with the entries of a book]({PICTURE})"
    block = f"{BEGINS}\n{said}.\n\n{as_markdown(rows)}\n\n{shown}\n{ENDS}"
    before, _, rest = text.partition(BEGINS)
    _, _, after = rest.partition(ENDS)
    page.write_text(f"{before}{block}{after}", encoding="utf-8")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
