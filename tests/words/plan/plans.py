"""A small plan written down by hand: two buckets of base, one of top, a mixer and a roller in a pottery studio."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from mixclock.decide.plan.floor.plans import (
    Chance,
    FloorPiece,
    FreeingChange,
    Obstacle,
    Plan,
    PlannedBatch,
    PlannedStep,
    PlannedWindow,
)
from mixclock.decide.plan.floor.takeoff import take_off
from mixclock.job.profile import Dilution, Family, MixRule, Profile
from mixclock.job.site import Area, Coat, Person, Site
from mixclock.words.plan import PlanSheet

BASE = Profile(
    "Slow base", Family.EPOXY, "invented", MixRule((2.0, 1.0), None, (1.13, 0.98), 180.0), cautions=("Own caution.",)
)
TOP = Profile("Fast top", Family.POLYASPARTIC, "invented", MixRule((1.0, 1.0), None, (1.05, 1.11), 60.0))
ETCH = Profile("Etch", Family.ACID_ETCH, "invented", MixRule(density_kg_l=(1.16,)), dilution=Dilution(3.0, 1.5, 31.0))
SHELF = {profile.name.casefold(): profile for profile in (BASE, TOP, ETCH)}
SITE = Site(
    "Pottery <studio>",
    "Europe/Lisbon",
    (Area("bay 1", 10.0, next_to=("bay 2",)), Area("bay 2", 12.0, next_to=("bay 1",))),
    (
        Coat("base", "Slow base", wet_film_um=300.0, flake_kg_m2=0.4, flake_size="1/4 in", kit_l=9.0, split=True,
             price=95.0, waste=0.05),
        Coat("top", "Fast top", wet_film_um=125.0, after="base", waste=0.05),
    ),
    (Person("mixer"), Person("roller")),
    currency="EUR",
)  # fmt: skip
EIGHT = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)
"""Eight o'clock on the studio's wall."""


def at(minutes: float) -> datetime:
    """Minutes after eight on the wall."""
    return EIGHT + timedelta(minutes=minutes)


def piece(area: str) -> FloorPiece:
    return FloorPiece(area, {"bay 1": 10.0, "bay 2": 12.0}[area], 9.0)


def batch(number: int, coat: Coat, area: str, mixed: float, **windows: tuple[float, float | None, float | None]) -> (
    PlannedBatch
):  # fmt: skip
    """A batch of exactly the coat's film; windows are given as start, open and close in minutes."""
    needed_l = piece(area).size_m2 * (coat.wet_film_um or 0.0) / 1000.0 / 0.95
    a, b = (2 / 3, 1 / 3) if coat.name == "base" else (0.5, 0.5)
    kg = (1.13, 0.98) if coat.name == "base" else (1.05, 1.11)
    told = tuple(
        PlannedWindow(
            name.replace("_", "-"),
            number,
            at(starts),
            None if opens is None else at(opens),
            None if closes is None else at(closes),
        )
        for name, (starts, opens, closes) in windows.items()
    )
    out = next((window.closes for window in told if window.name == "pour-out"), None)
    return PlannedBatch(
        number, coat.name, coat.product, (piece(area),), needed_l, needed_l * 1.08, needed_l,
        needed_l / 9.0 if coat.kit_l else None, needed_l * a, needed_l * b, needed_l * a * kg[0], needed_l * b * kg[1],
        at(mixed), at(mixed + 4), out, "pail", "what is left of the floor", told,
        piece(area).size_m2 * 0.6 if coat.flake_kg_m2 else 0.0,
    )  # fmt: skip


def step(
    kind: str,
    who: str,
    starts: float,
    ends: float,
    number: int | None,
    area: str,
    window: str | None = None,
    by: float | None = None,
    coat: str = "base",
    note: str = "",
) -> PlannedStep:
    """A step in minutes; its slack is to its end."""
    due = None if by is None else at(by)
    slack_s = None if by is None else (by - ends) * 60.0
    return PlannedStep(kind, who, at(starts), at(ends), coat, number, (area,), window, due, slack_s, note)


