"""How many faults the tests find: `python -m tests.mutants [--seed N] [--sample N] [--core NAME] [--jobs N]`.

Of each core module (`covering.py`) as many mutants as `--sample` says are drawn by the seed; each is run against the
tests that cover the module. Printed are a row for each module, and every mutant that lives, with its class and reason
(`known.toml`). Exit code 1 where fewer than nine in ten are found out, or one that lives is S1 or not yet classed.
"""

from __future__ import annotations

import argparse
import ast
import os
import random
import sys
from collections.abc import Sequence
from dataclasses import dataclass, field

from tests.mutants.breaking import Mutant, mutants_of
from tests.mutants.covering import CORES, Core
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
    tried: list[tuple[Count, Mutant, Known]] = []
    trials: list[Trial] = []
    for core, count in zip(cores, counts, strict=True):
        for mutant in count.drawn:
            what = table.get((core.name, *mutant.place), Known("not classed", ""))
            if what.kind == "equivalent":
                count.equivalent += 1
            else:
                tried.append((count, mutant, what))
                trials.append(Trial(core.module, core.file, mutant.put_into(core.source), core.asked))
    for place, lives, _ in survivals(trials, jobs):
        count, mutant, what = tried[place]
        if not lives:
            count.killed += 1
            continue
        count.lives.append((mutant, what))
        living = f"{count.core.name if count.core else ''}:{mutant.line} {mutant.was} => {mutant.becomes}"
        print(f"lives: {living}", file=sys.stderr, flush=True)
    return counts


def unbroken(cores: Sequence[Core], jobs: int) -> list[str]:
    """The modules whose tests fail already without a fault: they would find out every mutant."""
    trials = [Trial(core.module, core.file, ast.parse(core.source), core.asked) for core in cores]
    return [
        f"{cores[place].name}: its tests fail without any fault:\n{said[-600:]}"
        for place, lives, said in survivals(trials, jobs)
        if not lives
    ]


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
    asked.add_argument("--trust", action="store_true", help="the tests are known to pass without a fault")
    asked.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    options = asked.parse_args(words)
    cores = [core for core in CORES if options.core is None or core.name in options.core]
    if broken := [] if options.trust else unbroken(cores, options.jobs):
        print("\n".join(broken))
        return 1
    counts = counted(cores, options.seed, options.sample, options.jobs)
    print("\n".join(lines_of(counts, options.seed, options.sample)))
    killed, lives = sum(one.killed for one in counts), [what for one in counts for _, what in one.lives]
    bad = [what for what in lives if what.kind != "S2"]
    return int(bool(bad) or killed < LEAST_SHARE * (killed + len(lives)))


if __name__ == "__main__":
    sys.exit(main())
