"""Spoils one thing on a floor, by a dose: so many of the quantity's own doubts past its limit."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from tests.witness.floors import (
    ALL,
    BASES,
    DAY,
    POLYASPARTIC,
    URETHANE,
    WATERBORNE,
    Bucket,
    Coat,
    Floor,
    pail_life_min,
    past,
    sound_floor,
    tack_free_min,
)
from tests.witness.ills import ALIKE, ILLS, NOTHING, OUTSIDE
from tests.witness.truth import Spell, Weather


@dataclass(frozen=True)
class Case:
    """What is asked of the generator: a cause with a strength ('' where it has none), or nothing, or one outside."""

    cause: str
    strength: str = ""
    missing: bool = False
    second: str = ""


def dose(strength: str, dice: random.Random) -> float:
    """Mild is 1 to 1.5 of the quantity's own doubt past its limit, clear 2, gross 3."""
    return {"mild": dice.uniform(1.0, 1.5), "clear": 2.0, "gross": 3.0, "": 2.0}[strength]


Plant = Callable[[Floor, Sequence[Bucket], float], None]


def _coat(floor: Floor, bucket: Bucket) -> Coat:
    return next(coat for coat in floor.coats if coat.name == bucket.coat)


def _edge(floor: Floor, bucket: Bucket, window: str, by: float) -> float:
    resin, weather = _coat(floor, bucket).resin, floor.weather[bucket.area]
    edge = resin.edge(window, weather, bucket.poured)
    return resin.edge(window, weather, bucket.poured, math.exp(by * floor.clock_sigma(edge)))


