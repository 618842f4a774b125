"""A made-up working day on a floor: what truly happens, by the physics formulas alone, and what the crew states of it.

Nothing here knows how mixclock looks for causes. The truth of each step comes from `mixclock.formulas`; the record is
the truth with a crew's gaps, roundings and late statements.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np

from mixclock.formulas.air import dew_point_c
from mixclock.formulas.cure import time_of_ripeness
from mixclock.formulas.history import History
from mixclock.formulas.rate_law import RateLaw, law_from_points
from mixclock.job.entry import (
    Combined,
    Did,
    Entry,
    Facts,
    Found,
    JobStarted,
    Measured,
    MixingEnded,
    Noted,
    Poured,
    ProfileUsed,
    Reading,
    Traffic,
)
from mixclock.job.profile import Profile, SheetSpan
from mixclock.job.profilereading import read_profile
from tests.formulas import oneresin as bucket

PROFILES = Path(__file__).resolve().parents[3] / "profiles"
ENERGY_J_MOL = 47e3
GEL_CONVERSION = 0.577
FROM_BUCKET = ("back-roll", "wet-edge", "broadcast", "tack-free")
DAY_0 = datetime(2026, 4, 13, 6, 0, tzinfo=UTC)
FILMS_UM = {"Slow epoxy base": 300.0, "Waterborne epoxy primer": 170.0, "Aliphatic polyurethane top coat": 90.0}


@cache
def profile_text(product: str) -> str:
    """The profile as it comes with mixclock: invented figures."""
    return (PROFILES / f"{product.lower().replace(' ', '-')}.toml").read_text(encoding="utf-8")


@cache
def sheet(product: str) -> Profile:
    """The same, read."""
    return read_profile(profile_text(product))


@dataclass
class Bay:
    """What is true of one bay in one coat. Targets are shares of the true window at which the crew does the step."""

    name: str
    size_m2: float
    bucket_target: float
    roll_target: float
    flake_target: float
    joint_target: float
    film_share: float
    ratio_off: float = 0.0
    mixing_share: float = 1.1
    stand_share: float = 1.15
    slab_offset_k: float = 0.0
    slab_rise_k: float = 0.0
    drunk_share: float = 0.0
    lot: str = "L-41"
    notes: list[tuple[float, str]] = field(default_factory=list)
    top_opens_target: float | None = None
    top_closes_target: float | None = None
    traffic_target: float | None = None
    traffic_by: str = "vehicle"
    ph: float | None = 7.3
    moisture_pct: float | None = 2.4
    gauge: bool = True
    cut_in_target: float | None = None
    wheels: bool = False


@dataclass
class Day:
    """One job as it truly goes, and the entries that its crew makes."""

    seed: int
    coats: tuple[str, ...]
    bays: int = 6
    slab_c: float | None = None
    dew_gap_k: float | None = None
    top_laid: bool = False

    def __post_init__(self) -> None:
        self.rng = random.Random(self.seed)
        rng = self.rng
        self.slab_base_c = self.slab_c if self.slab_c is not None else rng.uniform(16.5, 21.0)
        self.dew_c = self.slab_base_c - (self.dew_gap_k if self.dew_gap_k is not None else rng.uniform(6.5, 9.5))
        self.resin = math.exp(rng.gauss(0.0, 0.07))
        self.floor = [self._usual_bay(index) for index in range(self.bays)]
        self.found_at = DAY_0 + timedelta(days=12)
        self.said: list[tuple[datetime, Facts, str | None]] = []
        self.floor_notes: list[tuple[float, str]] = []
        self.drop: set[str] = set()
        self.drop_on: str = ""
        self.poured: dict[tuple[str, str], float] = {}
        self.carried: dict[tuple[str, str], float] = {}

    def _usual_bay(self, index: int) -> Bay:
        rng = self.rng
        return Bay(
            name=f"bay {index + 1}",
            size_m2=round(rng.uniform(8.0, 15.0), 1),
            bucket_target=rng.uniform(0.3, 0.6),
            roll_target=rng.uniform(0.25, 0.6),
            flake_target=rng.uniform(0.45, 0.7),
            joint_target=rng.uniform(0.45, 0.75),
            film_share=rng.uniform(0.95, 1.08),
            ratio_off=rng.gauss(0.0, 0.012),
            mixing_share=rng.uniform(1.0, 1.35),
            stand_share=rng.uniform(1.0, 1.35),
            slab_offset_k=rng.gauss(0.0, 0.25),
            ph=rng.gauss(7.3, 0.4) if rng.random() < 0.7 else None,
            moisture_pct=rng.uniform(1.5, 3.3) if rng.random() < 0.7 else None,
            gauge=rng.random() < 0.6,
        )

    # the truth

    def slab(self, bay: Bay) -> History:
        """The slab's temperature over the days: mildly falling through each working day, a little colder at night."""
        times, values = [], []
        start = self.start_of(bay)
        for hour in range(24 * 14):
            at = DAY_0.timestamp() + hour * 3600.0
            wave = 0.5 * math.cos(2 * math.pi * (hour - 2) / 24.0)
            rise = bay.slab_rise_k * min(1.0, max(0.0, (at - start) / 7200.0)) if at < start + 10 * 3600.0 else 0.0
            times.append(at)
            values.append(self.slab_base_c + bay.slab_offset_k + wave + rise)
        return History(tuple(times), tuple(values))

    def start_of(self, bay: Bay) -> float:
        """When the first coat came onto a bay (or may have)."""
        return self.poured.get((bay.name, self.coats[0]), self.next_s)

    next_s = DAY_0.timestamp() + 2 * 3600.0

    def law(self, span: SheetSpan | None) -> RateLaw:
        """The clock of this job's resin: the sheet's, times what this drum truly does."""
        assert span is not None
        points = [(point.temp_c, point.span_s * self.resin) for point in span.points if point.temp_c is not None]
        return law_from_points(points, ENERGY_J_MOL)

    def reached_s(self, product: str, window: str, edge: str, bay: Bay, start_s: float, target: float) -> float:
        """When a window's true clock has run to a share of its edge."""
        rule = sheet(product).window(window)
        assert rule is not None, (product, window)
        ripe = self.carried.get((bay.name, product), 0.0) if window in FROM_BUCKET else 0.0
        return time_of_ripeness(self.law(getattr(rule, edge)), self.slab(bay), start_s, max(target, ripe + 0.05), ripe)

    def pot_life_s(self, product: str, mass_kg: float, material_c: float) -> float:
        """The true pot life of a bucket, by the physics of a bucket."""
        air_c = self.slab_base_c + 1.0
        return bucket.pot_life_s(resin_of(product), bucket.BucketShape(), mass_kg, material_c, air_c) * self.resin

    def used_up(self, product: str, mass_kg: float, material_c: float, age_s: float) -> float:
        """What a bucket has used of its film's time when it is poured: conversion carries over from bucket to floor."""
        resin = resin_of(product)
        course = bucket.course(resin, bucket.BucketShape(), mass_kg, material_c, self.slab_base_c + 1.0)
        alpha = float(np.interp(age_s / self.resin, course.times_s, course.conversions))
        return _isothermal(resin, alpha) / _isothermal(resin, GEL_CONVERSION)

    # what happens

    def run(self) -> None:
        """The whole job: every coat on every bay."""
        for index, coat in enumerate(self.coats):
            if index > 0 and not self.top_laid:
                break
            self._coat(coat, index)
        self._readings()
        for after_s, text in self.floor_notes:
            self.say(DAY_0.timestamp() + after_s, Noted(text))
        self._afterwards()

    def _coat(self, product: str, index: int) -> None:
        start = DAY_0.timestamp() + 86400.0 * index + 2 * 3600.0
        before: tuple[Bay, float] | None = None
        for bay in self.floor:
            when = self._pour_time(bay, product, index, before, start)
            self._batch(bay, product, when, index)
            before = (bay, when)

    def _pour_time(self, bay: Bay, product: str, index: int, before: tuple[Bay, float] | None, start: float) -> float:
        base = self.coats[0]
        if index > 0 and bay.top_opens_target is not None:
            laid = self.poured[(bay.name, base)]
            return self.reached_s(base, "recoat", "opens", bay, laid, bay.top_opens_target)
        if index > 0 and bay.top_closes_target is not None:
            laid = self.poured[(bay.name, base)]
            return self.reached_s(base, "recoat", "closes", bay, laid, bay.top_closes_target)
        if (
            before is None
            or before[1] > start + 86400.0 * 0.6
            or (index > 0 and before[0].top_opens_target is not None)
        ):
            return start + 1800.0
        return self.reached_s(product, "wet-edge", "closes", before[0], before[1], bay.joint_target)

    def _batch(self, bay: Bay, product: str, pour_s: float, index: int) -> None:
        rng, profile = self.rng, sheet(product)
        film_um = FILMS_UM[product] * bay.film_share / (1.0 - bay.drunk_share)
        volume_l = bay.size_m2 * film_um / 1000.0
        material_c = rng.gauss(20.0, 1.0)
        mass_kg = volume_l * 1.1
        age_s = bay.bucket_target * self.pot_life_s(product, mass_kg, material_c)
        mixing_s = (profile.mix.time_s or 180.0) * bay.mixing_share
        induction = profile.window("induction")
        asked_s = max(point.span_s for point in induction.opens.points) if induction and induction.opens else 0.0
        stand_s = asked_s * bay.stand_share if asked_s >= 60.0 else 60.0
        age_s = max(age_s, mixing_s + stand_s) if bay.stand_share >= 1.0 else mixing_s + stand_s
        combined_s = pour_s - age_s
        self.carried[(bay.name, product)] = self.used_up(product, mass_kg, material_c, age_s)
        self.poured[(bay.name, product)] = pour_s
        self._state_batch(bay, product, (combined_s, mixing_s, pour_s), volume_l, material_c, index)
        self._steps(bay, product, pour_s)

    def _state_batch(
        self, bay: Bay, product: str, times: tuple[float, float, float], volume_l: float, material_c: float, index: int
    ) -> None:
        rng, (combined_s, mixing_s, pour_s) = self.rng, times
        ratio = sheet(product).mix.ratio_by_volume
        assert ratio is not None
        b_l = volume_l / (1.0 + ratio[0] / ratio[1] * (1.0 + bay.ratio_off))
        apart = self.keeps("ratio", bay, 0.75)
        number = sum(isinstance(facts, Combined) for _, facts, _ in self.said) + 1
        self.say(
            combined_s,
            Combined(
                product=product,
                areas=(bay.name,),
                coat="base" if index == 0 else "top",
                volume_l=None if apart else round(volume_l * rng.uniform(0.99, 1.01), 2),
                a_l=round(volume_l - b_l, 2) if apart else None,
                b_l=round(b_l, 2) if apart else None,
                material_c=round(material_c, 0),
                lot=bay.lot if self.keeps("lot", bay, 0.9) else None,
            ),
            spread_s=20.0,
        )
        if self.keeps("mixing", bay, 0.9):
            self.say(combined_s + mixing_s, MixingEnded(number), spread_s=10.0)
        if self.keeps("poured", bay, 0.95):
            covered = bay.size_m2 * rng.uniform(0.97, 1.03) if self.keeps("film", bay, 0.75) else None
            self.say(pour_s, Poured(number, (bay.name,), covered_m2=covered))
        if bay.gauge and self.keeps("gauge", bay, 1.0):
            film_um = FILMS_UM[product] * bay.film_share * rng.gauss(1.0, 0.03)
            self.say(pour_s + 300.0, Measured("wet film", round(film_um, -1), "um", area=bay.name, batch=number))
        for after_s, text in bay.notes if index == 0 else ():
            self.say(pour_s + after_s, Noted(text, area=bay.name))

    def _steps(self, bay: Bay, product: str, pour_s: float) -> None:
        number = sum(isinstance(facts, Combined) for _, facts, _ in self.said)
        profile = sheet(product)
        if bay.cut_in_target is not None:
            early = pour_s - (self.reached_s(product, "wet-edge", "closes", bay, pour_s, bay.cut_in_target) - pour_s)
            self.say(early, Did("cut-in", number, (bay.name,)))
        if profile.window("back-roll") and self.keeps("rolled", bay, 0.92):
            self.say(self.reached_s(product, "back-roll", "closes", bay, pour_s, bay.roll_target),
                     Did("back-roll", number, (bay.name,)))  # fmt: skip
        if profile.window("broadcast") and product == "Slow epoxy base" and self.keeps("flaked", bay, 0.92):
            rolled_s = self.reached_s(product, "back-roll", "closes", bay, pour_s, bay.roll_target)
            flaked_s = self.reached_s(product, "broadcast", "closes", bay, pour_s, bay.flake_target)
            # nobody rolls through flake
            self.say(max(flaked_s, rolled_s + 240.0), Did("broadcast", number, (bay.name,)))

    def _afterwards(self) -> None:
        for bay in self.floor:
            last = self.coats[-1] if (bay.name, self.coats[-1]) in self.poured else self.coats[0]
            laid = self.poured[(bay.name, last)]
            window = "vehicle-traffic" if bay.traffic_by == "vehicle" else "foot-traffic"
            target = bay.traffic_target if bay.traffic_target is not None else self.rng.uniform(1.25, 1.6)
            at = self.reached_s(last, window, "opens", bay, laid, target)
            if self.keeps("traffic", bay, 0.6 if bay.traffic_target is None else 1.0):
                self.say(at, Traffic(bay.name, bay.traffic_by))
                self.found_at = max(self.found_at, datetime.fromtimestamp(at, UTC) + timedelta(days=2))
            prep_s = DAY_0.timestamp() + 1800.0
            if bay.ph is not None and self.keeps("ph", bay, 1.0):
                self.say(prep_s, Measured("pH", round(bay.ph, 1), "", area=bay.name))
            if bay.moisture_pct is not None and self.keeps("moisture", bay, 1.0):
                self.say(prep_s, Measured("moisture", round(bay.moisture_pct, 1), "%", area=bay.name))

    def _readings(self) -> None:
        last = max(self.poured.values()) + 16 * 3600.0
        at = DAY_0.timestamp() + 3600.0
        night_logger = self.rng.random() < 0.8
        while at < last:
            hour = datetime.fromtimestamp(at, UTC).hour
            if 7 <= hour < 18 or night_logger:
                self._round(at)
            at += self.rng.uniform(2100.0, 4500.0) if 7 <= hour < 18 else 5400.0

    def _round(self, at: float) -> None:
        rng = self.rng
        air_c = self.slab_base_c + 1.0 + rng.gauss(0.0, 0.3)
        rh = 100.0
        while dew_point_c(air_c, rh) > self.dew_c:
            rh -= 0.5
        if "air" not in self.drop:
            self.say(at, Reading(air_c=round(air_c, 1), rh_pct=round(min(99.0, rh + rng.gauss(0, 1.0)))), spread_s=60.0)
        for bay in self.floor:
            if not (bay.name == self.drop_on and "slab" in self.drop) and rng.random() < 0.85:
                slab = self.slab(bay).at(at) + rng.gauss(0.0, 0.25)
                self.say(at + 60.0, Reading(slab_c=round(slab, 1), area=bay.name), spread_s=60.0)

    # what is stated

    def keeps(self, what: str, bay: Bay, usual: float) -> bool:
        """Whether somebody stated a fact: as a crew does, but never what was to be left out on the bad bay."""
        if bay.name == self.drop_on and what in self.drop:
            self.rng.random()
            return False
        kept = self.rng.random() < usual
        return kept or (bay.name == self.drop_on and what in self.deciding)

    deciding: frozenset[str] = frozenset()

    def say(self, at_s: float, facts: Facts, spread_s: float = 40.0) -> None:
        """State a fact with the error of a watch."""
        at = datetime.fromtimestamp(round(at_s + self.rng.gauss(0.0, spread_s)), UTC)
        self.said.append((at, facts, self.rng.choice(["mixer", "roller"])))

    def entries(self, bad: Bay | None, symptom: str, shape: str | None) -> tuple[Entry, ...]:
        """The log: the truth as the crew stated it, some of it late."""
        said = [(DAY_0, JobStarted("Pottery studio", self.site()), None)]
        said += [(DAY_0, ProfileUsed(product, profile_text(product)), None) for product in self.coats]
        said += [(at, self._numbered(facts), by) for at, facts, by in sorted(self.said, key=lambda item: item[0])]
        for bay in self.floor if bad is not None else ():
            if bay is not bad:
                said.append((self.found_at - timedelta(minutes=1), Found(bay.name, "sound"), None))
        if bad is not None:
            said.append((self.found_at, Found(bad.name, symptom, shape), None))
        return tuple(
            Entry(number, "pottery", at, at + timedelta(seconds=self._lag_s(facts)), facts, by)
            for number, (at, facts, by) in enumerate(said, start=1)
        )

    def _numbered(self, facts: Facts) -> Facts:
        """Batches are counted as they are mixed, which need not be as they are poured."""
        number = getattr(facts, "batch", None)
        if number is None:
            return facts
        mixed = [at for at, other, _ in self.said if isinstance(other, Combined)]
        return facts.but(batch=sorted(range(len(mixed)), key=lambda index: mixed[index]).index(number - 1) + 1)

    def _lag_s(self, facts: Facts) -> float:
        if isinstance(facts, Poured | Did | Noted) and self.rng.random() < 0.15:
            return self.rng.uniform(600.0, 7200.0)
        return self.rng.uniform(0.0, 30.0)

    def site(self) -> str:
        """The job file."""
        names = [bay.name for bay in self.floor]
        areas = "".join(
            f'[[areas]]\nname = "{bay.name}"\nsize = "{bay.size_m2} m2"\norder = {index + 1}\n'
            f"next_to = [{', '.join(repr(name) for name in names[max(0, index - 1) : index])}]\n"
            for index, bay in enumerate(self.floor)
        ).replace("'", '"')
        coats = ""
        for index, product in enumerate(self.coats):
            flake = 'flake = "0.4 kg/m2"\n' if product == "Slow epoxy base" else ""
            after = 'after = "base"\n' if index else ""
            coats += (
                f'[[coats]]\nname = "{"base" if index == 0 else "top"}"\nproduct = "{product}"\n'
                f'wet_film = "{FILMS_UM[product]:.0f} um"\n{flake}{after}'
            )
        crew = "".join(f'[[crew]]\nname = "{name}"\n' for name in ("mixer", "roller"))
        return f'name = "Pottery studio"\nzone = "Europe/Lisbon"\n{areas}{coats}{crew}'


@cache
def resin_of(product: str) -> bucket.Resin:
    """The resin whose cup ends as the sheet says: water and filler take up most of the heat that there is."""
    told = sheet(product).pot_life
    assert told is not None
    at_20 = next(point for point in told.span.points if point.temp_c == 20.0)
    rise_k = 40.0 if "waterborne" in sheet(product).family else 110.0 if sheet(product).filled else 170.0
    return bucket.calibrate(bucket.Resin(adiabatic_rise_k=rise_k), told.mass_kg or 1.0, 20.0, at_20.span_s)


def _isothermal(resin: bucket.Resin, alpha: float) -> float:
    """Time at one temperature up to a conversion, up to a constant: the integral of 1/f."""
    steps = np.linspace(1e-9, max(alpha, 2e-9), 400)
    return float(np.trapezoid(1.0 / ((resin.kappa + steps**resin.m) * (1.0 - steps) ** resin.n), steps))
