"""A floor as it truly came to be: where which bucket went and when, in what weather, and what was wrong with it.

Minutes count from the first midnight of the job. Everything is sound at first; `planting` then spoils one thing.
"""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tests.witness.truth import EPOXIES, Resin, Sheet, Weather, resin_of, sheet

DAY = 1440.0
PLACES = ("bay {}", "strip {}", "room {}", "section {}")
BASES = ("slow-epoxy-base", "fast-epoxy-base")
WATERBORNE, POLYASPARTIC, URETHANE = (
    "waterborne-epoxy-primer",
    "polyaspartic-top-coat",
    "aliphatic-polyurethane-top-coat",
)
ALL = (*BASES, WATERBORNE, POLYASPARTIC, URETHANE)
USUAL_FILM_UM = {"slow-epoxy-base": 300, "fast-epoxy-base": 300, WATERBORNE: 170, POLYASPARTIC: 150, URETHANE: 90}


@dataclass
class Bucket:
    """One bucket, as it truly was."""

    area: str
    coat: str
    amount_l: float
    b_share_off: float
    mixed: float
    mixing_min: float
    poured: float
    rolled: float
    flaked: float | None
    lot: str
    run: int


@dataclass(frozen=True)
class Coat:
    """A coat of the floor: its sheet and the resin that truly came."""

    name: str
    sheet: Sheet
    resin: Resin
    film_um: float


@dataclass
class Floor:
    """A whole floor with its truth. `looked_at` are the areas that the inspector saw, the bad one among them."""

    dice: random.Random
    coats: Sequence[Coat]
    sizes_m2: dict[str, float]
    weather: dict[str, Weather]
    flake: bool
    written: bool
    us_units: bool
    thin_sheet: bool
    buckets: list[Bucket] = field(default_factory=list)
    traffic: list[tuple[str, str, float]] = field(default_factory=list)
    measured: list[tuple[str, float, str, float]] = field(default_factory=list)
    facts: list[tuple[str, str, float]] = field(default_factory=list)
    readings: list[tuple[float, str | None]] = field(default_factory=list)
    bad: str = ""
    whole: bool = False
    truth: frozenset[str] = frozenset()

    @property
    def areas(self) -> list[str]:
        """The areas in the order of the work."""
        return list(self.sizes_m2)

    def of(self, area: str, coat: str | None = None) -> list[Bucket]:
        """The buckets of an area, in one coat or in the first."""
        named = coat or self.coats[0].name
        return [bucket for bucket in self.buckets if bucket.area == area and bucket.coat == named]

    def time_sigma(self) -> float:
        """The doubt of a span between two stated times: written ones have 5 minutes each, tapped ones 0 to 3 late."""
        return 5.0 * math.sqrt(2) if self.written else 3.0 / math.sqrt(12) * math.sqrt(2)

    def clock_sigma(self, span_min: float) -> float:
        """The doubt, in logarithms, of the share of a window that was used: its resin and its two times."""
        return math.hypot(0.175, self.time_sigma() / span_min)


def sound_floor(dice: random.Random, files: Sequence[str], top: bool = False, flake: bool = False) -> Floor:
    """A floor on which nothing is wrong yet."""
    file = dice.choice(files)
    made = [_coat(file, "base" if file in BASES else "coat", dice)]
    if top:
        made.append(_coat(dice.choice((POLYASPARTIC, URETHANE)), "top", dice))
    place = dice.choice(PLACES)
    count = dice.choice((1, 2, 3, 4, 5, 6, 8, 12) if not top else (2, 3, 4, 5))
    sizes = {place.format(number): round(dice.uniform(8.0, 18.0), 1) for number in range(1, count + 1)}
    day = Weather(
        mean_c=dice.uniform(16.0, 22.0),
        swing_k=dice.uniform(0.8, 2.2),
        slab_under_k=dice.uniform(0.0, 1.2),
        rh_pct=dice.uniform(40.0, 58.0),
        wobble=dice.uniform(0.0, 6.0),
    )
    floor = Floor(
        dice=dice,
        coats=made,
        sizes_m2=sizes,
        weather=dict.fromkeys(sizes, day),
        flake=flake and file in BASES,
        written=dice.random() < 0.5,
        us_units=dice.random() < 0.2,
        thin_sheet=dice.random() < 0.2,
    )
    _lay(floor)
    if top:
        _lay_top(floor)
    floor.bad = dice.choice(floor.areas)
    return floor


