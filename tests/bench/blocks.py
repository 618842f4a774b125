"""The blocks of the one table: each a function that gives its rows."""

from __future__ import annotations

import math
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

from tests.bench.start import COLD as COLD_START
from tests.bench.start import LIVE, start_figures
from tests.bench.table import TOLD, Figure, Goal, Row
from tests.bench.trees import Tree, process_ms

PATIENCE_MS = 5000.0
COLD = "files in the system's cache; a process of its own for each"


@dataclass(frozen=True)
class Run:
    """What is measured: this code, an earlier one beside it or none, and whether the small form will do."""

    ours: Tree
    before: Tree | None
    small: bool
    long_book: Path | None = None


def _row(
    what: str,
    key: str,
    ours: Mapping[str, float],
    before: Mapping[str, float],
    warm: str,
    goal: Goal = TOLD,
    unit: str = "ms",
    peer: float | None = None,
) -> Row:
    earlier = Figure(before[key], unit) if key in before else None
    beside = Figure(peer, unit) if peer is not None else None
    return Row(what, Figure(ours.get(key, math.nan), unit), warm, goal, beside, earlier)


def _figures(run: Run, name: str, *words: object) -> tuple[Mapping[str, float], Mapping[str, float]]:
    return run.ours.figures(name, *words), run.before.figures(name, *words) if run.before else {}


def start(run: Run) -> Iterator[Row]:
    """Whole commands beside argparse and sqlite3 appending one row, cold and with the watch running."""
    runs, live = (1, 2) if run.small else (11, LIVE)
    earlier = start_figures(run.before, runs, live) if run.before else []
    before = {(each.what, each.how): Figure(each.ours_ms) for each in earlier}
    for each in start_figures(run.ours, runs, live):
        warm = COLD if each.how == COLD_START else "a watch and its warm process run beside it"
        beside, goal = Figure(each.floor_ms), Goal(most_ratio=each.goal)
        yield Row(
            f"{each.what}, {each.how}", Figure(each.ours_ms), warm, goal, beside, before.get((each.what, each.how))
        )


def tick(run: Run) -> Iterator[Row]:
    """One look of the daemon, over live and finished batches and entries; the slope is told."""
    warm = "a daemon that has run for 5 looks"
    sizes = ((1, 0), (10, 0)) if run.small else ((1, 0), (10, 0), (100, 0), (1000, 10_000))
    medians_ms: list[tuple[int, float]] = []
    for live, entries in sizes:
        ours = run.ours.figures("tick", live, entries, 0, 20 if run.small else 60)
        before = run.before.figures("tick", live, entries, 0, 6 if live >= 1000 else 20) if run.before else {}
        goal = Goal(most=50.0) if live == sizes[-1][0] else TOLD
        said = f"{live:,} live batches" + (f", {entries:,} entries" if entries else "")
        yield _row(f"one look, {said}, slowest of a hundred", "p99", ours, before, warm, goal)
        yield _row(f"the same where nobody is called, {said}", "idle", ours, before, warm,
                   Goal(most=1.0) if live == 1 else TOLD)  # fmt: skip
        medians_ms.append((live, ours.get("median", math.nan)))
    if not run.small:
        yield from _growth(run, medians_ms, warm)


def _growth(run: Run, medians_ms: Sequence[tuple[int, float]], warm: str) -> Iterator[Row]:
    (few, few_ms), (many, many_ms) = medians_ms[1], medians_ms[-1]
    slope = math.log(many_ms / few_ms) / math.log(many / few)
    yield Row(f"slope of a look over live batches ({few} to {many:,}): time ~ batches to the power of",
              Figure(slope, ""), warm)  # fmt: skip
    for finished in (100, 1000):
        ours, before = _figures(run, "tick", 10, 0, finished, 30)
        yield _row(f"one look, 10 live, {finished:,} finished batches, nobody called", "idle", ours, before, warm)


def bus(run: Run) -> Iterator[Row]:
    """From due to accepted by a notification bus."""
    warm = f"a daemon that has run for {1 if run.small else 12} s; each bare job connects"
    for live in (1,) if run.small else (1, 100, 1000):
        span_s = 5.0 if run.small else 30.0
        ours = run.ours.bus_figures(live, span_s)
        before = run.before.bus_figures(live, span_s) if run.before and live == 100 else {}
        goal = Goal(most=50.0) if live == 1000 else TOLD
        said = f"{live:,} live batches, {ours.get('calls', 0):.0f} calls"
        for share in (50, 99):
            asked = goal if share == 99 else TOLD
            yield _row(f"due → accepted by a notification bus, {said}, p{share}", f"ours_{share}", ours, before, warm,
                       asked, peer=ours.get(f"bare_{share}"))  # fmt: skip


