"""How long plans take, and what memory: `python -m tests.bench.plan`; `--beside COMMIT` prints each row by an earlier
commit too, in the same run. 40 areas within 2 s, 200 within 6 s, 10,000 days within 2 s, what does not fit within 10 s,
all of it within 150 MB.

First with clocks that stand still, then with those of the real sheets, where a window depends on its hour and on what
the bucket holds: as from the terminal, without starting Python. The soonest plan is one search, the one that the
terminal gives by default several, with ten thousand days each. Time is told by the wall and by the processor: on a busy
machine only the second says anything.
"""

from __future__ import annotations

import os
import random
import resource
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from datetime import time as clock

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.plan.days.bench import Bench
from mixclock.decide.plan.days.planner import make_plan
from mixclock.decide.plan.floor.meter import Meter
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.sheettiming import GRID_S, SheetTiming, blank_standing
from mixclock.decide.plan.judge.explanation import explain
from mixclock.decide.plan.judge.foreman import foreman_plan, on_days
from mixclock.decide.plan.search.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel
from mixclock.outside.memory import tidied_seldom
from mixclock.outside.profilefiles import find
from tests.bench.trees import trees
from tests.decide.plan.chances import chance_of
from tests.decide.plan.floors import BEGINS, DAYS, PRODUCT, bench, minutes, row_of

CLOSING = minutes(pour_out=15.0, back_roll=55.0, wet_edge=60.0, broadcast=75.0)
CREW = tuple(Person(name, (), 110.0, 75.0, 60.0, 35.0) for name in ("mixer", "roller"))
RATES = ((110.0, 75.0, 60.0, 35.0), (95.0, 66.0, 55.0, 30.0), (125.0, 85.0, 68.0, 42.0))
BASE = Coat("base", PRODUCT, 300.0, flake_kg_m2=0.4, kit_l=9.0, split=True)
TOP = Coat("top", "Polyaspartic top coat", 200.0, after="base", kit_l=6.0, split=True)


def hall(count: int, days: tuple[date, ...] = DAYS, coats: tuple[Coat, ...] = (BASE,), until_h: int = 23) -> Site:
    """A long hall of small bays for two people, to be done without a cold joint."""
    sizes = [2.0 + 0.1 * (number % 7) if count > 100 else 5.0 + 0.3 * (number % 5) for number in range(count)]
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    hours = Hours(days, clock(6), clock(until_h))
    return Site("Long hall", "UTC", row_of(sizes, [0.6 if count > 100 else 1.5] * count), coats, CREW, pails, hours)


def uneven_bays(coats: tuple[Coat, ...] = (BASE,)) -> Site:
    """Eight bays of four to fifteen square metres for three people who can do anything."""
    return _uneven((6.0, 14.5, 4.2, 11.0, 8.3, 15.0, 5.1, 9.7), 3.0, 3, coats)


def uneven_hall(people: int, coats: tuple[Coat, ...] = (BASE,)) -> Site:
    """Forty areas of two to six square metres, in no order."""
    draw = random.Random(3)
    return _uneven([round(draw.uniform(2.0, 6.0), 1) for _ in range(40)], 1.5, people, coats)


def strip_bays() -> Site:
    """Four bays whose top coat is gone before a bay is laid whole: its buckets go down in strips."""
    base = Coat("base", PRODUCT, 300.0, flake_kg_m2=0.4, kit_l=9.0, split=True)
    top = Coat("top", "Polyaspartic top coat", 125.0, after="base", kit_l=6.0, split=True)
    return replace(_uneven((12.0, 14.0, 11.0, 13.0), 3.0, 2, (base, top)), crew=CREW)


def _uneven(sizes: Sequence[float], edge_m: float, people: int, coats: tuple[Coat, ...]) -> Site:
    crew = tuple(Person(name, (), *rates) for name, rates in zip(("one", "two", "three"), RATES, strict=True))
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    areas = row_of(sizes, [edge_m] * len(sizes))
    return Site("Shed", "UTC", areas, coats, crew[:people], pails, Hours(DAYS, clock(6), clock(20)))


def solver_said() -> str:
    """Whether OR-tools is in this process."""
    return "loaded" if "ortools" in sys.modules else "not installed"


def by_the_sheets(site: Site, meter: Meter | None = None) -> Bench:
    """The bench as the terminal puts it together."""
    profiles = {coat.product.casefold(): find(coat.product).profile for coat in site.coats}
    standing = replace(blank_standing(site, {}), profiles=profiles)
    model, meter = bucket_model(), meter or Meter()
    timing, exact = (SheetTiming(standing, model, grid_s, meter) for grid_s in (GRID_S, 0))
    return Bench(site, profiles, timing, exact, timing, BEGINS)