def _coat(file: str, name: str, dice: random.Random) -> Coat:
    said = sheet(file)
    return Coat(name, said, resin_of(said, dice), USUAL_FILM_UM[file])


def _lay(floor: Floor) -> None:
    """Lay the first coat at the pace of people who know what they do; a third of the larger floors takes two days."""
    dice, coat = floor.dice, floor.coats[0]
    break_at = len(floor.areas) // 2 if len(floor.areas) >= 4 and dice.random() < 0.33 else None
    pails = dice.choice((1, 1, 1, 2, 3))
    at, run = 8 * 60.0 + dice.uniform(10.0, 70.0), 0
    for number, area in enumerate(floor.areas):
        if number == break_at:
            at, run = DAY + 8 * 60.0 + dice.uniform(10.0, 70.0), 1
        for _ in range(pails):
            floor.buckets.append(_bucket(floor, coat, area, at, run, floor.sizes_m2[area] / pails))
            at += dice.uniform(0.35, 0.5) * min(60.0, coat.resin.edge("wet-edge", floor.weather[area], at))


def _bucket(floor: Floor, coat: Coat, area: str, poured: float, run: int, size_m2: float) -> Bucket:
    dice, weather, resin = floor.dice, floor.weather[area], coat.resin
    mixing = coat.sheet.mix_min + dice.choice((0.0, 0.0, 0.5, 1.0))
    stood = coat.sheet.stand_min + (dice.uniform(2.0, 6.0) if coat.sheet.stand_min else dice.uniform(0.5, 2.0))
    if coat.sheet.stand_min and floor.written:
        stood += 5.0  # who writes by a kitchen clock lets it stand rather longer
    rolled = poured + dice.uniform(0.25, 0.42) * resin.edge("back-roll", weather, poured)
    flaked = None
    if floor.flake and coat is floor.coats[0]:
        flaked = max(rolled + 3.0, poured + dice.uniform(0.35, 0.5) * resin.edge("broadcast", weather, poured))
    amount = coat.film_um * size_m2 / 1000.0 * math.exp(dice.gauss(0.0, 0.03))
    mixed = poured - stood - mixing
    return Bucket(area, coat.name, amount, dice.gauss(0.0, 0.012), mixed, mixing, poured, rolled, flaked, "", run)


def _lay_top(floor: Floor) -> None:
    """The next coat well inside the recoat window of the base, in the order of the areas, all in one go."""
    dice, base, top = floor.dice, floor.coats[0], floor.coats[1]
    ready = max(
        bucket.poured + base.resin.edge("recoat", floor.weather[bucket.area], bucket.poured, 1.25, opening=True)
        for bucket in floor.buckets
    )
    at = math.ceil((ready - 8 * 60.0) / DAY) * DAY + 8 * 60.0 + dice.uniform(0.0, 60.0)
    if ready % DAY < 14 * 60.0 and ready % DAY > 8 * 60.0:
        at = ready
    run = 1 + max(bucket.run for bucket in floor.buckets)
    for area in floor.areas:
        floor.buckets.append(_bucket(floor, top, area, at, run, floor.sizes_m2[area]))
        at += dice.uniform(0.35, 0.5) * top.resin.edge("wet-edge", floor.weather[area], at)


def tack_free_min(floor: Floor, bucket: Bucket) -> float:
    """Minutes until dew and dust no longer hurt this film."""
    coat = next(coat for coat in floor.coats if coat.name == bucket.coat)
    return coat.resin.edge("tack-free", floor.weather[bucket.area], bucket.poured, opening=True)


def past(floor: Floor, area: str) -> Mapping[str, float]:
    """How far each numeric cause truly is past its limit on an area, in its own doubts: above 0 it is past."""
    found: dict[str, float] = {}
    for coat in floor.coats:
        for bucket in floor.of(area, coat.name):
            for cause, by in {**_by_clock(floor, coat, bucket), **_by_hand(floor, coat, bucket)}.items():
                found[cause] = max(by, found.get(cause, -99.0))
        film = sum(bucket.amount_l for bucket in floor.of(area, coat.name)) / floor.sizes_m2[area] * 1000.0
        low, high = coat.sheet.film_um
        found["thin film"] = max(math.log(low / film) / 0.08, found.get("thin film", -99.0))
        found["thick film"] = max(math.log(film / high) / 0.08, found.get("thick film", -99.0))
    found.update(_by_weather(floor, area))
    found.update(_afterwards(floor, area))
    found["lap joint"] = max((by for where, by in _joints(floor) if area in where), default=-99.0)
    return found