def longbook(run: Run) -> Iterator[Row]:
    """A firm's book of years, and one very long job, beside one full scan by SQLite."""
    with TemporaryDirectory() as made:
        grown_ms = list(_books_growth(run, Path(made)))
        yield from (row for _, row in grown_ms)
        many, one = _long_books(run, Path(made))
        for said, home in (("many jobs", many), ("one job", one)):
            scanned = run.ours.figures("scan", home)
            peer, entries = scanned.get("scan"), scanned.get("entries", 0)
            what = f"{entries:,.0f} entries in {said}"
            if home == one:
                yield from _one_long_job(run, home, what, peer)
            commands = ((("now", "--json"), Goal(most=300.0)), (("noted", "door opened"), TOLD))
            for words, goal in commands if home == many else commands[1:]:
                ours = {"ms": _whole_ms(run.ours, home, words, run.small)}
                earlier = run.before if home == many else None
                before = {"ms": earlier.command_ms(home, *words)} if earlier else {}
                yield _row(f"{words[0]}, {what}", "ms", ours, before, COLD, goal, peer=peer)
                if home == many and words[0] == "now" and not run.small:
                    (few, row), (rows, ms) = grown_ms[0], (entries, ours["ms"])
                    slope = math.log(ms / row.ours.value) / math.log(rows / few)
                    yield Row("slope of now over entries in many jobs: time ~ entries to the power of",
                              Figure(slope, ""), COLD)  # fmt: skip
            ours = run.ours.figures("watch_start", home)
            before = run.before.figures("watch_start", home) if run.before and home == many else {}
            kept = home / "book.sqlite3.folds"
            warm = "modules loaded; what `now` folded lies beside the book" if kept.exists() else "modules loaded"
            yield _row(f"first look of watch, {what}", "first", ours, before, warm, Goal(most=2000.0),
                       peer=peer)  # fmt: skip
            if kept.exists():
                shutil.rmtree(kept)
                ours = run.ours.figures("watch_start", home)
                yield _row(f"first look of watch, {what}, nothing kept: what was mixed since the last readings",
                           "first", ours, {}, "modules loaded", Goal(most=2000.0), peer=peer)  # fmt: skip
    yield from _entries_growth(run)


def _one_long_job(run: Run, home: Path, what: str, peer: float | None) -> Iterator[Row]:
    """The first `now` folds the whole log; each of the others is asked after another reading that nobody has seen."""
    from tests.bench.longbook import another_reading

    folded = home / "book.sqlite3.folds"
    shutil.rmtree(folded, ignore_errors=True)
    first_ms = run.ours.command_ms(home, "now", "--json")
    yield Row(f"now, {what}: the first, which folds them all", Figure(first_ms), COLD, TOLD, Figure(peer or math.nan))
    later_ms = []
    for _ in range(1 if run.small else 5):
        another_reading(home / "book.sqlite3")
        later_ms.append(run.ours.command_ms(home, "now", "--json"))
    warm = f"{COLD}; what the first folded lies beside the book" if folded.exists() else COLD
    yield Row(f"now, {what}, a new reading before each", Figure(median(later_ms)), warm, Goal(most=300.0),
              Figure(peer or math.nan))  # fmt: skip


def _books_growth(run: Run, folder: Path) -> Iterator[tuple[int, Row]]:
    """`now` on books that hold ten times as much each time, in jobs of 500 entries."""
    from tests.bench.longbook import make_long_book

    for jobs, entries in ((1, 100),) if run.small else ((2, 1_000), (20, 10_000), (200, 100_000)):
        home = folder / f"grows {entries}"
        home.mkdir(mode=0o700)
        made = make_long_book(home / "book.sqlite3", jobs, entries)
        ms = _whole_ms(run.ours, home, ("now", "--json"), run.small)
        yield made, Row(f"now, {made:,} entries in many jobs", Figure(ms), COLD)


def _whole_ms(tree: Tree, home: Path, words: Sequence[str], small: bool) -> float:
    """The median of five runs of a whole command; what takes longer than patience is run once."""
    once_ms = tree.command_ms(home, *words)
    if small or once_ms > PATIENCE_MS:
        return once_ms
    return median(tree.command_ms(home, *words) for _ in range(5))


def _long_books(run: Run, folder: Path) -> tuple[Path, Path]:
    from tests.bench.longbook import make_long_book

    if run.long_book is not None:
        return run.long_book / "many", run.long_book / "one"
    sizes = ((3, 300), (1, 100)) if run.small else ((2000, 1_000_000), (1, 100_000))
    homes = folder / "many", folder / "one"
    for home, (jobs, entries) in zip(homes, sizes, strict=True):
        home.mkdir(mode=0o700)
        make_long_book(home / "book.sqlite3", jobs, entries)
    return homes


def _entries_growth(run: Run) -> Iterator[Row]:
    if run.small:
        return
    for entries in (1_000, 10_000):
        ours, before = _figures(run, "tick", 10, entries, 100, 30)
        yield _row(f"one look, 10 live batches, {entries:,} entries, nobody called", "idle", ours, before,
                   "a daemon that has run for 5 looks", Goal(most=1.0))  # fmt: skip


