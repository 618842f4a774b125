"""What every test may ask for: a home of its own, and the commands, run inside this process or in one of their own."""

from __future__ import annotations

import gc
import os
import shutil
import sys
from collections.abc import Callable, Generator, Iterator
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest
from _pytest.doctest import DoctestModule
from hypothesis import HealthCheck, Phase, settings

from mixclock.outside.clock import FakeClock, SystemClock
from mixclock.wiring import House, open_house
from tests.potteryfloor import JOB, START
from tests.realparts.parts import missing
from tests.running import BEGINS, THE_MACHINES, Ran, Runner, going_on_from

WORKER = os.environ.get("PYTEST_XDIST_WORKER", "").removeprefix("gw")
"""The number of this process, where several share the tests; empty where one runs them all."""
if WORKER:
    # each worker needs every test as bytecode, and to make it takes more than half of the time that collecting takes
    sys.dont_write_bytecode = False
IN_MEMORY = Path("/dev/shm")
"""Where thousands of homes are made and forgotten no disk is waited for, which takes a third of the tests' time.

Only where programs may be started from there, and where there is room; it is pytest's own setting, so yours stands.
"""
ROOM_BYTES = 2 * 10**9
if (
    os.access(IN_MEMORY, os.W_OK)
    and not os.statvfs(IN_MEMORY).f_flag & os.ST_NOEXEC
    and shutil.disk_usage(IN_MEMORY).free > ROOM_BYTES
):
    os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(IN_MEMORY))
gc.disable()  # what is collected stays; to search it for garbage takes a fifth of the time that collecting takes

IN_CI = os.environ.get("CI") == "true"
PARTS_HIDDEN = os.environ.get("MIXCLOCK_PARTS") == "hidden"
ONE_PROCESS = ("--process-per-site", "--disable-gpu")
"""Pages of one profile share their process: to start one takes a browser longer than to show our page."""
LEFT_OUT = "left out: the tests marked long (python -m pytest --long runs them too)"

# the gate says the same of the same commit; everywhere else every run looks at other examples. How long an example
# takes depends on what else the machine does, so it fails no test
PATIENT = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
FEW, MANY = 20, 100
"""Examples of a property: in every run, and in the long form."""
settings.register_profile("gate", PATIENT, derandomize=True, max_examples=FEW)
settings.register_profile("elsewhere", PATIENT, max_examples=FEW)
settings.register_profile("gate, long", PATIENT, derandomize=True, max_examples=MANY)
settings.register_profile("elsewhere, long", PATIENT, max_examples=MANY)
# what looks whether a fault is found at all has no use for the smallest example that finds it
settings.register_profile("found at all", PATIENT, derandomize=True, phases=(Phase.explicit, Phase.generate))
PROFILE = os.environ.get("MIXCLOCK_EXAMPLES") or ("gate" if IN_CI else "elsewhere")
settings.load_profile(PROFILE)


def pytest_addoption(parser: pytest.Parser) -> None:
    """`--long` is for the gate's long form, and for whoever has the time."""
    parser.addoption("--long", action="store_true", help="run the tests marked long too")


class ShownExamples:
    """Reads a module for its examples only where it shows one: most of what collecting takes was a search in vain."""

    @pytest.hookimpl(wrapper=True)
    def pytest_collect_file(self, file_path: Path) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
        """Leave out the search where there is nothing to find."""
        found = yield
        return [each for each in found if not isinstance(each, DoctestModule) or b">>>" in file_path.read_bytes()]


def pytest_configure(config: pytest.Config) -> None:
    """The long form looks at more examples of every property."""
    config.pluginmanager.register(
        ShownExamples()
    )  # here, and not as a hook of this folder, it is asked of mixclock too
    if config.getoption("--long") and PROFILE in ("gate", "elsewhere"):
        settings.load_profile(f"{PROFILE}, long")


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Named tests run one by one in this process, where they can be stopped and looked at; all tests on every core.

    More workers than there are cores, because half of a test's time it waits: for a disk, a page, real seconds to pass.
    """
    return 0 if _named(config) else 2 * (os.cpu_count() or 1) + 1


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Say what is not run."""
    return [] if _runs_long(config) else [LEFT_OUT]


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    """Say it again at the end, where it is read."""
    if not _runs_long(config):
        terminalreporter.write_line(LEFT_OUT)


