"""How long plans take: `python tests/bench/plan.py`. 40 areas within 2 s, 200 within 20 s, 10,000 days within 2 s."""

from __future__ import annotations

import sys
import time
from datetime import time as clock
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "decide" / "plan"))

from floors import DAYS, PRODUCT, bench, minutes, row_of

from mixclock.decide.plan.chance import chance_of
from mixclock.decide.plan.planning import make_plan
from mixclock.decide.plan.schedule import Ways
from mixclock.job.site import Coat, Hours, Person, Site, Vessel

CLOSING = minutes(pour_out=15.0, back_roll=55.0, wet_edge=60.0, broadcast=75.0)


def hall(count: int) -> Site:
    """A long hall of small bays for two people, to be done in one day without a cold joint."""
    sizes = [2.0 + 0.1 * (number % 7) if count > 100 else 5.0 + 0.3 * (number % 5) for number in range(count)]
    crew = tuple(Person(name, (), 110.0, 75.0, 60.0, 35.0) for name in ("mixer", "roller"))
    coat = Coat("base", PRODUCT, 300.0, flake_kg_m2=0.4, kit_l=9.0, split=True)
    pails = (Vessel("pail", 12.0), Vessel("second pail", 12.0))
    hours = Hours(DAYS, clock(6), clock(23))
    return Site("Long hall", "UTC", row_of(sizes, [0.6 if count > 100 else 1.5] * count), (coat,), crew, pails, hours)


def main() -> None:
    """Print what each takes."""
    for count, limit_s in ((40, 2.0), (200, 20.0)):
        told: list[str] = []
        began = time.perf_counter()
        plan = make_plan(bench(hall(count), CLOSING), Ways(progress=lambda what, _, told=told: told.append(what)))
        took = time.perf_counter() - began
        state = plan.obstacle.said if plan.obstacle else f"{len(plan.batches)} batches, done {plan.finish:%H:%M}"
        print(
            f"{count:4d} areas: {took:6.2f} s (limit {limit_s:g}), progress told {len(told)} times; {state}", flush=True
        )
        if count == 40 and plan.feasible:
            began = time.perf_counter()
            found = chance_of(plan, bench(hall(count), CLOSING))
            print(
                f"{found.days} days: {time.perf_counter() - began:6.2f} s (limit 2), holds {found.holds:.1%}",
                flush=True,
            )


if __name__ == "__main__":
    main()
