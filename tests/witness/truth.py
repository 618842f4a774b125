"""What truly happens to a resin in this generator: a model of its own, which shares nothing with the product's clocks.

The trade's own rule is the law here: so many kelvin halve the time ("½ for every 10 °C", UFGS 09971), in small
steps along the weather of one area, where the product takes Arrhenius' law between readings. A pail heats itself in
proportion to how far it is, and cools by its surface. Each floor's resin differs from its sheet by 15 to 20 % (one
sigma), partly all its windows together, partly each of them alone, and by a tenth in how much warmth hurries it.
"""

from __future__ import annotations

import math
import random
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
MINUTES = {"min": 1.0, "h": 60.0, "d": 1440.0}
EPOXIES = ("epoxy", "waterborne epoxy")


@dataclass(frozen=True)
class Span:
    """A time on a sheet: its minutes at 20 °C and 50 %, the kelvin that halve it, and its power of humidity."""

    at_20: float
    halved_by_k: float = 10.0
    rh_power: float = 0.0

    def minutes(self, temp_c: float, rh_pct: float) -> float:
        """Minutes that it lasts where temperature and humidity stand still."""
        moist = (max(rh_pct, 1.0) / 50.0) ** -self.rh_power
        return self.at_20 * 2 ** ((20.0 - temp_c) / self.halved_by_k) * moist


@dataclass(frozen=True)
class Sheet:
    """What a data sheet says, read from its file by this generator itself."""

    name: str
    text: str
    family: str
    a_to_b: float
    mix_min: float
    pot_kg: float
    density_kg_l: float
    stand_min: float
    film_um: tuple[float, float]
    slab_least_c: float
    moisture_most: float | None
    opens: Mapping[str, Span]
    closes: Mapping[str, Span]


def sheet(file: str) -> Sheet:
    """A sheet that comes with the product, by the name of its file."""
    text = (ROOT / "profiles" / f"{file}.toml").read_text(encoding="utf-8")
    said = tomllib.loads(text)
    windows = said["windows"]
    a, b = said["mix"]["ratio_by_volume"]
    heavy = [float(each.split()[0]) for each in said["mix"]["density"]]
    limits = said["limits"]
    return Sheet(
        name=said["name"],
        text=text,
        family=said["family"],
        a_to_b=a / b,
        mix_min=_minutes(said["mix"]["time"]),
        pot_kg=float(said["pot-life"]["mass"].split()[0]),
        density_kg_l=(heavy[0] * a + heavy[1] * b) / (a + b),
        stand_min=_minutes(windows.get("induction", {}).get("opens", "0 min")),
        film_um=tuple(float(each.split()[0]) for each in said["film"]["wet"]),  # type: ignore[arg-type]
        slab_least_c=float(limits["slab"][0].split()[0]),
        moisture_most=float(limits["moisture_max"].split()[0]) if "moisture_max" in limits else None,
        opens={name: _span(each["opens"]) for name, each in windows.items() if isinstance(each.get("opens"), dict)},
        closes={
            "pour-out": _span(said["pot-life"]["at"]),
            **{name: _span(each["closes"]) for name, each in windows.items() if "closes" in each},
        },
    )


def _minutes(text: str) -> float:
    number, unit = text.split()
    return float(number) * MINUTES[unit]


def _span(table: Mapping[str, str]) -> Span:
    points = [(_conditions(key), _minutes(value)) for key, value in table.items()]
    usual = sorted((temp, minutes) for (temp, rh), minutes in points if rh == 50.0)
    (cold, long), (warm, short) = usual[0], usual[-1]
    halved_by = (warm - cold) / math.log2(long / short)
    near, minutes = min(usual, key=lambda point: abs(point[0] - 20.0))
    damp = [(temp, rh, each) for (temp, rh), each in points if rh != 50.0]
    power = 0.0
    for temp, rh, each in damp:
        power = math.log(dict(usual)[temp] / each) / math.log(rh / 50.0)
    return Span(minutes * 2 ** ((near - 20.0) / halved_by), halved_by, power)