def timed(said: str, limit_s: float | None, make: Callable[[Ways], Plan]) -> Plan:
    """Make a plan and print how long it took."""
    told: list[str] = []
    began, working = time.perf_counter(), time.process_time()
    with tidied_seldom():  # as the terminal does
        plan = make(Ways(progress=lambda what, _: told.append(what)))
    took, worked = time.perf_counter() - began, time.process_time() - working
    done = f"{len(plan.batches)} batches, done {plan.finish:%a %H:%M}" if plan.finish else ""
    state = plan.obstacle.said if plan.obstacle else done
    limit = f"limit {limit_s:g}" if limit_s else "no limit stated"
    print(
        f"{said:52s} {took:6.2f} s, processor {worked:5.2f} s ({limit}), progress told {len(told)} times; {state}",
        flush=True,
    )
    for change in plan.changes:
        print(f"{'':52s}    to make it fit: {change.said}", flush=True)
    return plan


def chanced(plan: Plan, at: Bench) -> None:
    """Live through ten thousand days and print how long that took."""
    began = time.perf_counter()
    found = chance_of(plan, at)
    print(
        f"{f'{found.days} days':52s} {time.perf_counter() - began:6.2f} s (limit 2), holds {found.holds:.1%}",
        flush=True,
    )


def still(count: int) -> None:
    """Clocks that stand still."""
    at = bench(hall(count), CLOSING)
    said = f"{count} areas, 2 people, clocks that stand still"
    plan = timed(said, SOON[count], lambda ways: make_plan(at, ways))
    if count == 40 and plan.feasible:
        chanced(plan, at)


def sheets(count: int) -> None:
    """The soonest plan by the sheets."""
    at = by_the_sheets(hall(count))
    plan = timed(f"{count} areas, 2 people, by the sheets", SOON[count], lambda ways: make_plan(at, ways))
    if count == 40 and plan.feasible:
        chanced(plan, at)


def by_default(said: str, limit_s: float, site: Site) -> None:
    """The plan that the terminal gives, with its chance."""
    at = by_the_sheets(site)
    timed(f"{said}, by default", limit_s, lambda ways: foreman_plan(at, ways))


def freed(said: str, limit_s: float, site: Site) -> None:
    """A plan, and what would free it where it does not fit."""

    def answer(ways: Ways) -> Plan:
        at = by_the_sheets(site, ways.meter)
        return explain(at, make_plan(at, ways), ways)

    timed(said, limit_s, answer)


def five() -> None:
    """Two coats on a small floor."""
    at = by_the_sheets(hall(5, coats=(BASE, TOP)))
    timed("5 areas, base and top coat, by default", 2.0, lambda ways: foreman_plan(at, ways))
    timed("5 areas, base and top coat, by the sheets", None, lambda ways: make_plan(at, ways))
    timed("the same, to hold on 80 % of days", None, lambda ways: foreman_plan(at, ways, wanted=on_days(0.8)))


SOON = {40: 2.0, 200: 6.0}
BOTH = (BASE, TOP)
ROWS: tuple[Callable[[], None], ...] = (
    lambda: still(40),
    lambda: still(200),
    lambda: sheets(40),
    lambda: sheets(200),
    lambda: by_default("40 areas", 2.0, hall(40)),
    lambda: by_default("200 areas", 6.0, hall(200)),
    lambda: by_default("8 uneven bays, three people", 2.0, uneven_bays()),
    lambda: by_default("8 uneven bays, three people, base and top coat", 2.0, uneven_bays(BOTH)),
    lambda: by_default("40 uneven areas, three people", 2.0, uneven_hall(3)),
    lambda: freed("40 uneven areas, two people, base and top coat", 2.0, uneven_hall(2, BOTH)),
    lambda: by_default("200 areas, base and top coat", 6.0, hall(200, coats=BOTH)),
    lambda: by_default("4 bays, base and a top coat in strips", 6.0, strip_bays()),
    five,
    lambda: freed("40 areas, base and top coat", 2.0, hall(40, coats=BOTH)),
    lambda: freed("40 areas in three hours: what would free it", 10.0, hall(40, DAYS[:1], until_h=9)),
    lambda: freed(
        "200 areas, base and top coat, in six hours: what would free it",
        10.0,
        hall(200, DAYS[:1], coats=BOTH, until_h=12),
    ),
)


def most_memory() -> None:
    """What this process took at the most."""
    most_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'':52s} most memory {most_mb:.0f} MB (limit 150), the solver {solver_said()}", flush=True)


def beside(commit: str) -> None:
    """Each row in a process of its own, by an earlier commit and by this tree, one after the other."""
    with trees(commit) as (ours, before):
        for number in range(len(ROWS)):
            for said, tree in ((commit, before), ("this tree", ours)):
                if tree is not None:
                    print(f"-- {said}, load {os.getloadavg()[0]:.1f}", flush=True)
                    asked = [sys.executable, "-m", "tests.bench.plan", "--row", str(number)]
                    subprocess.run(asked, env=tree.env(), cwd=tree.root, check=False)


def main() -> None:
    """Print what each takes."""
    if "--beside" in sys.argv:
        beside(sys.argv[sys.argv.index("--beside") + 1])
        return
    for row in ROWS[int(sys.argv[-1]) :][:1] if "--row" in sys.argv else ROWS:
        row()
    most_memory()


if __name__ == "__main__":
    main()
