"""How many faults the tests find: `python -m tests.mutants [--seed N]... [--sample N] [--core NAME] [--minutes N]`.

Of each core module (`covering.py`) as many mutants as `--sample` says are drawn by each seed; each is run against the
tests that run its lines, for `--cap` seconds of processor time at most. What was tried is kept in a folder (`--kept`):
a run that is ended, or has had its minutes, goes on where it stood when it is begun again. Printed are a row for each
module as it is done, then the tables, and every mutant that lives, with its class and reason (`known.toml`). Exit code
1 where fewer than nine in ten are found out, one that lives is S1 or not yet classed, or one was not tried.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.mutants.breaking import Mutant
from tests.mutants.covering import CORES, ROOT, Core, module_of, source_of
from tests.mutants.inplace import HUNG, NO_TIME, WHOLE_S, Fault, Forking, Outcome
from tests.mutants.kept import Kept
from tests.mutants.known import Known, known
from tests.mutants.reaching import Reach, reach_in
from tests.mutants.trying import Trial, limit_s, survivals

LEAST_SHARE = 0.90
CAP_S = 90.0
TOLD_EVERY_S = 5.0


@dataclass
class Count:
    """What became of one core module's mutants."""

    core: Core | None
    drawn: list[Mutant]
    equivalent: int = 0
    killed: int = 0
    hung: int = 0
    """Of those that were killed: by a test that hangs by the fault, and by it alone."""
    no_time: int = 0
    """Of those that live: not all their tests could be asked in the time that there is for one."""
    untried: int = 0
    lives: list[tuple[Mutant, Known]] = field(default_factory=list)
    processor_s: float = 0.0

    @property
    def share(self) -> float:
        """Of those that a crew could tell, the part that was found out."""
        told = self.killed + len(self.lives)
        return self.killed / told if told else 1.0


@dataclass(frozen=True)
class Try:
    """A mutant that is to be tried."""

    core: Core
    mutant: Mutant


def drawn(core: Core, seed: int, sample: int) -> list[Mutant]:
    """A module's mutants by the seed; what is known to be equivalent is drawn, counted and not run."""
    every = core.mutants
    return random.Random(f"{seed} {core.name}").sample(every, min(sample, len(every)))


def counted(core: Core, mutants: Sequence[Mutant], kept: Kept) -> Count:
    """What is known by now of the mutants that were drawn."""
    table, count = known(), Count(core, list(mutants))
    for mutant in mutants:
        what = table.get((core.name, *mutant.place), Known("not classed", ""))
        outcome = None if what.kind == "equivalent" else kept.outcome(core, mutant)
        if what.kind == "equivalent":
            count.equivalent += 1
        elif outcome is None:
            count.untried += 1
        elif outcome.lives:
            count.lives.append((mutant, what))
            count.no_time += outcome.by == NO_TIME
        else:
            count.killed += 1
            count.hung += outcome.by.startswith(HUNG)
        count.processor_s += outcome.processor_s if outcome else 0.0
    return count


def to_try(draws: Sequence[tuple[Core, Sequence[Mutant]]], kept: Kept) -> list[Try]:
    """What was drawn, and nobody knows yet."""
    table = known()
    every = [Try(core, mutant) for core, mutants in draws for mutant in mutants]
    return [
        one
        for one in dict.fromkeys(every)
        if kept.outcome(one.core, one.mutant) is None
        and table.get((one.core.name, *one.mutant.place), Known("not classed", "")).kind != "equivalent"
    ]


class BrokenWithoutAFaultError(Exception):
    """Nothing can be asked about a fault: the tests cannot be run as it is."""


@dataclass(frozen=True)
class Work:
    """How mutants are tried: where it is kept, side by side how many, until when."""

    kept: Kept
    jobs: int
    goes_on: Callable[[], bool]

    def all(self, tries: Sequence[Try]) -> None:
        """Those in functions first, by one process that asks about all of them; the others each by its own."""
        inside = [one for one in tries if one.mutant.in_function]
        self._of(self._forking(inside), lambda *_: None, 1)
        if self.goes_on() and (outside := [one for one in tries if not one.mutant.in_function]):
            reach = reach_in(self.kept.reach_file.read_text(encoding="utf-8"))
            trials = [self._outside(one, reach) for one in outside]

            def told(place: int, lives: bool, said: str) -> None:
                one = outside[place]
                by = said if said == HUNG else "" if lives else "one of its files"
                self.kept.write(one.core, one.mutant, Outcome(lives, by, 0, 0.0))

            self._of(trials, told, self.jobs)

    def _of(self, trials: Sequence[Trial], told: Callable[[int, bool, str], None], at_once: int) -> None:
        for place, passed, said in survivals(trials, at_once, self.goes_on):
            if trials[place].forking is not None:
                print("".join(f"{line}\n" for line in said.splitlines() if line.startswith("not asked")), end="")
                if not passed:
                    raise BrokenWithoutAFaultError(f"its tests fail without a fault:\n{said[-900:]}")
            told(place, passed, said)

    def _forking(self, tries: Sequence[Try]) -> list[Trial]:
        """Also where none is to be tried: whoever is asked about the others needs to know what runs which lines."""
        if not tries and self.kept.reach_file.exists():
            return []
        told = lambda place, outcome: self.kept.write(tries[place].core, tries[place].mutant, outcome)  # noqa: E731
        faults = [Fault(ROOT / one.mutant.path, one.mutant) for one in tries]
        watched = [file for core in CORES for file in core.files]
        forking = Forking(faults, watched, self.kept.reach_file, self.kept.cap_s, self.jobs, told)
        tests = tuple(dict.fromkeys(name for core in CORES for name in core.asked))
        return [Trial(tests, 24 * WHOLE_S, forking=forking)]

    def _outside(self, one: Try, reach: Reach) -> Trial:
        path = one.mutant.path
        files = reach.files(ROOT / path, self.kept.cap_s)
        spent_s = sum(took for name, took in reach.took_s.items() if name.partition("::")[0] in files)
        tree = one.mutant.put_into(source_of(path))
        return Trial(files, limit_s(spent_s), module_of(path), ROOT / path, tree)