def _conditions(key: str) -> tuple[float, float]:
    temp, _, humidity = key.partition(",")
    return float(temp.split()[0]), float(humidity.split()[0]) if humidity else 50.0


def dew_point_c(air_c: float, rh_pct: float) -> float:
    """Magnus' formula with Sonntag's figures (17.62; 243.12 °C)."""
    warm = math.log(rh_pct / 100.0) + 17.62 * air_c / (243.12 + air_c)
    return 243.12 * warm / (17.62 - warm)


def humidity_for(air_c: float, dew_c: float) -> float:
    """The humidity at which air has this dew point, at most 99 %."""
    magnus = 17.62 * dew_c / (243.12 + dew_c) - 17.62 * air_c / (243.12 + air_c)
    return min(99.0, 100.0 * math.exp(magnus))


@dataclass(frozen=True)
class Spell:
    """Some hours in which a place is unlike the rest of the day: the air fogs, the slab is cooled or warmed."""

    start: float
    end: float
    margin_k: float | None = None
    slab_by_k: float = 0.0
    ramp: bool = False


@dataclass(frozen=True)
class Weather:
    """Slab, air and humidity of one area, in minutes since the first midnight. The slab trails the air by 3 h."""

    mean_c: float
    swing_k: float = 2.0
    slab_under_k: float = 0.5
    rh_pct: float = 50.0
    wobble: float = 0.0
    spells: tuple[Spell, ...] = ()

    def slab_c(self, at: float) -> float:
        """The slab: half the swing of the air, three hours later."""
        day = 0.4 * self.swing_k * math.sin(2 * math.pi * (at - 12 * 60.0) / 1440.0)
        small = 0.2 * math.sin(at / 47.0 + self.wobble)
        return self.mean_c - self.slab_under_k + day + small + sum(_by_spell(spell, at) for spell in self.spells)

    def air_c(self, at: float) -> float:
        """The air, warmest at 15:00; over a slab that fogs it is warmer than the slab."""
        usual = self.mean_c + self.swing_k * math.sin(2 * math.pi * (at - 9 * 60.0) / 1440.0)
        foggy = [spell.margin_k for spell in self.spells if spell.margin_k is not None and _within(spell, at)]
        return max(usual, self.slab_c(at) + 3.5 - min(foggy)) if foggy else usual

    def humidity_pct(self, at: float) -> float:
        """The humidity: as usual, or what puts the dew point where the spell has it."""
        foggy = [spell.margin_k for spell in self.spells if spell.margin_k is not None and _within(spell, at)]
        if foggy:
            return humidity_for(self.air_c(at), self.slab_c(at) - min(foggy))
        return min(self.rh_pct, humidity_for(self.air_c(at), min(self.slab_c(at), self.air_c(at)) - 4.5))

    def felt(self, at: float, rh_power: float) -> tuple[float, float]:
        """Slab and humidity, as a film feels them that minds the humidity or does not."""
        return self.slab_c(at), self.humidity_pct(at) if rh_power else 50.0

    def margin_k(self, at: float) -> float:
        """How far the slab is over the dew point."""
        return self.slab_c(at) - dew_point_c(self.air_c(at), self.humidity_pct(at))


def _within(spell: Spell, at: float) -> bool:
    return spell.start <= at <= spell.end


def _by_spell(spell: Spell, at: float) -> float:
    if spell.ramp:
        return spell.slab_by_k * min(1.0, max(0.0, (at - spell.start) / (spell.end - spell.start)))
    return spell.slab_by_k if _within(spell, at) else 0.0