LONGEST_FIRST = (
    *("board/test_page.py", "board/test_inhands.py", "board/test_twophones.py", "watch/test_watch_process.py"),
    *("faults/test_faults.py", "outside/channels/test_soundqueue.py", "watch/test_daemon.py"),
    *("watch/test_watch_button.py", "outside/channels/test_voice.py", "test_house.py"),
    *("outside/channels/test_desktop.py", "cli/test_interface.py", "floorcheck/test_judging.py"),
    *("decide/plan/test_replan.py", "mutants/test_mutants.py", "decide/plan/test_infeasible.py"),
    *("outside/channels/test_sound.py", "words/record/test_recordcsv.py", "watch/test_resting.py"),
    *("cli/test_warmhelper.py", "floorcheck/test_floors.py", "outside/test_longlogs.py", "cli/test_plan.py"),
    *("watch/test_looks.py", "decide/why/test_confusion.py", "outside/channels/test_deliver.py"),
    *("days/test_todaysstop.py", "outside/test_recalledlog.py", "cli/test_durable.py", "test_neverempty.py"),
    *("decide/plan/test_two_coats.py", "outside/test_bookraces.py", "formulas/test_bandcoverage.py"),
    *("outside/test_bookmending.py", "watch/test_screen.py", "outside/test_jobexchange.py"),
    *("outside/test_weatherservice.py", "decide/plan/test_hands.py", "test_package.py", "cli/test_damagedbook.py"),
    *("outside/test_lessons.py", "cli/test_recordandwhy.py", "days/test_wholejobs.py"),
    *("decide/plan/test_planning.py", "outside/test_statedlog.py", "days/test_storm.py", "witness/test_crew.py"),
    *("decide/test_quietlooks.py", "words/test_spoken.py", "cli/test_exchange.py"),
    *("words/record/test_spreadsheets.py", "cli/test_selfcheck.py", "cli/test_plan_us.py"),
    *("days/test_hostilenames.py", "job/test_statements.py", "words/test_floorwords.py"),
)
"""The files that take longest, by what they compute and wait: they begin first, and the short ones fill the end evenly.

A file stays with one worker, so that what its tests share is worked out once.
"""

IN_ONE_BROWSER = (
    (
        *("board/test_page.py", "board/test_kitpage.py", "board/test_doors.py", "board/test_phones.py"),
        *("board/test_receipts.py", "board/test_pages.py", "words/record/test_recordpage.py"),
    ),
    (
        *("board/test_inhands.py", "board/test_secondclock.py", "board/test_oddhands.py", "board/test_office.py"),
        *("words/picture/test_product.py", "words/plan/test_planfiles.py", "cli/test_plan_etch.py"),
    ),
    (
        *("board/test_twophones.py", "board/test_access.py", "board/test_everystate.py", "board/test_watchjoined.py"),
        *("board/test_hostile.py", "board/test_firstword.py"),
    ),
)
"""Files that stay together with one worker, about as long each: to start a browser takes as much as ten pages of it."""


PLACES = {str(Path(__file__).parent / name): place for place, name in enumerate(LONGEST_FIRST)}


def _place(item: pytest.Item) -> tuple[int, str, bool]:
    """Where a test stands in the order that all workers keep, whatever each of them read first."""
    return PLACES.get(str(item.path), len(PLACES)), str(item.path), isinstance(item, pytest.DoctestItem)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Give out the tests file by file, and those of one browser together."""
    from xdist.scheduler import LoadFileScheduling

    browser_of = {f"tests/{name}": f"browser {number}" for number, names in enumerate(IN_ONE_BROWSER) for name in names}

    class TogetherInABrowser(LoadFileScheduling):  # type: ignore[misc]
        """Knows which files share a browser."""

        def _split_scope(self, nodeid: str) -> str:
            file = super()._split_scope(nodeid)
            return browser_of.get(file, file)

    return TogetherInABrowser(config, log) if config.getoption("dist") == "loadfile" else None


def _rotated(found: list[Any]) -> list[Any]:
    """The same from another place on, so that no two workers read and compile the same file at the same time."""
    begin = len(found) * int(WORKER) // int(os.environ["PYTEST_XDIST_WORKER_COUNT"])
    return found[begin:] + found[:begin]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """One order for all workers, whatever each read first; what is long is left out, unless it was asked for."""
    if WORKER:
        items.sort(key=_place)
    if not _runs_long(config):
        config.hook.pytest_deselected(items=[item for item in items if item.get_closest_marker("long")])
        items[:] = [item for item in items if not item.get_closest_marker("long")]


def pytest_collection_finish() -> None:
    """What was read stays until the end: no search for garbage needs to walk it. Others are made more rarely.

    To search every 700 objects takes two thirds of the time of whoever parses all modules.
    """
    gc.freeze()
    gc.set_threshold(50_000, 20, 10)
    gc.enable()


def _runs_long(config: pytest.Config) -> bool:
    return bool(config.getoption("--long")) or _names_files(config)


def _named(config: pytest.Config) -> bool:
    return config.args_source is pytest.Config.ArgsSource.ARGS


def _names_files(config: pytest.Config) -> bool:
    """Whoever names a file or a test wants it, however long it takes."""
    return _named(config) and all(Path(word.partition("::")[0]).suffix == ".py" for word in config.args)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """In CI every real component is there, so a test that skips has not shown what it should: it fails."""
    report = yield
    if report.skipped and not hasattr(report, "wasxfail"):
        _refuse_skip(report)
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(
    collector: pytest.Collector,
) -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """The same for a file of tests that skips as a whole. Each worker reads the folders from another place on."""
    report = yield
    if report.skipped:
        _refuse_skip(report)
    if WORKER and isinstance(collector, pytest.Directory) and report.result:
        report.result = _rotated(report.result)
    return report


def _refuse_skip(report: pytest.TestReport | pytest.CollectReport) -> None:
    """Where the gate hides the parts a test may skip, but only for want of one."""
    reason = str(report.longrepr[2]) if isinstance(report.longrepr, tuple) else str(report.longrepr)
    if IN_CI and not (PARTS_HIDDEN and "not installed" in reason):
        report.outcome = "failed"
        report.longrepr = f"skipped in CI, where nothing may be missing: {reason}"


@pytest.fixture(scope="session", autouse=True)
def known_sheets() -> Iterator[None]:
    """Hundreds of books ask for the calibrations of the same few sheets: a tenth of what the commands' tests take."""
    from tests.freshbooks import calibrated_once

    with pytest.MonkeyPatch.context() as patched:
        calibrated_once(patched)
        yield


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty MIXCLOCK_HOME. The book that is begun there in this process is a copy of a new one."""
    from tests.freshbooks import copied_where_new

    copied_where_new(monkeypatch)
    place = tmp_path / "home"
    place.mkdir()
    monkeypatch.setenv("MIXCLOCK_HOME", str(place))
    return place


@pytest.fixture
def clock() -> FakeClock:
    """The morning of the pottery studio's floor; a file of tests may have a clock of its own."""
    return FakeClock(START)


