"""Jobs with one planted cause each: what is done wrong, how badly, and how the floor then looks.

This generator shares clocks, limits and words with the diagnosis, so it is kept as a regression only: it finds what
breaks, and proves nothing. The other areas are found sound; facts that no figure holds are ticked.

Symptoms and strengths follow the trade's own accounts of defects, not mixclock's table: a mild fault is just past
what the material allows, a clear one well past it, a gross one far past it.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass

from mixclock.job.entry import Entry
from tests.decide.why.planted_day import Bay, Day

STRENGTHS = ("mild", "clear", "gross")

EPOXY, WATER, TOP = "Slow epoxy base", "Waterborne epoxy primer", "Aliphatic polyurethane top coat"


@dataclass(frozen=True)
class Planted:
    """One made-up job and what was done wrong in it."""

    cause: str | None
    strength: str
    seed: int
    area: str
    symptom: str
    shape: str | None
    entries: tuple[Entry, ...]
    unrecorded: str | None = None


@dataclass(frozen=True)
class Plant:
    """How a cause is planted: on which coats, with which symptoms and shapes, and which statements decide it.

    `forgotten` are the statements that are left out when the deciding fact is to go unrecorded, and `fact` are words of
    which one must then be named.
    """

    cause: str
    coats: tuple[tuple[str, ...], ...]
    symptoms: tuple[str, ...]
    shapes: tuple[str, ...]
    decides: tuple[str, ...]
    fact: tuple[str, ...]
    harm: Callable[[Day, Bay, int], None]
    slab_c: tuple[float, float] | None = None
    dew_gap_k: tuple[float, float] | None = None
    top: bool = False


def _by(*levels: float) -> Callable[[int], float]:
    return lambda strength: levels[strength]


def _blush(day: Day, bay: Bay, strength: int) -> None:
    if day.rng.random() < 0.25:
        bay.notes.append((1200.0, "heater: fuel"))
        return
    bay.slab_offset_k = _to_margin(day, _by(2.1, 1.3, 0.6)(strength))


def _condensation(day: Day, bay: Bay, strength: int) -> None:
    bay.slab_offset_k = _to_margin(day, _by(-0.4, -1.3, -2.5)(strength))


def _to_margin(day: Day, wanted_k: float) -> float:
    """The offset of the slab at which the lowest margin of a day is the wanted one."""
    return wanted_k - (day.slab_base_c - 0.5 - day.dew_c)


def _cold(day: Day, bay: Bay, strength: int) -> None:
    bay.slab_offset_k = 10.0 - _by(1.2, 3.0, 5.0)(strength) - day.slab_base_c


def _old_batch(day: Day, bay: Bay, strength: int) -> None:
    bay.bucket_target = _by(1.15, 1.45, 1.9)(strength)


def _late_roll(day: Day, bay: Bay, strength: int) -> None:
    bay.roll_target = _by(1.15, 1.45, 1.9)(strength)


def _late_flake(day: Day, bay: Bay, strength: int) -> None:
    bay.flake_target = _by(1.15, 1.45, 1.9)(strength)


def _lap(day: Day, bay: Bay, strength: int) -> None:
    bay.joint_target = _by(1.15, 1.45, 1.9)(strength)


def _thin(day: Day, bay: Bay, strength: int) -> None:
    bay.film_share = _by(0.72, 0.62, 0.48)(strength)


def _thick(day: Day, bay: Bay, strength: int) -> None:
    bay.film_share = _by(1.6, 1.95, 2.6)(strength)


def _ratio(day: Day, bay: Bay, strength: int) -> None:
    bay.ratio_off = day.rng.choice([1.0, -1.0]) * _by(0.085, 0.15, 0.28)(strength)


def _mixing(day: Day, bay: Bay, strength: int) -> None:
    bay.mixing_share = _by(0.75, 0.55, 0.33)(strength)


def _induction(day: Day, bay: Bay, strength: int) -> None:
    bay.stand_share = _by(0.72, 0.45, 0.1)(strength)


def _rising(day: Day, bay: Bay, strength: int) -> None:
    bay.slab_rise_k = _by(2.3, 4.0, 7.0)(strength)


def _early_recoat(day: Day, bay: Bay, strength: int) -> None:
    bay.top_opens_target = _by(0.82, 0.62, 0.4)(strength)


def _late_recoat(day: Day, bay: Bay, strength: int) -> None:
    bay.top_closes_target = _by(1.2, 1.6, 2.4)(strength)


def _traffic(day: Day, bay: Bay, strength: int) -> None:
    bay.traffic_target = _by(0.7, 0.5, 0.25)(strength)


def _lot(day: Day, bay: Bay, strength: int) -> None:
    bay.lot = "L-57"
    if strength == 2:
        bay.notes.append((-3600.0, "pails: expired"))


def _scraped(day: Day, bay: Bay, strength: int) -> None:
    bay.notes.append(
        (
            600.0,
            ("bucket: dripped", "bucket: scraped out", "bucket: upended")[strength],
        )
    )


def _thirsty(day: Day, bay: Bay, strength: int) -> None:
    bay.drunk_share = _by(0.2, 0.28, 0.4)(strength)
    bay.gauge = True
    if strength == 2:
        bay.notes.append((900.0, "soaked in: yes"))


def _prep(day: Day, bay: Bay, strength: int) -> None:
    kind = day.rng.randrange(3)
    if kind == 0:
        bay.ph = _by(9.9, 10.8, 12.0)(strength)
    elif kind == 1:
        bay.moisture_pct = _by(4.6, 5.3, 6.5)(strength)
    else:
        bay.notes.append((-4000.0, ("contamination: dust", "contamination: oil", "contamination: grease")[strength]))


def _airflow(day: Day, bay: Bay, strength: int) -> None:
    bay.notes.append((1500.0, "doors: shut"))


def _unstirred(day: Day, bay: Bay, strength: int) -> None:
    bay.notes.append(
        (
            -1800.0,
            "stirred: no",
        )
    )


def _after(day: Day, bay: Bay, strength: int) -> None:
    days = 86400.0
    text = ("cleaner: acid", "cleaner: bleach", "cleaner: degreaser")
    bay.notes.append((6 * days, text[strength]))


ONE = ((EPOXY,), (WATER,))
PLANTS = (
    Plant(
        "amine blush",
        ((EPOXY,), (WATER,)),
        ("greasy film", "greasy film", "dull"),
        ("door", "shade"),
        (),
        ("slab, air and humidity", "humidity", "heater"),
        _blush,
    ),
    Plant(
        "condensation", ONE, ("dull", "greasy film"), ("door", "shade"), (), ("slab, air and humidity",), _condensation
    ),
    Plant(
        "cold cure",
        ((EPOXY,),),
        ("soft", "tacky"),
        ("shade", "all-over"),
        (),
        ("slab temperature",),
        _cold,
        slab_c=(13.0, 14.0),
        dew_gap_k=(14.0, 15.0),
    ),
    Plant(
        "old batch",
        ((WATER,), (WATER,), (EPOXY,)),
        ("dull", "roller marks"),
        ("batch-edge",),
        ("poured",),
        ("was poured",),
        _old_batch,
    ),
    Plant(
        "late back-roll",
        ONE,
        ("roller marks", "squeegee lines", "spike marks"),
        ("all-over",),
        ("poured", "rolled"),
        ("was rolled", "was poured"),
        _late_roll,
    ),
    Plant(
        "late broadcast",
        ((EPOXY,),),
        ("loose flake",),
        ("all-over",),
        ("poured", "flaked"),
        ("was flaked", "was poured"),
        _late_flake,
    ),
    Plant("lap joint", ONE, ("lap line",), ("batch-edge",), ("poured",), ("was poured",), _lap),
    Plant("thin film", ONE, ("dull", "holiday"), ("batch-edge", "all-over"), ("film",), ("wet film",), _thin),
    Plant("thick film", ONE, ("bubbles",), ("batch-edge", "all-over"), ("film",), ("wet film",), _thick),
    Plant("off ratio", ONE, ("soft", "tacky"), ("batch-edge",), ("ratio",), ("how much A and how much B",), _ratio),
    Plant("short mixing", ONE, ("soft", "tacky"), ("batch-edge",), ("mixing",), ("was mixed",), _mixing),
    Plant(
        "no induction",
        ((WATER,),),
        ("greasy film", "dull"),
        ("batch-edge",),
        ("poured", "mixing"),
        ("stood before",),
        _induction,
    ),
    Plant(
        "rising slab",
        ((EPOXY,),),
        ("pinholes", "bubbles"),
        ("all-over",),
        (),
        ("slab temperature",),
        _rising,
        dew_gap_k=(7.0, 9.0),
    ),
    Plant(
        "early recoat",
        ((EPOXY, TOP),),
        ("soft", "bubbles"),
        ("all-over",),
        ("poured",),
        ("was poured",),
        _early_recoat,
        top=True,
    ),
    Plant(
        "late recoat",
        ((EPOXY, TOP),),
        ("peeling",),
        ("all-over",),
        ("poured",),
        ("was poured",),
        _late_recoat,
        top=True,
    ),
    Plant(
        "early traffic",
        ((EPOXY, TOP), (EPOXY,)),
        ("hot-tyre pick-up",),
        ("door",),
        ("traffic",),
        ("first used",),
        _traffic,
        top=True,
    ),
    Plant("different lot", ONE, ("soft", "tacky", "dull"), ("batch-edge",), ("lot",), ("the lot of",), _lot),
    Plant("scraped bucket", ONE, ("soft", "tacky"), ("drips",), (), ("scraped",), _scraped),
    Plant(
        "thirsty slab",
        ((EPOXY,),),
        ("dull", "pinholes"),
        ("all-over",),
        ("gauge", "film"),
        ("primed", "wet film"),
        _thirsty,
    ),
    Plant(
        "prep left behind",
        ((EPOXY,),),
        ("peeling", "fisheyes"),
        ("all-over",),
        ("ph", "moisture"),
        ("pH", "moisture", "wiped"),
        _prep,
    ),
    Plant("poor airflow", ((WATER,),), ("soft", "dull"), ("all-over",), (), ("doors and vents",), _airflow),
    Plant("unstirred pail", ONE, ("dull",), ("batch-edge",), (), ("stirred",), _unstirred),
    Plant(
        "after the job", ONE, ("dull", "yellowed"), ("door",), ("traffic",), ("cleaner", "first used", "sun"), _after
    ),
)

NOTED = frozenset({"scraped bucket", "poor airflow", "unstirred pail", "after the job"})
"""Causes that only a note can show."""

TIES = (
    frozenset({"amine blush", "condensation"}),
    frozenset({"thin film", "thirsty slab"}),
    frozenset({"early traffic", "after the job"}),
)
"""Causes that share the deciding quantity."""

ALL_SYMPTOMS = tuple(sorted({symptom for plant in PLANTS for symptom in plant.symptoms}))

UNLISTED = (
    (("yellowed", "soft"), "rubber mat laid down by the potter"),
    (("dull", "bubbles"), "roof leaked over it in the storm"),
    (("roller marks", "holiday"), "cat walked through"),
    (("fisheyes", "dull"), "new roller sleeve shed lint"),
    (("peeling", "soft"), "kiln moved across it"),
    (("dull", "holiday"), None),
)
"""Things that go wrong and that no table holds."""


def plant_job(plant: Plant, strength: str, seed: int, forget: bool = False) -> Planted:
    """A job with this cause planted on one bay; `forget` leaves its deciding statements out."""
    rng = random.Random(f"{plant.cause} {strength} {seed} {forget}")
    level = STRENGTHS.index(strength)
    coats = plant.coats[seed % len(plant.coats)]
    day = Day(
        rng.randrange(2**40),
        coats,
        slab_c=rng.uniform(*plant.slab_c) if plant.slab_c else None,
        dew_gap_k=rng.uniform(*plant.dew_gap_k) if plant.dew_gap_k else None,
        top_laid=len(coats) > 1,
    )
    first = 1 if plant.cause == "lap joint" else 0
    bay = day.floor[rng.randrange(first, len(day.floor))]
    _recorded(day, bay, plant, forget)
    _decoys(day, bay, plant.cause)
    plant.harm(day, bay, level)
    if forget:
        _forget(day, bay)
    day.run()
    symptom = rng.choice(plant.symptoms)
    shape = rng.choice(plant.shapes) if rng.random() < 0.5 and not forget else None
    entries = day.entries(bay, symptom, shape)
    return Planted(plant.cause, strength, seed, bay.name, symptom, shape, entries, plant.cause if forget else None)


def _decoys(day: Day, bad: Bay, spared: str | None) -> None:
    """What real jobs have besides: near misses on the bad bay, small excursions on healthy ones that did no harm.

    A fuel heater is a listed cause: where nothing is planted none is lit.
    """
    rng = day.rng
    near = {"bucket_target": 0.85, "roll_target": 0.85, "flake_target": 0.85, "mixing_share": 0.97, "film_share": 0.88}
    if rng.random() < 0.4:
        name = rng.choice(sorted(near))
        setattr(bad, name, near[name])
    for bay in day.floor:
        if bay is not bad and rng.random() < 0.15:
            harm = rng.choice([_old_batch, _late_roll, _mixing, _thin, _ratio, _traffic])
            harm(day, bay, 0)
    if rng.random() < 0.3 and spared != "amine blush":
        lit = "kerosene heater lit in the hall" if spared is not None else "heater off, no heater all day"
        day.floor_notes.append((3 * 3600.0, rng.choice(["electric heater on", lit])))
    if rng.random() < 0.3:
        day.floor_notes.append((4 * 3600.0, rng.choice(["lunch", "door shut for a minute", "radio too loud"])))


def _recorded(day: Day, bay: Bay, plant: Plant, forget: bool) -> None:
    """The deciding statements are there, or they are not."""
    day.drop_on = bay.name
    day.deciding = frozenset(plant.decides)
    if not forget:
        return
    day.drop = set(plant.decides) or {"air", "slab"}
    if plant.cause in ("thin film", "thick film", "thirsty slab"):
        day.drop |= {"film", "gauge", "poured"}


def _forget(day: Day, bay: Bay) -> None:
    bay.notes.clear()
    bay.traffic_target = bay.traffic_target if "traffic" not in day.drop else None


def healthy_job(seed: int) -> Planted:
    """A job on which nothing was done wrong, and still something was found."""
    rng = random.Random(f"healthy {seed}")
    coats = rng.choice([(EPOXY,), (WATER,), (EPOXY, TOP)])
    day = Day(rng.randrange(2**40), coats, top_laid=len(coats) > 1)
    bay = rng.choice(day.floor)
    _decoys(day, bay, None)
    day.run()
    symptom = rng.choice(ALL_SYMPTOMS)
    return Planted(None, "none", seed, bay.name, symptom, None, day.entries(bay, symptom, None))


def unlisted_job(seed: int) -> Planted:
    """A job with a cause that no table holds, noted or not."""
    rng = random.Random(f"unlisted {seed}")
    coats = rng.choice([(EPOXY,), (WATER,)])
    day = Day(rng.randrange(2**40), coats)
    bay = rng.choice(day.floor)
    _decoys(day, bay, None)
    symptoms, text = UNLISTED[seed % len(UNLISTED)]
    if text is not None:
        bay.notes.append((rng.uniform(3600.0, 86400.0 * 4), text))
    day.run()
    symptom = rng.choice(symptoms)
    return Planted(None, "unlisted", seed, bay.name, symptom, None, day.entries(bay, symptom, None))


__all__ = [
    "NOTED",
    "PLANTS",
    "STRENGTHS",
    "TIES",
    "Plant",
    "Planted",
    "healthy_job",
    "plant_job",
    "unlisted_job",
]