def _late_back_roll(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        bucket.rolled = bucket.poured + _edge(floor, bucket, "back-roll", by)


def _late_broadcast(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        bucket.flaked = bucket.poured + _edge(floor, bucket, "broadcast", by)


def _lap_joint(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    """A stop before the bad area's last bucket; all that comes later on that day moves with it."""
    later = buckets[-1]
    number = floor.buckets.index(later)
    earlier = floor.buckets[number - 1]
    if number == 0 or earlier.run != later.run:
        raise LookupError("no joint here")
    wait = earlier.poured + _edge(floor, earlier, "wet-edge", by) - 3.0 - later.poured
    for bucket in floor.buckets[number:]:
        if bucket.run == later.run:
            _move(bucket, wait)


def _move(bucket: Bucket, by_min: float) -> None:
    bucket.mixed += by_min
    bucket.poured += by_min
    bucket.rolled += by_min
    bucket.flaked = bucket.flaked + by_min if bucket.flaked is not None else None


def _old_batch(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        life = pail_life_min(_coat(floor, bucket), bucket, floor.weather[bucket.area])
        bucket.mixed = bucket.poured - life * math.exp(by * floor.clock_sigma(life))


def _film(edge: int, sign: float) -> Plant:
    def spoil(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
        for area in {bucket.area for bucket in buckets}:
            mine = [bucket for bucket in buckets if bucket.area == area]
            film = _coat(floor, mine[0]).sheet.film_um[edge] * math.exp(sign * by * 0.08)
            for bucket in mine:
                bucket.amount_l = film * floor.sizes_m2[area] / 1000.0 / len(mine)

    return spoil


def _off_ratio(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    """Too much or too little of B; now and then, as on a floor that was investigated, equal cans of both."""
    ratio = _coat(floor, buckets[0]).sheet.a_to_b
    off = (0.05 + by * 0.03) * floor.dice.choice((1.0, -1.0))
    if by >= 3.0 and ratio > 1.5 and floor.dice.random() < 0.3:
        off = ratio - 1.0
    for bucket in buckets:
        bucket.b_share_off = off


def _short_mixing(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        least = max(0.5, _coat(floor, bucket).sheet.mix_min - by * 0.5)
        bucket.mixed += bucket.mixing_min - least
        bucket.mixing_min = least


def _no_induction(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        stood = max(0.5, _coat(floor, bucket).sheet.stand_min - by * max(1.5, floor.time_sigma()))
        bucket.mixed = bucket.poured - stood - bucket.mixing_min


def _foggy(limit_k: float) -> Plant:
    """The dew point comes up to the slab for a while, before the film is tack free."""

    def spoil(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
        for bucket in floor.of(floor.bad):
            tack = tack_free_min(floor, bucket)
            start = bucket.poured + floor.dice.uniform(0.2, 0.35) * tack
            _add(floor, Spell(start, start + 0.35 * tack, margin_k=limit_k - by * 1.2))
            _read_through(floor, bucket, tack)
        if limit_k > 0 and floor.dice.random() < 0.3:
            floor.facts.append(("fuel heater", buckets[0].area, buckets[-1].poured + 30.0))

    return spoil


def _add(floor: Floor, spell: Spell) -> None:
    """A spell of the bad area's own weather, or of the whole floor's."""
    for area in floor.areas if floor.whole else [floor.bad]:
        weather = floor.weather[area]
        floor.weather[area] = replace(weather, spells=(*weather.spells, spell))


def _read_through(floor: Floor, bucket: Bucket, long_min: float, times: int = 8) -> None:
    own = None if floor.whole else bucket.area
    floor.readings += [(bucket.poured + long_min * share / times, own) for share in range(times + 1)]


def _cold(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    first, weather = floor.of(floor.bad)[0], floor.weather[floor.bad]
    mean = sum(weather.slab_c(first.poured + 30.0 * step) for step in range(49)) / 49
    wanted = floor.coats[0].sheet.slab_least_c - by * 1.0
    _add(floor, Spell(-DAY, 9 * DAY, slab_by_k=wanted - mean))
    _read_through(floor, first, 1.1 * DAY, times=9)


def _rising(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    first = floor.of(floor.bad)[0]
    tack, usual = tack_free_min(floor, first), 3.0 + past(floor, floor.bad)["rising slab"]
    start = first.poured + 10.0
    _add(floor, Spell(start, start + 0.55 * tack, slab_by_k=3.2 + by - usual, ramp=True))
    _read_through(floor, first, tack, times=6)
    for area in dict.fromkeys(bucket.area for bucket in buckets):
        floor.facts.append(("unprimed", area, first.poured - 60.0))


def _early_recoat(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    _recoat(floor, math.exp(-by * 0.17), opening=True)


def _late_recoat(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    _recoat(floor, math.exp(by * 0.17), opening=False)


def _recoat(floor: Floor, share: float, opening: bool) -> None:
    """The bad area gets its top at another hour than the rest, on its own."""
    base = floor.of(floor.bad)[-1]
    edge = floor.coats[0].resin.edge("recoat", floor.weather[floor.bad], base.poured, share, opening=opening)
    if not 6 * 60.0 <= (base.poured + edge) % DAY <= 22 * 60.0:
        raise LookupError("nobody coats at night")
    for bucket in floor.of(floor.bad, "top"):
        _move(bucket, base.poured + edge - bucket.poured)
        bucket.run = 99


def _early_traffic(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    what = floor.dice.choice(("foot", "vehicle", "vehicle"))
    coat = floor.coats[-1]
    for area in {bucket.area for bucket in buckets}:
        last = floor.of(area, coat.name)[-1]
        edge = coat.resin.edge(f"{what}-traffic", floor.weather[area], last.poured, math.exp(-by * 0.2), opening=True)
        floor.traffic.append((area, what, last.poured + edge))


def _different_lot(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    for bucket in buckets:
        bucket.lot = "C-118"


def _thirsty(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    """More went in than elsewhere; a bare slab, opened by the grinder; what stayed on top is starved."""
    area = buckets[0].area
    for bucket in buckets:
        bucket.amount_l *= 1.10 + 0.04 * by
    floor.facts.append(("unprimed", area, buckets[0].poured - 90.0))
    floor.measured.append(("texture", 5.0, area, buckets[0].poured - 100.0))
    floor.measured += [("texture", 3.0, each, buckets[0].poured - 95.0) for each in floor.areas if each != area]


def _prep(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    first, most = buckets[0], floor.coats[0].sheet.moisture_most
    if most is None or floor.dice.random() < 0.35:
        floor.facts.append(("contaminated", first.area, first.poured - 90.0))
        return
    for area in floor.areas if not floor.whole else [floor.bad]:
        percent = most + 0.5 * by if area == floor.bad else most - floor.dice.uniform(1.0, 2.0)
        floor.measured.append(("moisture", round(percent, 1), area, first.poured - 80.0))


def _told(fact: str, after_min: float) -> Plant:
    def spoil(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
        floor.facts.append((fact, buckets[0].area, buckets[-1].poured + after_min))

    return spoil


def _after_the_job(floor: Floor, buckets: Sequence[Bucket], by: float) -> None:
    """Sun on an epoxy, or what the owner cleans with."""
    sunny = floor.coats[-1].sheet.family == "epoxy" and floor.dice.random() < 0.5
    _told("sun" if sunny else "after the job", 3.5 * DAY)(floor, buckets, by)


@dataclass(frozen=True)
class Way:
    """How a cause is planted, and on which products."""

    plant: Plant
    files: Sequence[str]
    top: bool = False
    flake: bool | None = None
    whole: bool = False


WAYS: Mapping[str, Way] = MappingProxyType(
    {
        "amine blush": Way(_foggy(3.0), (*BASES, WATERBORNE), whole=True),
        "condensation": Way(_foggy(0.0), (*BASES, POLYASPARTIC), whole=True),
        "cold cure": Way(_cold, (*BASES, WATERBORNE), whole=True),
        "old batch": Way(_old_batch, (WATERBORNE, URETHANE, POLYASPARTIC)),
        "late back-roll": Way(_late_back_roll, ALL, flake=False),
        "late broadcast": Way(_late_broadcast, BASES, flake=True),
        "lap joint": Way(_lap_joint, ALL),
        "thin film": Way(_film(0, -1.0), ALL, whole=True),
        "thick film": Way(_film(1, 1.0), ALL),
        "off ratio": Way(_off_ratio, ALL, whole=True),
        "short mixing": Way(_short_mixing, (*BASES, WATERBORNE, URETHANE), whole=True),
        "no induction": Way(_no_induction, (WATERBORNE,), whole=True),
        "rising slab": Way(_rising, BASES, whole=True),
        "early recoat": Way(_early_recoat, BASES, top=True),
        "late recoat": Way(_late_recoat, BASES, top=True),
        "early traffic": Way(_early_traffic, (*BASES, POLYASPARTIC)),
        "different lot": Way(_different_lot, ALL),
        "scraped bucket": Way(_told("scraped bucket", 8.0), BASES),
        "thirsty slab": Way(_thirsty, (*BASES, WATERBORNE)),
        "prep left behind": Way(_prep, (*BASES, WATERBORNE), whole=True),
        "poor airflow": Way(_told("poor airflow", 60.0), (WATERBORNE,)),
        "unstirred pail": Way(_told("unstirred pail", 20.0), (URETHANE,)),
        "after the job": Way(_after_the_job, (*BASES, POLYASPARTIC, URETHANE)),
    }
)


def floor_for(case: Case, seed: str) -> Floor:
    """A floor with this cause and no other truly past its limit; drawn again until it is so."""
    for attempt in range(400):
        floor = _drawn(case, random.Random(f"{seed}/{attempt}"))
        if floor is not None:
            return floor
    raise AssertionError(f"no floor could be drawn for {case}")


def _drawn(case: Case, dice: random.Random) -> Floor | None:
    causes = [cause for cause in (case.cause, case.second) if cause in ILLS]
    floor = _unspoilt(causes, dice)
    if len(floor.areas) == 1 and any(cause in ("different lot", "early recoat", "late recoat") for cause in causes):
        return None
    floor.whole = len(causes) == 1 and WAYS[causes[0]].whole and len(floor.areas) > 1 and dice.random() < 0.25
    try:
        for cause in causes:
            _plant(floor, cause, dose(case.strength, dice))
    except LookupError:
        return None
    floor.truth = frozenset(causes) | _implied(floor, causes)
    return floor if _as_wanted(floor, causes) else None


def _unspoilt(causes: Sequence[str], dice: random.Random) -> Floor:
    ways = [WAYS[cause] for cause in causes]
    files = [file for file in ALL if all(file in way.files for way in ways)]
    wants_flake = [way.flake for way in ways if way.flake is not None]
    flake = wants_flake[0] if wants_flake else dice.random() < 0.4
    return sound_floor(dice, files, top=any(way.top for way in ways), flake=flake)


def _plant(floor: Floor, cause: str, by: float) -> None:
    areas = floor.areas if floor.whole else [floor.bad]
    buckets = [bucket for bucket in floor.buckets if bucket.area in areas and bucket.coat == floor.coats[0].name]
    WAYS[cause].plant(floor, buckets, by)


def _implied(floor: Floor, causes: Sequence[str]) -> set[str]:
    """What is true with a planted cause because it is the same thing seen from another side."""
    by = past(floor, floor.bad)
    same = {each for alike in ALIKE for each in alike if alike & set(causes)}
    implied = {cause for cause in same if by.get(cause, -1.0) > 0.0}
    if "old batch" in causes:
        implied |= {"late back-roll", "lap joint"}  # what had aged in the pail had no time left on the floor either
    if "thirsty slab" in causes:
        implied.add("thin film")  # what stayed on top is starved, however much went in
    return implied


_NUMERIC_SLACK = MappingProxyType(
    {
        "condensation": -0.2,
        "short mixing": 0.0,
        "off ratio": -0.5,
        "no induction": -0.3,
        "thin film": -1.0,
        "thick film": -1.0,
    }
)


def _as_wanted(floor: Floor, causes: Sequence[str]) -> bool:
    """Whether what was planted is truly past its limit, and all else well within."""
    for area in floor.areas:
        by = past(floor, area)
        for cause, value in by.items():
            here = cause in floor.truth and (area == floor.bad or floor.whole or cause == "lap joint")
            if not here and value > _NUMERIC_SLACK.get(cause, -1.0):
                return False
    by = past(floor, floor.bad)
    return all(by[cause] > 0.9 for cause in causes if ILLS[cause].dosed and cause in by and cause != "thirsty slab")


__all__ = ["NOTHING", "OUTSIDE", "WAYS", "Case", "Weather", "dose", "floor_for"]