def _by_clock(floor: Floor, coat: Coat, bucket: Bucket) -> dict[str, float]:
    weather, resin = floor.weather[bucket.area], coat.resin
    life = pail_life_min(coat, bucket, weather)
    stood = bucket.poured - bucket.mixed
    found = {"old batch": math.log(stood / life) / floor.clock_sigma(life)}
    for cause, window, step in (
        ("late back-roll", "back-roll", bucket.rolled),
        ("late broadcast", "broadcast", bucket.flaked),
    ):
        used = resin.used(window, weather, bucket.poured, step) if step is not None else None
        if used:
            found[cause] = math.log(used) / floor.clock_sigma(resin.edge(window, weather, bucket.poured))
    return found


def pail_life_min(coat: Coat, bucket: Bucket, weather: Weather) -> float:
    """How long this pail truly could have stood."""
    air = weather.air_c(bucket.mixed)
    return coat.resin.pail_life_min(bucket.amount_l * coat.sheet.density_kg_l, air, air)


def _by_hand(floor: Floor, coat: Coat, bucket: Bucket) -> dict[str, float]:
    found = {
        "off ratio": (abs(bucket.b_share_off) - 0.05) / 0.03,
        "short mixing": (coat.sheet.mix_min - bucket.mixing_min) / 0.5,
    }
    if coat.sheet.stand_min:
        stood = bucket.poured - bucket.mixed - bucket.mixing_min
        found["no induction"] = (coat.sheet.stand_min - stood) / max(1.5, floor.time_sigma())
    return found


def _by_weather(floor: Floor, area: str) -> dict[str, float]:
    weather, found = (
        floor.weather[area],
        dict.fromkeys(("amine blush", "condensation", "cold cure", "rising slab"), -99.0),
    )
    for coat in floor.coats:
        for bucket in floor.of(area, coat.name):
            tack = tack_free_min(floor, bucket)
            times = [bucket.poured + share * tack / 40 for share in range(41)]
            margin = min(weather.margin_k(at) for at in times)
            mean = sum(weather.slab_c(bucket.poured + 30.0 * step) for step in range(49)) / 49
            rise = max(weather.slab_c(at) for at in times) - weather.slab_c(bucket.poured)
            by = {
                "condensation": -margin / 1.2,
                "cold cure": coat.sheet.slab_least_c - mean,
                "rising slab": rise - 3.0 if coat is floor.coats[0] else -99.0,
            }
            if coat.sheet.family in EPOXIES:
                by["amine blush"] = (3.0 - margin) / 1.2
            found = {cause: max(old, by.get(cause, -99.0)) for cause, old in found.items()}
    return found


def _afterwards(floor: Floor, area: str) -> dict[str, float]:
    found = {}
    base, weather = floor.coats[0], floor.weather[area]
    if len(floor.coats) > 1:
        start, end = floor.of(area)[-1].poured, floor.of(area, floor.coats[1].name)[0].poured
        opened = base.resin.used("recoat", weather, start, end, opening=True) or 1.0
        shut = base.resin.used("recoat", weather, start, end) or 0.1
        found = {"early recoat": -math.log(opened) / 0.17, "late recoat": math.log(shut) / 0.17}
    for where, what, at in floor.traffic:
        if where == area:
            last = max(bucket.poured for bucket in floor.buckets if bucket.area == area)
            coat = floor.coats[-1]
            used = coat.resin.used(f"{what}-traffic", weather, last, at, opening=True) or 1.0
            found["early traffic"] = max(-math.log(used) / 0.2, found.get("early traffic", -99.0))
    return found


def joint_age(floor: Floor, earlier: Bucket, later: Bucket) -> float:
    """How much of the earlier bucket's wet edge was gone when the later one was pulled into it."""
    coat = next(coat for coat in floor.coats if coat.name == earlier.coat)
    return coat.resin.used("wet-edge", floor.weather[earlier.area], earlier.poured, later.poured + 3.0) or 0.0


def _joints(floor: Floor) -> list[tuple[set[str], float]]:
    found = []
    for earlier, later in zip(floor.buckets, floor.buckets[1:], strict=False):
        if (earlier.coat, earlier.run) == (later.coat, later.run):
            coat = next(coat for coat in floor.coats if coat.name == earlier.coat)
            edge = coat.resin.edge("wet-edge", floor.weather[earlier.area], earlier.poured)
            by = math.log(joint_age(floor, earlier, later)) / floor.clock_sigma(edge)
            found.append(({earlier.area, later.area}, by))
    return found