@dataclass
class Resin:
    """One floor's resin: how it differs from its sheet."""

    sheet: Sheet
    slower: Mapping[str, float] = field(default_factory=dict)
    halving: float = 1.0

    def span(self, window: str, opening: bool = False) -> Span | None:
        """The true span of a window."""
        said = (self.sheet.opens if opening else self.sheet.closes).get(window)
        if said is None:
            return None
        key = f"{window} opens" if opening else window
        return Span(said.at_20 * self.slower.get(key, 1.0), said.halved_by_k * self.halving, said.rh_power)

    def used(self, window: str, weather: Weather, start: float, end: float, opening: bool = False) -> float | None:
        """The share of a window that is gone, 1 at its edge; None where there is no such window."""
        span = self.span(window, opening)
        if span is None:
            return None
        steps = max(1, math.ceil((end - start) / min(30.0, max(1.0, span.at_20 / 30.0))))
        long = (end - start) / steps
        middles = (start + long * (step + 0.5) for step in range(steps))
        return sum(long / span.minutes(*weather.felt(at, span.rh_power)) for at in middles)

    def edge(self, window: str, weather: Weather, start: float, share: float = 1.0, opening: bool = False) -> float:
        """Minutes from the start until this share of a window is gone."""
        span = self.span(window, opening)
        assert span is not None
        gone, at, rate = 0.0, start, 0.0
        step = min(30.0, max(0.5, span.at_20 / 60.0))
        while gone < share:
            rate = 1.0 / span.minutes(*weather.felt(at + step / 2, span.rh_power))
            gone += rate * step
            at += step
        return at - (gone - share) / rate - start

    def pail_life_min(self, mass_kg: float, start_c: float, air_c: float) -> float:
        """Minutes until a pail of this mass is past pouring."""
        span = self.span("pour-out")
        assert span is not None
        heat = 8.0 if self.sheet.family == "waterborne epoxy" else 30.0
        pail = Pail(heat, 60.0, span.halved_by_k)
        still = still_min(pail, self.sheet.closes["pour-out"].at_20, self.sheet.pot_kg)
        return pail.life_min(still * self.slower.get("pour-out", 1.0), mass_kg, start_c, air_c)


@dataclass(frozen=True)
class Pail:
    """A pail that warms by `heat_k` over its life and cools to the air; a kilogram forgets by 1/e in `cooling_min`."""

    heat_k: float
    cooling_min: float
    halved_by_k: float

    def life_min(self, still_min: float, mass_kg: float, start_c: float, air_c: float) -> float:
        """Minutes until it is past pouring, where `still_min` is its life at 20 °C without any warming."""
        cooling = self.cooling_min * mass_kg ** (1 / 3)
        gone, temp, at, step, rate = 0.0, start_c, 0.0, still_min / 400.0, 0.0
        while gone < 1.0 and at < 3000.0:
            rate = 2 ** ((temp - 20.0) / self.halved_by_k) / still_min
            warmer = temp + step / 2 * (self.heat_k * rate - (temp - air_c) / cooling)
            rate = 2 ** ((warmer - 20.0) / self.halved_by_k) / still_min
            gone += rate * step
            temp += step * (self.heat_k * rate - (warmer - air_c) / cooling)
            at += step
        return at - (gone - 1.0) / rate


@cache
def still_min(pail: Pail, said_min: float, said_kg: float) -> float:
    """The life at 20 °C without warming up of the resin whose sheet says so many minutes for so many kilograms."""
    low, high = said_min, 20 * said_min
    for _ in range(40):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if pail.life_min(middle, said_kg, 20.0, 20.0) < said_min else (low, middle)
    return low


def resin_of(said: Sheet, dice: random.Random) -> Resin:
    """A resin as it comes: 15 to 20 % off its sheet, half of that in all windows at once."""
    sigma = dice.uniform(0.15, 0.20)
    common = dice.gauss(0.0, sigma * math.sqrt(0.5))
    names = [*said.closes, *(f"{name} opens" for name in said.opens)]
    slower = {name: math.exp(common + dice.gauss(0.0, sigma * math.sqrt(0.5))) for name in names}
    return Resin(said, slower, math.exp(dice.gauss(0.0, 0.1)))
