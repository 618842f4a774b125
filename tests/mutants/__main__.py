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
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from tests.mutants.breaking import Mutant, mutants_of
from tests.mutants.covering import CORES, Core
from tests.mutants.known import Known, known
from tests.mutants.reaching import Reach, reach_in
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


def counted(cores: Sequence[Core], seed: int, sample: int, jobs: int, reach: Mapping[str, Reach]) -> list[Count]:
    """Draw and run them all: first against the tests that run the broken line, then those that live against the rest."""
    table, counts = known(), [Count(core, drawn(core, seed, sample)) for core in cores]
    near: list[_Try] = []
    for core, count in zip(cores, counts, strict=True):
        for mutant in count.drawn:
            what = table.get((core.name, *mutant.place), Known("not classed", ""))
            if what.kind == "equivalent":
                count.equivalent += 1
            else:
                near.append(_Try(core, count, mutant, what, reach[core.name].asked(mutant.lines)))
    living = [one for one in near if not one.asked] + list(_living([one for one in near if one.asked], jobs))
    far = [one.with_the_rest_of(reach[one.core.name]) for one in living]
    for one in [each for each in far if not each.asked] + list(_living([each for each in far if each.asked], jobs)):
        one.count.lives.append((one.mutant, one.what))
        print(f"lives: {one.core.name}:{one.mutant.line} {one.mutant.was} => {one.mutant.becomes}", file=sys.stderr)
    return counts


@dataclass(frozen=True)
class _Try:
    """A mutant, and the tests that are asked about it."""

    core: Core
    count: Count
    mutant: Mutant
    what: Known
    asked: tuple[str, ...]

    def with_the_rest_of(self, reach: Reach) -> _Try:
        """The tests that were not asked yet: what one test ran once may have been remembered for another."""
        rest = [name for name in reach.took_s if name not in self.asked]
        return replace(self, asked=tuple(rest) if self.asked else ())

    @property
    def trial(self) -> Trial:
        """For a process of its own."""
        files = tuple(dict.fromkeys(name.partition("::")[0] for name in self.asked))
        return Trial(self.core.module, self.core.file, self.mutant.put_into(self.core.source), files, self.asked)


def _living(tries: Sequence[_Try], jobs: int) -> Iterator[_Try]:
    for place, lives, _ in survivals([one.trial for one in tries], jobs):
        if lives:
            yield tries[place]
        else:
            tries[place].count.killed += 1


def unbroken(cores: Sequence[Core], jobs: int) -> tuple[dict[str, Reach], list[str]]:
    """Which tests reach which lines of each module, and the modules whose tests fail already without a fault."""
    reach, broken = dict[str, Reach](), []
    with tempfile.TemporaryDirectory() as folder:
        told = [Path(folder) / f"{core.name}.json" for core in cores]
        whole = [
            Trial(core.module, core.file, ast.parse(core.source), core.asked, reach=file)
            for core, file in zip(cores, told, strict=True)
        ]
        for place, lives, said in survivals(whole, jobs):
            if lives:
                reach[cores[place].name] = reach_in(told[place])
            else:
                broken.append(f"{cores[place].name}: its tests fail without any fault:\n{said[-600:]}")
    return reach, broken


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
    reach, broken = unbroken(cores, options.jobs)
    if broken:
        print("\n".join(broken))
        return 1
    counts = counted(cores, options.seed, options.sample, options.jobs, reach)
    print("\n".join(lines_of(counts, options.seed, options.sample)))
    killed, lives = sum(one.killed for one in counts), [what for one in counts for _, what in one.lives]
    bad = [what for what in lives if what.kind != "S2"]
    return int(bool(bad) or killed < LEAST_SHARE * (killed + len(lives)))


if __name__ == "__main__":
    sys.exit(main())