def lines_of(counts: Sequence[Count], seed: int, sample: int, cap_s: float) -> list[str]:
    """The table, and what lives."""
    every = Count(
        None,
        [],
        *(sum(getattr(one, name) for one in counts) for name in ("equivalent", "killed", "hung", "no_time", "untried")),
    )
    every.drawn, every.lives = [m for one in counts for m in one.drawn], [m for one in counts for m in one.lives]
    every.processor_s = sum(one.processor_s for one in counts)
    rows = [f"seed {seed}, up to {sample} mutants of each module; tests are asked about one for {cap_s:g} s at most"]
    rows += [HEAD, *(row(count) for count in (*counts, every))]
    for count in counts:
        for mutant, what in sorted(count.lives, key=lambda one: (one[0].path, one[0].line)):
            rows += ["", f"{what.kind}: {mutant.path}:{mutant.line} in {mutant.function}"]
            rows += [f"    was      {mutant.was}", f"    becomes  {mutant.becomes}"]
            rows += [f"    {what.reason}"] if what.reason else []
    return rows


HEAD = (
    f"{'module':12}{'mutants':>8}{'equivalent':>12}{'killed':>8}{'by hang':>9}{'live':>6}{'no time':>9}"
    f"{'not tried':>11}{'share':>10}{'s':>8}"
)


def row(count: Count) -> str:
    """One module's line."""
    name, share = count.core.name if count.core else "all", f"{100 * count.share:.1f} %"
    found = f"{len(count.drawn):8}{count.equivalent:12}{count.killed:8}{count.hung:9}{len(count.lives):6}"
    return f"{name:12}{found}{count.no_time:9}{count.untried:11}{share:>10}{count.processor_s:8.0f}"


def main(words: Sequence[str] | None = None) -> int:
    """Print how many faults were found."""
    options = _asked(words)
    cores = [core for core in CORES if options.core is None or core.name in options.core]
    cores.sort(key=lambda core: len(core.tests))  # what is soon known comes first
    kept = Kept(options.kept, options.cap)
    until_s = time.perf_counter() + 60 * options.minutes
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(_told(cores, options, kept)))
    draws = [(core, seed, drawn(core, seed, options.sample)) for core in cores for seed in options.seed or [1]]
    told = _rows_told(draws, kept)

    def goes_on() -> bool:
        next(told)
        return time.perf_counter() < until_s

    try:
        Work(kept, options.jobs, goes_on).all(to_try([(core, mutants) for core, _, mutants in draws], kept))
    except BrokenWithoutAFaultError as broken:
        print(broken)
        return 1
    return _told(cores, options, kept)


def _rows_told(draws: Sequence[tuple[Core, int, Sequence[Mutant]]], kept: Kept) -> Iterator[None]:
    """Print a module's line as soon as all of its faults in functions were tried."""
    open_ones = list(draws)
    while True:
        kept.read()
        while open_ones:
            core, seed, mutants = open_ones[0]
            count = counted(core, mutants, kept)
            if count.untried > sum(not one.in_function for one in mutants):
                break
            print(f"seed {seed:<12}", row(count), flush=True)
            open_ones.pop(0)
        until_s = time.perf_counter() + TOLD_EVERY_S
        while time.perf_counter() < until_s:
            yield


def _asked(words: Sequence[str] | None) -> argparse.Namespace:
    asked = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    asked.add_argument("--seed", type=int, action="append", help="which mutants are drawn; may be said again")
    asked.add_argument("--sample", type=int, default=13, metavar="N", help="mutants of each module and seed")
    asked.add_argument("--core", action="append", choices=[core.name for core in CORES], help="only this module")
    asked.add_argument("--cap", type=float, default=CAP_S, metavar="S", help="processor time to ask about one mutant")
    asked.add_argument("--minutes", type=float, default=24 * 60.0, metavar="N", help="how long it may take")
    asked.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir()) / "mixclock-mutants", metavar="FOLDER")
    asked.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    return asked.parse_args(words)


def _told(cores: Sequence[Core], options: argparse.Namespace, kept: Kept) -> int:
    kept.read()
    return max([_told_seed(cores, seed, options.sample, kept) for seed in options.seed or [1]])


def _told_seed(cores: Sequence[Core], seed: int, sample: int, kept: Kept) -> int:
    counts = [counted(core, drawn(core, seed, sample), kept) for core in CORES if core in cores]
    print("\n" + "\n".join(lines_of(counts, seed, sample, kept.cap_s)), flush=True)
    killed, lives = sum(one.killed for one in counts), [what for one in counts for _, what in one.lives]
    bad = any(what.kind != "S2" for what in lives) or any(one.untried for one in counts)
    return int(bad or killed < LEAST_SHARE * (killed + len(lives)))


if __name__ == "__main__":
    sys.exit(main())