@pytest.fixture
def house(home: Path, clock: FakeClock) -> Iterator[House]:
    """A real book in which the pottery studio's floor has begun."""
    with open_house(home, clock) as opened:
        opened.start(JOB)
        yield opened


@pytest.fixture
def run_process(home: Path) -> Runner:
    """Run commands as processes of their own."""
    return Runner(home)


@cache
def typer_reads_once() -> None:
    """A command is read by a process of its own once; hundreds in this one, and their words stay the same."""
    import typer.main

    typer.main.get_params_from_function = cache(typer.main.get_params_from_function)


@pytest.fixture
def run(home: Path, capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """Run commands inside this process: fast, and as the entry point does it. The day has just begun, at any hour."""
    assert SystemClock.now is THE_MACHINES, "a test before this one has left its clock behind"
    # by the patcher that a test may use on the same clock: what each of them found is put back in turn
    monkeypatch.setattr(SystemClock, "now", going_on_from(BEGINS))
    typer_reads_once()

    def run_here(*words: str) -> Ran:
        from mixclock.cli import main

        capfd.readouterr()
        try:
            code = main(words)
        except SystemExit as ended:  # what a shell asks after Tab ends the process
            code = int(ended.code or 0)
        out, err = capfd.readouterr()
        return Ran(code, out, err)

    return run_here


@pytest.fixture
def run_as(run: Callable[..., Ran], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Ran]:
    """The same as a runner of processes would: its home, its environment on top of this one, its folder."""

    def run_there(runner: Runner, *words: str) -> Ran:
        with monkeypatch.context() as there:
            there.chdir(runner.cwd or runner.home)
            for name, value in {"MIXCLOCK_HOME": str(runner.home), **runner.env}.items():
                there.setenv(name, value)
            return run(*words)

    return run_there


@pytest.fixture
def hasty(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands search for a plan only until they have one: for who looks at what is said of it, or judges any plan."""
    from mixclock.decide.plan.search import schedule
    from mixclock.decide.plan.search.climber import Effort

    monkeypatch.setattr(schedule, "Ways", partial(schedule.Ways, effort=Effort(200, 100), exact=False))


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Debian's Chromium, once for all tests: two of its drivers in one process get in each other's way.

    Without a shell of windows and menus around it, where that is installed: a page costs half the work.
    """
    program = shutil.which("chromium-headless-shell") or shutil.which("chromium")
    if program is None:
        pytest.skip(str(missing("chromium")))
    playwright = pytest.importorskip("playwright.sync_api", reason="not installed: playwright")
    with playwright.sync_playwright() as running:
        launched = running.chromium.launch(
            executable_path=program,
            args=["--no-sandbox", "--autoplay-policy=user-gesture-required", *ONE_PROCESS],
        )
        yield launched
        launched.close()


@pytest.fixture(scope="session")
def page_of_all(browser: Any) -> Any:
    """One page, because to open another takes longer than what is looked at in it."""
    return browser.new_page()


@pytest.fixture
def paper(page_of_all: Any) -> Iterator[Callable[..., Any]]:
    """An empty page of a width and a height, in which a file is opened or a text is set."""

    def cut(width_px: int = 1280, height_px: int = 720) -> Any:
        page_of_all.set_viewport_size({"width": width_px, "height": height_px})
        return page_of_all

    yield cut
    page_of_all.emulate_media(media="null")
    page_of_all.goto("about:blank")
