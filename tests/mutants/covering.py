"""The fourteen core modules, and the tests that are asked about each: the quickest and nearest first."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from tests.mutants.breaking import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Core:
    """A module that a crew's time rests on, in one file or in several."""

    name: str
    path: str
    tests: tuple[str, ...]
    more: tuple[str, ...] = ()
    """The other files of its work."""

    @property
    def paths(self) -> tuple[str, ...]:
        """Where all of it lies."""
        return (self.path, *self.more)

    @property
    def files(self) -> tuple[Path, ...]:
        """The same, to be opened."""
        return tuple(ROOT / path for path in self.paths)

    @property
    def asked(self) -> tuple[str, ...]:
        """The module's own examples, and its tests."""
        return (*self.paths, *self.tests)

    @property
    def mutants(self) -> list[Mutant]:
        """Every fault that can be put into it, file by file."""
        return [one for path in self.paths for one in mutants_of(source_of(path), path)]


def source_of(path: str) -> str:
    """The text of a file of the project."""
    return (ROOT / path).read_text(encoding="utf-8")


def module_of(path: str) -> str:
    """As Python imports it."""
    return path.removesuffix(".py").replace("/", ".")


DECIDING = tuple(
    f"tests/{name}.py"
    for name in (
        *(f"decide/test_{of}" for of in (
            "windowstates", "edgefigures", "sheetrows", "lawsbyhand", "stages", "etching", "closing", "raising",
            "windows", "remembered", "muting", "slabahead", "hottesthour", "dayaround", "learn", "floorphysics",
            "alerting", "edgeproperties", "cups", "crewsteps",
        )),
        *(f"words/test_{of}" for of in ("answers", "objections", "nowscreen", "sheettalk", "calendar")),
        *(f"days/test_{of}" for of in ("alertnumbers", "nobodyheard", "dumped", "promises", "unknowntime", "commands")),
        "watch/test_advice",
        "watch/test_bulletins",
    )
)  # fmt: skip
"""What asks for windows, tracks and calls in figures: of these only those that run a broken line are run."""

CORES = (
    Core(
        "cure",
        "mixclock/formulas/cure.py",
        ("tests/formulas/test_cure.py", "tests/formulas/test_gainsbyinstants.py", "tests/formulas/test_gaintable.py",
         "tests/formulas/test_history.py",
         "tests/formulas/test_promisedranges.py", "tests/decide/test_edgefigures.py", "tests/decide/test_windows.py",
         "tests/decide/test_floorphysics.py"),
        more=("mixclock/formulas/gaintable.py",),
    ),
    Core(
        "bucket",
        "mixclock/formulas/bucket.py",
        ("tests/formulas/test_promisedranges.py", "tests/formulas/test_bucket.py", "tests/formulas/test_ensemble.py"),
    ),
    Core(
        "air",
        "mixclock/formulas/air.py",
        ("tests/formulas/test_air.py", "tests/formulas/test_promisedranges.py", "tests/decide/test_conditions.py"),
    ),
    Core(
        "mix",
        "mixclock/formulas/mix.py",
        ("tests/formulas/test_mix.py", "tests/formulas/test_promisedranges.py", "tests/decide/plan/test_takeoff.py",
         "tests/words/test_saidback.py"),
    ),
    Core(
        "clocks",
        "mixclock/decide/clocks.py",
        (*DECIDING, "tests/words/test_profilepage.py", "tests/words/picture/test_product.py"),
    ),
    Core(
        "windows",
        "mixclock/decide/windows.py",
        (*DECIDING, "tests/test_anyday.py"),
    ),
    Core(
        "tracks",
        "mixclock/decide/tracks.py",
        (*DECIDING, "tests/decide/test_trackfigures.py", "tests/decide/test_kepttracks.py",
         "tests/watch/test_looks.py"),
        more=("mixclock/decide/kepttracks.py",),
    ),
    Core(
        "closing",
        "mixclock/decide/alerting/closing.py",
        DECIDING,
    ),
    Core(
        "raising",
        "mixclock/decide/alerting/raising.py",
        (*DECIDING, "tests/decide/test_agenda.py", "tests/decide/test_agendafollows.py"),
        more=("mixclock/decide/alerting/agenda.py",),
    ),
    Core(
        "folding",
        "mixclock/job/batchbuilding.py",
        ("tests/job/test_bucketinparts.py", "tests/job/test_raisings.py", "tests/job/test_stating.py",
         "tests/job/test_mending.py", "tests/job/test_forecastwithdrawn.py", "tests/job/test_fallenwithbatch.py",
         "tests/decide/test_agenda.py",
         *DECIDING, "tests/words/test_saidback.py",
         "tests/words/record/test_recordpage.py", "tests/job/test_jumps.py", "tests/job/test_steppedclock.py"),
        more=("mixclock/job/folding.py", "mixclock/job/raisings.py"),
    ),
    Core(
        "tick",
        "mixclock/watch/tick.py",
        ("tests/days/test_promises.py", "tests/days/test_alertnumbers.py", "tests/watch/test_heldbook.py",
         "tests/watch/test_mendedfile.py", "tests/watch/test_advice.py", "tests/watch/test_bulletins.py",
         "tests/days/test_nobodyheard.py",
         "tests/days/test_unknowntime.py", "tests/watch/test_screen.py", "tests/watch/test_looks.py",
         "tests/watch/test_whatwasheard.py", "tests/watch/test_whatiswatched.py", "tests/watch/test_messagesshown.py",
         "tests/outside/test_recalledlog.py"),
    ),
    Core(
        "book",
        "mixclock/outside/book.py",
        ("tests/outside/test_book.py", "tests/outside/test_bookfile.py", "tests/outside/test_calibrations.py",
         "tests/outside/test_lessons.py", "tests/outside/test_bookmending.py", "tests/test_wiring.py",
         "tests/outside/test_bookraces.py", "tests/watch/test_heldbook.py", "tests/watch/test_fulldisk.py",
         "tests/outside/test_jobexchange.py", "tests/outside/test_unrecorded.py"),
    ),
    Core(
        "scoring",
        "mixclock/decide/why/evidence.py",
        ("tests/decide/why/test_evidence.py", "tests/decide/why/test_diagnosis.py", "tests/decide/why/test_nexttime.py",
         "tests/decide/why/test_causetable.py", "tests/cli/test_recordandwhy.py"),
    ),
    Core(
        "take-off",
        "mixclock/decide/plan/floor/takeoff.py",
        ("tests/decide/plan/test_takeoff.py", "tests/decide/plan/test_takeoffsums.py",
         "tests/decide/plan/test_comparing.py", "tests/decide/plan/test_acid.py",
         "tests/words/plan/test_plantext.py"),
    ),
)  # fmt: skip
