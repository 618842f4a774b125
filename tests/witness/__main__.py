"""How far the answers of `why` can be believed, by floors that were made up without looking at it.

python -m tests.witness SEED FLOORS
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from tests.witness.judging import run
from tests.witness.score import Result, first_table, second_table

BETWEEN_TABLES = 20


def main(words: Sequence[str]) -> int:
    """Print both tables: on the way to a watcher's stream, so that a run cut short loses nothing, and at the end."""
    if len(words) != 2 or not words[1].isdecimal():
        print(__doc__, file=sys.stderr)
        return 2
    results: list[Result] = []
    for result in run(words[0], int(words[1]), workers=min(2, os.cpu_count() or 1)):
        results.append(result)
        if len(results) % BETWEEN_TABLES == 0 and len(results) < int(words[1]):
            print(f"{_tables(words[0], results)}\n", file=sys.stderr, flush=True)
    print(_tables(words[0], results))
    return 0


def _tables(seed: str, results: Sequence[Result]) -> str:
    head = f"seed {seed}, {len(results)} floors; judged by the sentence that a person reads\n"
    return "\n".join([head, *first_table(results), "", *second_table(results)])


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