def clocks(run: Run) -> Iterator[Row]:
    """The physics, asked what it never was asked before."""
    ours, before = _figures(run, "window_clock", 600, 8 if run.small else 40)
    yield Row("window clock, 600 readings never seen, error 1e-8; no numpy in it", Figure(ours.get("ours", math.nan)),
              "scipy loaded; each history is new", Goal(least_ratio=100.0), Figure(ours.get("scipy", math.nan)),
              Figure(before["ours"]) if before else None, faster_counts=True)  # fmt: skip
    ours, before = _figures(run, "bucket_edges", 3 if run.small else 9)
    for key, said, warm in (("plain", "without numpy", ""), ("ours", "with numpy", "numpy loaded; ")):
        yield Row(f"early, likely, late of a new bucket, calibration too, {said}", Figure(ours.get(key, math.nan)),
                  f"{warm}each sheet and bucket is new", Goal(most=40.0, least_ratio=20.0),
                  Figure(ours.get("stiff", math.nan)), Figure(before[key]) if key in before else None,
                  faster_counts=True)  # fmt: skip
    ours, before = _figures(run, "five_windows", 3 if run.small else 9)
    yield _row("every window of five batches, none asked before", "ours", ours, before, "calibrated")


def plan(run: Run) -> Iterator[Row]:
    """The plan of a hall, as `plan` makes it by default."""
    for areas, most_s in ((5, 2.0),) if run.small else ((40, 2.0), (200, 6.0)):
        ours, before = _figures(run, "plan", areas)
        yield _row(f"plan of {areas} areas for two people, with its chance", "s", ours, before, "modules loaded",
                   Goal(most=most_s), unit="s")  # fmt: skip


def record(run: Run) -> Iterator[Row]:
    """The record of a long job."""
    for batches in (30,) if run.small else (30, 1000):
        ours, before = _figures(run, "record", batches)
        goal_s, goal_mb = (Goal(most=2.0), Goal(most=4.0)) if batches == 1000 else (TOLD, TOLD)
        warm = "the log is folded; windows are reckoned in it"
        yield _row(f"record of {batches:,} batches, the page", "page_s", ours, before, warm, goal_s, unit="s")
        yield _row(f"record of {batches:,} batches, its size", "mb", ours, before, warm, goal_mb, unit="MB")


def phones(run: Run) -> Iterator[Row]:
    """From a touch on one phone to the other's glass."""
    from tests.bench.phones import measure, percentile

    found = measure(4 if run.small else 200)
    for share in (0.5, 0.95):
        goal = Goal(most=150.0, most_ratio=2.0) if share == 0.95 else TOLD
        ours, echo = percentile(found.touches_ms, share), percentile(found.echoes_ms, share)
        yield Row(f"one phone → drawn on the other, p{100 * share:.0f} of {len(found.touches_ms)}", Figure(ours),
                  "both pages open", goal, Figure(echo))  # fmt: skip
        yield Row(f"one phone → the next time on the other's card, p{100 * share:.0f} of {len(found.followed_ms)}",
                  Figure(percentile(found.followed_ms, share)), "both pages open", TOLD, Figure(echo))  # fmt: skip


def idle(run: Run) -> Iterator[Row]:
    """A quiet minute of the daemon with its board and three phones."""
    from tests.bench.footprint import quiet_minute

    span_s = 1.0 if run.small else 60.0
    ours, bare = quiet_minute(run.ours, span_s, bare=False), quiet_minute(run.ours, span_s / 3, bare=True)
    before = quiet_minute(run.before, span_s / 3, bare=False) if run.before else {}
    said, warm = f"idle {span_s:.0f} s, board and three phones", "bytecode, phones paired, streams open"
    yield _row(f"{said}: memory", "mb", ours, before, warm, Goal(most_ratio=1.5), unit="MB", peer=bare["mb"])
    yield _row(f"{said}: processor", "cpu_pct", ours, before, warm, Goal(most=0.3), unit="%", peer=bare["cpu_pct"])
    yield _row(f"{said}: views sent though nothing changed", "views", ours, before, warm, Goal(most=0.0), unit="")
    yield _row(f"{said}: sent to a phone", "bytes_s", ours, before, warm, unit="B/s", peer=bare["bytes_s"])


def install(run: Run) -> Iterator[Row]:
    """The base set into a fresh environment, wheels from the registry or its cache."""
    if run.small:
        return
    with TemporaryDirectory() as made:
        venv = Path(made) / "venv"
        as_a_user = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
        process_ms([sys.executable, "-m", "venv", str(venv)], as_a_user)
        before_mb = _size_mb(venv)
        took_ms = process_ms([str(venv / "bin/pip"), "install", "-q", str(run.ours.root)], as_a_user, longest_s=300.0)
        warm = "pip's cache as it is"
        yield Row("install, base set", Figure(took_ms / 1000, "s"), warm, Goal(most=60.0))
        yield Row("install, base set: size", Figure(_size_mb(venv) - before_mb, "MB"), warm, Goal(most=100.0))


def _size_mb(folder: Path) -> float:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file() and not path.is_symlink()) / 1e6


# short ones first: what the table's minutes do not reach is then the long book, and not the rest of the table
BLOCKS: Mapping[str, Callable[[Run], Iterator[Row]]] = {
    each.__name__: each for each in (start, clocks, plan, record, tick, idle, phones, install, bus, longbook)
}
