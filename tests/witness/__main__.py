"""How far the answers of `why` can be believed, by floors that were made up without looking at it.

python -m tests.witness SEED FLOORS
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence

from tests.witness.judging import run
from tests.witness.score import first_table, second_table


def main(words: Sequence[str]) -> int:
    """Print both tables."""
    if len(words) != 2 or not words[1].isdecimal():
        print(__doc__, file=sys.stderr)
        return 2
    results = run(words[0], int(words[1]), workers=min(2, os.cpu_count() or 1))
    print(f"seed {words[0]}, {len(results)} floors; judged by the sentence that a person reads\n")
    print("\n".join([*first_table(results), "", *second_table(results)]))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
