"""How a crew states a floor: only what it could know, in its own units, at its own hour, with its slips of the pen.

A crew either writes its times on paper and types them in of an evening (each 5 minutes off, one sigma, then rounded to
5), or taps each step 0 to 3 minutes after it. Now and then a step is forgotten, or said of the wrong batch and mended.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from tests.witness.floors import DAY, Bucket, Coat, Floor
from tests.witness.ills import FUSSY, ILLS, INNOCENT, LOOKS, MEANT, TICKED, TICKED_SOUND, complaint
from tests.witness.planting import NOTHING, OUTSIDE, WAYS, Case

HOURS_OF_WEATHER = ("amine blush", "condensation", "cold cure", "rising slab")


@dataclass(frozen=True)
class Saying:
    """A command as it is typed, and when: minutes since the job's first midnight.

    `otherwise` is typed where it was refused; `mends` is typed only where the one before it was taken.
    """

    at: float
    words: tuple[str, ...]
    otherwise: tuple[str, ...] = ()
    mends: bool = False


@dataclass(frozen=True)
class Telling:
    """All that a crew and an inspector say of one floor, with the files that they write."""

    zone: ZoneInfo
    first_day: date
    job_file: str
    profiles: dict[str, str]
    sayings: Sequence[Saying]
    asked_at: float
    area: str
    complaint: str | None

    def instant(self, at: float) -> datetime:
        """Minutes since the first midnight as an instant."""
        midnight = datetime.combine(self.first_day, time(), tzinfo=self.zone)
        return (midnight + timedelta(minutes=at)).astimezone(UTC)


class Crew:
    """One crew on one floor."""

    def __init__(self, floor: Floor, case: Case, dice: random.Random) -> None:
        self.floor, self.case, self.dice = floor, case, dice
        self.zone = ZoneInfo("America/Denver" if floor.us_units else "Europe/Lisbon")
        self.first_day = date(2026, 4, 13) + timedelta(days=dice.randrange(0, 60))
        causes = {case.cause, case.second}
        self.says_parts = "off ratio" in causes or dice.random() < 0.5
        self.says_lots = "different lot" in causes or dice.random() < 0.5
        self.says_mixing = "short mixing" in causes or dice.random() < 0.6
        self.begins = not floor.written and "short mixing" not in causes and dice.random() < 0.25
        self.sayings: list[Saying] = []

    def tell(self) -> Telling:
        """State the whole floor."""
        last = self._buckets()
        self._readings()
        self._facts()
        self._traffic()
        self._innocent()
        last = max([last, *(saying.at for saying in self.sayings)])
        found, word = self._found(last)
        return Telling(
            zone=self.zone,
            first_day=self.first_day,
            job_file=self._job_file(),
            profiles={coat.sheet.name: thin_sheet(coat) for coat in self.floor.coats if self.floor.thin_sheet},
            sayings=sorted(self.sayings, key=lambda saying: saying.at),
            asked_at=found + 30.0,
            area=self.floor.bad,
            complaint=word,
        )

    # --- what was done

    def _buckets(self) -> float:
        """The steps of all buckets, in the order in which their part B went in."""
        order = sorted(self.floor.buckets, key=lambda bucket: bucket.mixed)
        slipped = self.dice.randrange(len(order)) if self.dice.random() < 0.2 else None
        last = 0.0
        for number, bucket in enumerate(order, start=1):
            evening = (max(each.rolled for each in order if each.run == bucket.run) // DAY) * DAY + 20 * 60.0
            steps = self._steps(bucket, number)
            said = self._on_paper(steps, evening + number * 3.0) if self.floor.written else self._tapped(steps)
            self.sayings += said
            if slipped == number - 1:
                self._slip(number, said)
            last = max(last, said[-1].at)
        return last

    def _on_paper(self, steps: Sequence[tuple[float, tuple[str, ...]]], evening: float) -> list[Saying]:
        """Typed in of an evening, never one step before the one that it follows."""
        said, before = [], 0.0
        for place, (true, words) in enumerate(steps):
            before = max(self._written(true), before)
            at = max(evening, before + 1.0) + place * 0.4
            again = (*words, "--at", self._clock(before + 1.0))
            said.append(Saying(at, (*words, "--at", self._clock(before)), again))
        return said

    def _tapped(self, steps: Sequence[tuple[float, tuple[str, ...]]]) -> list[Saying]:
        """Each step 0 to 3 minutes before its tap; `mixing` is tapped with the can in the hand."""
        said, before = [], 0.0
        for true, words in steps:
            late = self.dice.uniform(0.0, 0.5) if words[0] == "mixing" else self.dice.uniform(0.0, 3.0)
            before = max(true + late, before + 0.05)
            said.append(Saying(before, words))
        return said

    def _slip(self, number: int, said: Sequence[Saying]) -> None:
        """A step is said of the wrong batch or with the wrong hour, noticed and withdrawn."""
        poured = [saying for saying in said if saying.words[0] == "poured"]
        if poured:
            at = poured[0].at
            hour = ("--at", self._clock(at // DAY * DAY + 11 * 60.0)) if self.floor.written else ()
            self.sayings += [
                Saying(at + 0.1, ("rolled", str(number), *hour)),
                Saying(at + 0.2, ("withdraw",), mends=True),
            ]

    def _steps(self, bucket: Bucket, number: int) -> list[tuple[float, tuple[str, ...]]]:
        coat = next(coat for coat in self.floor.coats if coat.name == bucket.coat)
        steps = self._mixed(bucket, coat, number)
        others = [("poured", bucket.poured), ("rolled", bucket.rolled), ("flaked", bucket.flaked)]
        for verb, true in others:
            if true is not None and not self._unsaid(bucket, verb):
                steps.append((true, (verb, str(number))))
        return steps

    def _mixed(self, bucket: Bucket, coat: Coat, number: int) -> list[tuple[float, tuple[str, ...]]]:
        what = ("--on", bucket.area, "--coat", bucket.coat)
        if self.says_parts and not self._kept_back(bucket, "off ratio"):
            part_a = bucket.amount_l * coat.sheet.a_to_b / (1.0 + coat.sheet.a_to_b)
            part_b = (bucket.amount_l - part_a) * (1.0 + bucket.b_share_off)
            what += ("--a", self._litres(part_a), "--b", self._litres(part_b))
        if self.says_lots and not self._kept_back(bucket, "different lot"):
            what += ("--lot", bucket.lot or "C-104")
        amount = (coat.sheet.name, self._litres(bucket.amount_l))
        if self.begins:
            return [
                (bucket.mixed, ("mixing", *amount, *what)),
                (bucket.mixed + bucket.mixing_min, ("mixed", str(number))),
            ]
        end = bucket.mixed if self.floor.written else bucket.mixed + bucket.mixing_min
        if self.says_mixing and not self._kept_back(bucket, "short mixing"):
            said = max(0.5, round(bucket.mixing_min * 2) / 2)
            what += ("--mixing", f"{said:g} min")
        return [(end, ("mixed", *amount, *what))]

    def _kept_back(self, bucket: Bucket, cause: str) -> bool:
        """Whether the deciding fact of this cause is missing, and this is where it would be said."""
        return self.case.missing and self.case.cause == cause and (bucket.area == self.floor.bad or self.floor.whole)

    def _unsaid(self, bucket: Bucket, verb: str) -> bool:
        deciding = {
            "poured": ("old batch", "no induction"),
            "rolled": ("late back-roll",),
            "flaked": ("late broadcast",),
        }[verb]
        if bucket.area == self.floor.bad or self.floor.whole:
            return self.case.missing and self.case.cause in deciding
        if verb == "poured" or self.case.cause in deciding:
            return False
        return self.dice.random() < 0.06

    # --- what was read and seen

    def _readings(self) -> None:
        weather_counts = self.case.cause in HOURS_OF_WEATHER or self.case.second in HOURS_OF_WEATHER
        days = sorted({int(bucket.poured // DAY) for bucket in self.floor.buckets})
        usual = [(day * DAY + hour * 60.0, None) for day in days for hour in self._hours()]
        if weather_counts and self.case.missing:
            chosen = [(day * DAY + 7.6 * 60.0, None) for day in days]
        else:
            chosen = [*usual, *(self.floor.readings if weather_counts else [])]
        for at, area in sorted(chosen, key=lambda one: (one[0], one[1] or "")):
            self._reading(at, area)

    def _hours(self) -> Sequence[float]:
        return self.dice.choice(
            ((7.6,), (7.6, 12.2), (7.6, 10.1, 13.0, 16.2), (7.5, 9.5, 11.6, 13.5, 15.5, 17.5, 20.0, 22.0))
        )

    def _reading(self, at: float, area: str | None) -> None:
        weather = self.floor.weather[area or self.floor.areas[0]]
        if area is None and not self.floor.whole:
            weather = next(iter(sorted(self.floor.weather.values(), key=lambda one: len(one.spells))))
        slab = weather.slab_c(at) + self.dice.gauss(0.0, 0.7)
        air = weather.air_c(at) + self.dice.gauss(0.0, 0.5)
        humidity = min(99.0, max(15.0, weather.humidity_pct(at) + self.dice.gauss(0.0, 2.5)))
        said = ("reading", "--air", self._degrees(air), "--rh", f"{humidity:.0f}", "--slab", self._degrees(slab))
        if area is not None:
            said += ("--on", area)
        self._say(at, said)

    def _say(self, true: float, words: tuple[str, ...]) -> None:
        """Say what has no race: on paper with its time, else as it is."""
        if self.floor.written:
            evening, written = true // DAY * DAY + 19.5 * 60.0, self._written(true)
            at = max(evening, true, written + 1.0) + self.dice.random()
            self.sayings.append(Saying(at, (*words, "--at", self._clock(written))))
        else:
            self.sayings.append(Saying(true + self.dice.uniform(0.0, 3.0), words))

    def _facts(self) -> None:
        for fact, area, at in self.floor.facts:
            if self.case.missing:
                continue
            self._say(at, ("noted", self.dice.choice(TICKED[fact]), "--on", area))
            if self.dice.random() < 0.4:
                self._say(at + 1.0, ("noted", self.dice.choice(MEANT[fact]), "--on", area))
        for quantity, value, area, at in self.floor.measured:
            if not self.case.missing:
                unit = " %" if quantity == "moisture" else ""
                self._say(at, ("measured", quantity, f"{value:g}{unit}", "--on", area))

    def _traffic(self) -> None:
        for area, what, at in self.floor.traffic:
            if not (self.case.missing and self.case.cause == "early traffic"):
                self._say(at, ("traffic", area, what))

    def _innocent(self) -> None:
        first = min(bucket.mixed for bucket in self.floor.buckets)
        for text in self.dice.sample(INNOCENT, self.dice.choice((0, 1, 2, 3))):
            where = ("--on", self.dice.choice(self.floor.areas)) if self.dice.random() < 0.5 else ()
            self._say(first + self.dice.uniform(0.0, 300.0), ("noted", text, *where))
        self._tick_what_is_well(first)

    def _tick_what_is_well(self, first: float) -> None:
        """Ticks that speak for the floor: never of what is planted, nor of what is to be missing."""
        facts = {fact for fact, _, _ in self.floor.facts} | {self.case.cause, self.case.second}
        known = {tick.partition(":")[0] for fact in facts for tick in TICKED.get(fact, ())}
        known |= {"part B"} if "off ratio" in facts else set()
        known |= {"pails"} if "different lot" in facts else set()
        for tick in self.dice.sample(TICKED_SOUND, self.dice.choice((0, 0, 2, 4))):
            if tick.partition(":")[0] not in known:
                known.add(tick.partition(":")[0])
                where = self.dice.choice(self.floor.areas)
                self._say(first - self.dice.uniform(5.0, 60.0), ("noted", tick, "--on", where))

    # --- what was found, days later

    def _found(self, last: float) -> tuple[float, str | None]:
        at = (last // DAY + self.dice.randrange(2, 15)) * DAY + self.dice.uniform(9.0, 17.0) * 60.0
        word: str | None = complaint(self.case.cause, self.dice, {fact for fact, _, _ in self.floor.facts})
        if self.case.cause == NOTHING and self.dice.random() < 0.4:
            word = None
        if word is not None:
            self._complain(at, word)
        if not self.floor.whole:
            seen = [area for area in self.floor.areas if area != self.floor.bad or word is None]
            for number, area in enumerate(seen):
                if self.dice.random() < 0.85:
                    self.sayings.append(Saying(at + 2.0 + number, ("found", area, "sound")))
        return at, word

    def _complain(self, at: float, word: str) -> None:
        ill = ILLS.get(self.case.cause)
        shape = self.dice.choice(ill.shapes) if ill else self.dice.choice((None, "all-over", "door"))
        how = ("--shape", shape) if shape and self.dice.random() < 0.7 else ()
        known = LOOKS[self.case.cause]
        if self.case.cause in (NOTHING, OUTSIDE) and word in FUSSY:
            known = "dull"
        self.sayings.append(Saying(at, ("found", self.floor.bad, word, *how), ("found", self.floor.bad, known, *how)))

    # --- how it is written

    def _written(self, true: float) -> float:
        return round((true + self.dice.gauss(0.0, 5.0)) / 5.0) * 5.0

    def _clock(self, at: float) -> str:
        day = self.first_day + timedelta(days=int(at // DAY))
        return f"{day.isoformat()} {int(at % DAY // 60):02d}:{int(at % 60):02d}"

    def _degrees(self, temp_c: float) -> str:
        return f"{temp_c * 1.8 + 32:.0f} °F" if self.floor.us_units else f"{temp_c:.1f} °C"

    def _litres(self, litres: float) -> str:
        return f"{litres / 3.785412:.3f} gal" if self.floor.us_units else f"{litres:.2f} L"

    def _job_file(self) -> str:
        floor = self.floor
        lines = ['name = "Boat shed floor"', f'zone = "{self.zone.key}"']
        runs = {area: floor.of(area)[0].run for area in floor.areas}
        for number, area in enumerate(floor.areas):
            beside = [floor.areas[each] for each in (number - 1, number + 1) if 0 <= each < len(floor.areas)]
            beside = [each for each in beside if runs[each] == runs[area]]
            size = floor.sizes_m2[area]
            said = f"{size * 10.7639:.0f} ft2" if floor.us_units else f"{size:g} m2"
            lines += ["[[areas]]", f'name = "{area}"', f'size = "{said}"', f"next_to = {beside!r}".replace("'", '"')]
        for coat in floor.coats:
            film = f"{coat.film_um / 25.4:.1f} mil" if floor.us_units else f"{coat.film_um:g} um"
            lines += ["[[coats]]", f'name = "{coat.name}"', f'product = "{coat.sheet.name}"', f'wet_film = "{film}"']
            if floor.flake and coat is floor.coats[0]:
                lines.append('flake = "0.4 kg/m2"')
            if coat.name == "top":
                lines.append(f'after = "{floor.coats[0].name}"')
        return "\n".join(lines) + "\n"


def thin_sheet(coat: Coat) -> str:
    """A data sheet that says little: one temperature, and no more than a user would type in."""
    said = coat.sheet
    a, b = (1.0, 1.0 / said.a_to_b) if said.a_to_b < 1.0 else (said.a_to_b, 1.0)
    lines = [
        f'name = "{said.name}"',
        f'family = "{said.family}"',
        'source = "a thin sheet, invented figures"',
        "[mix]",
        f"ratio_by_volume = [{a:g}, {b:g}]",
        f'time = "{said.mix_min:g} min"',
        "[pot-life]",
        f'mass = "{said.pot_kg:g} kg"',
        'end = "workable"',
        f'at = {{ "20 °C" = "{said.closes["pour-out"].at_20:.0f} min" }}',
        "[film]",
        f'wet = ["{said.film_um[0]:g} um", "{said.film_um[1]:g} um"]',
        "[limits]",
        f'slab = ["{said.slab_least_c:g} °C", "30 °C"]',
    ]
    if said.moisture_most is not None:
        lines.append(f'moisture_max = "{said.moisture_most:g} %"')
    if said.stand_min:
        lines += ["[windows.induction]", 'after = "mixed"', f'opens = "{said.stand_min:g} min"']
    for name in dict.fromkeys((*said.closes, *said.opens)):
        if name == "pour-out" or name in ("scrape", "full-cure", "induction"):
            continue
        lines += [f"[windows.{name}]", 'after = "poured"']
        lines += [f'opens = {{ "20 °C" = "{said.opens[name].at_20:.0f} min" }}'] if name in said.opens else []
        lines += [f'closes = {{ "20 °C" = "{said.closes[name].at_20:.0f} min" }}'] if name in said.closes else []
    return "\n".join(lines) + "\n"


__all__ = ["WAYS", "Crew", "Saying", "Telling", "thin_sheet"]
