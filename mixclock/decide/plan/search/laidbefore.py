"""What was laid before in the same search: a foreman asks for the same coat again and again, rough and worked out, with
less and with more in reserve.

The same question has the same answer. And what fits with more in reserve fits with less: so fewer batches than were
needed before need not be tried where more is to be kept in reserve.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from datetime import datetime, time
from itertools import accumulate

from mixclock.decide.plan.floor.setting import CoatSetting
from mixclock.decide.plan.search.chain import CoatChain, Guess
from mixclock.decide.plan.search.climber import Cuts, Solution
from mixclock.job.site import Coat
from mixclock.values import dataclass, field, replace


@dataclass(frozen=True)
class LaidRun:
    """A search that came to its end: what was asked, and the solution with the hours that its windows rest on."""

    alike: CoatSetting
    reserve: float
    asked: Hashable
    chain: CoatChain
    found: Solution | None
    guesses: dict[int, Guess]


@dataclass(frozen=True)
class FailedDivisions:
    """Divisions in which no order of work was found, by where the batches end [m²]: finer pieces of the same floor
    often give the same batches again."""

    alike: CoatSetting
    reserve: float
    asked: Hashable
    ends_m2: set[tuple[float, ...]]


@dataclass
class LaidBefore:
    """The searches that came to an end. `asked` is what else the answer rests on: effort, seed, how many batches."""

    runs: list[LaidRun] = field(default_factory=list)
    failed: list[FailedDivisions] = field(default_factory=list)

    def fail(self, chain: CoatChain, asked: Hashable, divisions: Sequence[Cuts]) -> None:
        """No order of work was found in these divisions."""
        alike = _however_cut(chain.setting)
        for known in self.failed:
            if known.asked == asked and known.reserve == chain.setting.reserve and known.alike == alike:
                known.ends_m2.update(_ends_m2(chain, cuts) for cuts in divisions)
                return
        ends_m2 = {_ends_m2(chain, cuts) for cuts in divisions}
        self.failed.append(FailedDivisions(alike, chain.setting.reserve, asked, ends_m2))

    def not_failed(self, chain: CoatChain, asked: Hashable, divisions: Sequence[Cuts]) -> list[Cuts]:
        """The divisions that did not fail yet with as much in reserve, or less."""
        alike = _however_cut(chain.setting)
        failed: set[tuple[float, ...]] = set()
        for known in self.failed if divisions else ():
            if known.asked == asked and known.reserve >= chain.setting.reserve and known.alike == alike:
                failed |= known.ends_m2
        return [cuts for cuts in divisions if not failed or _ends_m2(chain, cuts) not in failed]

    def keep(self, chain: CoatChain, asked: Hashable, found: Solution | None) -> None:
        """One more that came to its end."""
        alike = _whatever_the_hours(chain.setting)
        self.runs.append(LaidRun(alike, chain.setting.reserve, asked, chain, found, dict(chain.guesses)))

    def same(self, setting: CoatSetting, asked: Hashable) -> LaidRun | None:
        """The answer to the same question, if somebody asked it before."""
        for run in self._alike(setting, asked):
            if run.reserve == setting.reserve:
                return run
        return None

    def fewest(self, setting: CoatSetting, asked: Hashable) -> int:
        """How many batches it takes at least, as searches found that kept no more in reserve."""
        looser = [run.found for run in self._alike(setting, asked) if run.reserve >= setting.reserve]
        return max((len(found.cuts) for found in looser if found is not None), default=0)

    def begun_in_strips(self, coat: Coat) -> datetime | None:
        """From when on a coat was last laid in strips; None if it never was."""
        settings = (run.chain.setting for run in reversed(self.runs) if run.found is not None)
        return next((at.begins for at in settings if at.strips > 1 and at.coat.name == coat.name), None)

    def _alike(self, setting: CoatSetting, asked: Hashable) -> list[LaidRun]:
        alike = _whatever_the_hours(setting)
        return [run for run in self.runs if run.asked == asked and run.alike == alike]


def _ends_m2(chain: CoatChain, cuts: Cuts) -> tuple[float, ...]:
    sizes = list(accumulate(piece.size_m2 for piece in chain.setting.pieces))
    return tuple(round(sizes[end - 1], 2) for end in cuts)


def _however_cut(setting: CoatSetting) -> CoatSetting:
    return replace(_whatever_the_hours(setting), pieces=())


def _whatever_the_hours(setting: CoatSetting) -> CoatSetting:
    """What a search rests on, but for what is kept in reserve and for the working hours: when it has to be over is told
    apart, and that of any day is as good."""
    hours = setting.site.hours
    any_hours = None if hours is None else replace(hours, days=(), start=time.min, end=time.max)
    return replace(setting, reserve=1.0, site=replace(setting.site, hours=any_hours))
