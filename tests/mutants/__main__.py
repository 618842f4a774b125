"""How many faults the tests find: `python -m tests.mutants [--seed N] [--sample N] [--core NAME] [--jobs N]`.

Of each core module (`covering.py`) as many mutants as `--sample` says are drawn by the seed; each is run against the
tests that cover the module. Printed are a row for each module, and every mutant that lives, with its class and reason
(`known.toml`). Exit code 1 where fewer than nine in ten are found out, or one that lives is S1 or not yet classed.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self

from tests.mutants.breaking import Mutant, mutants_of
from tests.mutants.covering import CORES, Core
from tests.mutants.inplace import Forking
from tests.mutants.known import Known, known
from tests.mutants.trying import Trial, survivals

LEAST_SHARE = 0.90


@dataclass
class Count:
    """What became of one core module's mutants."""

    core: Core | None
    drawn: list[Mutant]
    equivalent: int = 0
    killed: int = 0
    lives: list[tuple[Mutant, Known]] = field(default_factory=list)

    @property
    def share(self) -> float:
        """Of those that a crew could tell, the part that was found out."""
        told = self.killed + len(self.lives)
        return self.killed / told if told else 1.0


def drawn(core: Core, seed: int, sample: int) -> list[Mutant]:
    """A module's mutants by the seed; what is known to be equivalent is drawn, counted and not run."""
    every = mutants_of(core.source)
    return random.Random(f"{seed} {core.name}").sample(every, min(sample, len(every)))


def counted(cores: Sequence[Core], seed: int, sample: int, jobs: int) -> list[Count]:
    """Draw and run them all."""
    table, counts = known(), [Count(core, drawn(core, seed, sample)) for core in cores]
    tries = []
    for core, count in zip(cores, counts, strict=True):
        for mutant in count.drawn:
            what = table.get((core.name, *mutant.place), Known("not classed", ""))
            if what.kind == "equivalent":
                count.equivalent += 1
            else:
                tries.append(_Try(core, count, mutant, what))
    for one in [*_living_in_functions(tries, jobs), *_living_outside(tries, jobs)]:
        one.count.lives.append((one.mutant, one.what))
    for count in counts:
        count.killed = len(count.drawn) - count.equivalent - len(count.lives)
    return counts


@dataclass(frozen=True)
class _Try:
    """A mutant that is tried."""

    core: Core
    count: Count
    mutant: Mutant
    what: Known

    def told(self) -> Self:
        """Say at once that it lives: the whole takes long."""
        mutant = self.mutant
        print(f"lives: {self.core.name}:{mutant.line} {mutant.was} => {mutant.becomes}", file=sys.stderr, flush=True)
        return self


class BrokenWithoutAFaultError(Exception):
    """A module's tests fail as it is: they would find out every mutant."""


def _living_in_functions(tries: Sequence[_Try], jobs: int) -> Iterator[_Try]:
    """Those that stand in a function: one process a module asks its tests about all of them."""
    cores = list(dict.fromkeys(one.core for one in tries))
    own = [[one for one in tries if one.core == core] for core in cores]
    with tempfile.TemporaryDirectory() as folder:
        places = [Path(folder) / core.name for core in cores]
        trials = []
        for core, mine, place in zip(cores, own, places, strict=True):
            place.mkdir()
            forking = Forking(core.file, [one.mutant for one in mine], place)
            trials.append(Trial(core.module, core.file, ast.parse(core.source), core.asked, forking))
        for number, passed, said in survivals(trials, jobs):
            if not passed:
                raise BrokenWithoutAFaultError(f"{cores[number].name}: its tests fail without a fault:\n{said[-900:]}")
            lines = (places[number] / "lives.jsonl").read_text(encoding="utf-8").splitlines()
            assert len(lines) == sum(one.mutant.in_function for one in own[number]), "each was tried"
            yield from (own[number][at].told() for at, lives in map(json.loads, lines) if lives)


def _living_outside(tries: Sequence[_Try], jobs: int) -> Iterator[_Try]:
    """Those that run as the module is imported, which is done anew for each."""
    outside = [one for one in tries if not one.mutant.in_function]
    trials = [
        Trial(one.core.module, one.core.file, one.mutant.put_into(one.core.source), one.core.asked) for one in outside
    ]
    yield from (outside[at].told() for at, lives, _ in survivals(trials, jobs) if lives)


def lines_of(counts: Sequence[Count], seed: int, sample: int) -> list[str]:
    """The table, and what lives."""
    every = Count(None, [], sum(one.equivalent for one in counts), sum(one.killed for one in counts))
    every.drawn, every.lives = [m for one in counts for m in one.drawn], [m for one in counts for m in one.lives]
    rows = [f"seed {seed}, up to {sample} mutants of each module"]
    rows += [f"{'module':12}{'mutants':>8}{'equivalent':>12}{'killed':>8}{'live':>6}{'share':>10}"]
    rows += [_row(count.core.name if count.core else "all", count) for count in (*counts, every)]
    for count in counts:
        for mutant, what in sorted(count.lives, key=lambda one: one[0].line):
            rows += ["", f"{what.kind}: {count.core.path if count.core else ''}:{mutant.line} in {mutant.function}"]
            rows += [f"    was      {mutant.was}", f"    becomes  {mutant.becomes}"]
            rows += [f"    {what.reason}"] if what.reason else []
    return rows


def _row(name: str, count: Count) -> str:
    lives, share = len(count.lives), f"{100 * count.share:.1f} %"
    return f"{name:12}{len(count.drawn):8}{count.equivalent:12}{count.killed:8}{lives:6}{share:>10}"


def main(words: Sequence[str] | None = None) -> int:
    """Print how many faults were found."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--sample", type=int, default=13, metavar="N", help="mutants of each module")
    asked.add_argument("--core", action="append", choices=[core.name for core in CORES], help="only this module")
    asked.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    options = asked.parse_args(words)
    cores = [core for core in CORES if options.core is None or core.name in options.core]
    try:
        counts = counted(cores, options.seed, options.sample, options.jobs)
    except BrokenWithoutAFaultError as broken:
        print(broken)
        return 1
    print("\n".join(lines_of(counts, options.seed, options.sample)))
    killed, lives = sum(one.killed for one in counts), [what for one in counts for _, what in one.lives]
    bad = [what for what in lives if what.kind != "S2"]
    return int(bool(bad) or killed < LEAST_SHARE * (killed + len(lives)))


if __name__ == "__main__":
    sys.exit(main())