DAY = 24 * 60.0
BASE_COAT, TOP_COAT = SITE.coats
BATCHES = (
    batch(1, BASE_COAT, "bay 1", 3, pour_out=(3, None, 21), induction=(6, 16, None), back_roll=(7, None, 45),
          wet_edge=(7, None, 50), broadcast=(7, None, 60), recoat=(7, 1000, 2000)),
    batch(2, BASE_COAT, "bay 2", 20, pour_out=(20, None, 38), back_roll=(24, None, 62), broadcast=(24, None, 75),
          recoat=(24, 1010, 2020)),
    batch(3, TOP_COAT, "bay 1", DAY, pour_out=(DAY, None, DAY + 50)),
)  # fmt: skip
STEPS = (
    step("measure", "mixer", 0, 3, 1, "bay 1"),
    step("mix", "mixer", 3, 6, 1, "bay 1"),
    step("pour", "mixer", 6, 7, 1, "bay 1", "pour-out", 21),
    step("squeegee", "mixer", 7, 13, 1, "bay 1"),
    step("roll", "roller", 14, 22, 1, "bay 1", "back-roll", 45),
    step("mix", "mixer", 20, 23, 2, "bay 2"),
    step("broadcast", "roller", 22, 32, 1, "bay 1", "broadcast", 60, note="leave 40 cm unflaked at the joint to bay 2"),
    step("pour", "mixer", 23, 24, 2, "bay 2", "pour-out", 38),
    replace(step("squeegee", "mixer", 24, 31, 2, "bay 2", "wet-edge", 50), slack_s=26 * 60.0),
    step("roll", "roller", 32, 42, 2, "bay 2", "back-roll", 62),
    step("broadcast", "roller", 42, 54, 2, "bay 2", "broadcast", 75),
    step("clean", "mixer", 31, 41, None, ""),
    step("mix", "mixer", DAY, DAY + 1, 3, "bay 1", coat="top"),
    step("pour", "mixer", DAY + 3, DAY + 4, 3, "bay 1", "pour-out", DAY + 50, coat="top"),
)
PLAN = Plan(
    "Pottery <studio>",
    EIGHT,
    BATCHES,
    STEPS,
    assumed=("a bucket is poured out in a minute (judgement)",),
    chance=Chance(10_000, 0.934, (("batch 2, bay 2: roll", 0.04), ("batch 1, bay 1: pour", 0.02)), 1),
)
NO_PLAN = replace(
    PLAN,
    batches=(),
    steps=(),
    chance=None,
    obstacle=Obstacle("back-roll", "base on bay 2: this crew can't roll it before it stops levelling", "base", "bay 2"),
    changes=(
        FreeingChange("another person", "one more person who rolls", at(120), 2),
        FreeingChange("smaller batch", "batches of at most 2 L", at(150), 3),
    ),
)


def sheet(plan: Plan = PLAN, site: Site = SITE) -> PlanSheet:
    """What is told of a plan."""
    return PlanSheet(plan, site, SHELF, take_off(site, SHELF, plan.batches))


def etch_sheet() -> PlanSheet:
    """A floor that is only etched: one bucket of solution."""
    coat = Coat("etch", "Etch", spread_m2_l=1.5, waste=0.0)
    site = replace(SITE, coats=(coat,))
    pieces = (piece("bay 1"), piece("bay 2"))
    solution_l = 22.0 / 1.5
    mass_kg = solution_l / 4 * 1.16 + solution_l * 0.75 * 0.998
    etch = PlannedBatch(
        1, "etch", "Etch", pieces, solution_l, mass_kg, solution_l, None, None, None, None, None, at(3), at(6), None,
        "pail", "the floor: one batch does it",
    )  # fmt: skip
    plan = Plan("Pottery <studio>", EIGHT, (etch,), (step("mix", "mixer", 3, 6, 1, "bay 1", coat="etch"),))
    return sheet(plan, site)
