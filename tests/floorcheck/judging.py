"""Judges a plan by its JSON, the job file and the sheets; every rule here comes from the trade, none from the planner.

A plan that is made while the day runs is judged together with what was stated by then: `Past` holds the same rows for
what is done, and only what is still ahead can be at fault.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

from tests.floorcheck.sheets import JobFile, Sheet, dew_point_c, figure
from tests.floorcheck.strips import strip_faults
from tests.floorcheck.taping import is_taped

MINUTE = timedelta(minutes=1)
SECOND = timedelta(seconds=1)
MEASURED_BEFORE = timedelta(minutes=30)
AT_ONCE = timedelta(minutes=5)
LEAST_L, SMALL_JOB_L = 1.0, 2.0
ORDER = ("measure", "mix", "pour")
TRAILS = {"roll": ("squeegee", "cut-in"), "broadcast": ("roll",)}
"""What goes over the floor behind something else: it neither begins nor ends ahead of it."""

BESIDE = timedelta(minutes=2)
"""Two who roll a bay side by side begin together; one who comes later lays a lap across it."""

SHUTS = {"roll": "back-roll", "broadcast": "broadcast"}
TASK = {"measure": "mix"}
RATES = {"squeegee": "squeegee", "roll": "roll", "broadcast": "broadcast", "cut-in": "cut_in"}
ANYBODY = ("clean", "scrape", "set-up", "break")


@dataclass(frozen=True)
class Fault:
    """One thing that a crew could not or must not do."""

    kind: str
    text: str


@dataclass(frozen=True)
class Row:
    """One line of somebody's day."""

    step: str
    who: str
    batch: int | None
    coat: str | None
    starts: datetime
    ends: datetime
    beside: str | None = None
    strip: int | None = None

    @property
    def lasts(self) -> timedelta:
        """How long it takes."""
        return self.ends - self.starts


@dataclass(frozen=True)
class Past:
    """What was stated before a plan: its batches as they stood in the plan before, the rows, and the hour."""

    batches: tuple[Mapping[str, Any], ...] = ()
    rows: tuple[Row, ...] = ()
    now: datetime | None = None


def instant(text: str) -> datetime:
    """A time of the JSON."""
    return datetime.fromisoformat(text.replace("Z", "+00:00"))


def rows_of(plan: Mapping[str, Any]) -> list[Row]:
    """The steps of a plan."""
    return [
        Row(
            step["step"],
            step["who"],
            step["batch"],
            step["coat"],
            instant(step["starts"]),
            instant(step["ends"]),
            step["together_with"],
            step["strip"],
        )
        for step in plan["steps"]
    ]


def faults(plan: Mapping[str, Any], job: JobFile, past: Past | None = None) -> list[Fault]:
    """Everything that is wrong with a plan that says it fits."""
    return list(_Judge(plan, job, past or Past()).faults())


@dataclass
class _Judge:
    plan: Mapping[str, Any]
    job: JobFile
    past: Past
    rows: list[Row] = field(init=False)
    batches: list[Mapping[str, Any]] = field(init=False)

    def __post_init__(self) -> None:
        self.rows = [*self.past.rows, *rows_of(self.plan)]
        self.batches = [*self.past.batches, *self.plan["batches"]]

    def faults(self) -> Iterator[Fault]:
        yield from self._people()
        yield from self._floor()
        yield from self._vessels()
        for batch in self.batches:
            yield from self._batch(batch)
        for one in self.batches:
            for other in self.batches:
                yield from self._pair(one, other)

    def _ahead(self, row: Row) -> bool:
        return self.past.now is None or row.ends > self.past.now

    def _rows(self, batch: Mapping[str, Any], step: str) -> list[Row]:
        return [row for row in self.rows if row.batch == batch["number"] and row.step == step]

    def _span(self, batch: Mapping[str, Any], step: str) -> Row | None:
        """All that is done of a step, by one or by several."""
        rows = self._rows(batch, step)
        if not rows:
            return None
        first = min(rows, key=lambda row: row.starts)
        return Row(step, first.who, first.batch, first.coat, first.starts, max(row.ends for row in rows))

    def _people(self) -> Iterator[Fault]:
        crew = {person["name"]: person for person in self.job.values.get("crew", ())}
        for who in {row.who for row in self.rows}:
            mine = sorted((row for row in self.rows if row.who == who), key=lambda row: (row.starts, row.ends))
            for one, other in pairwise(mine):
                if other.starts < one.ends and self._ahead(other):
                    yield Fault("two at once", f"{who}: {other.step} {other.batch} during {one.step} {one.batch}")
        for row in filter(self._ahead, self.rows):
            if crew and row.who not in crew:
                yield Fault("nobody", f"{row.who} is none of the crew")
                continue
            does = crew[row.who].get("does", ()) if crew else ()
            task = TASK.get(row.step, row.step)
            trained = [name for name, person in crew.items() if task in person.get("does", (task,))]
            lends = row.beside is not None and task in crew[row.who].get("helps", ()) and row.beside in trained
            if does and task not in does and trained and task not in ANYBODY and not lends:
                yield Fault("skill", f"{row.who} is not named for {row.step}")
            yield from self._in_hours(row)

    def _in_hours(self, row: Row) -> Iterator[Fault]:
        hours = self.job.values["hours"]
        starts, ends = row.starts.astimezone(self.job.zone), row.ends.astimezone(self.job.zone)
        on_day = str(starts.date()) in hours["days"] and ends.date() == starts.date()
        if not on_day or f"{starts:%H:%M}" < hours["start"] or f"{ends:%H:%M:%S}" > hours["end"] + ":00":
            yield Fault("hours", f"{row.step} of batch {row.batch} at {starts:%a %H:%M} to {ends:%H:%M}")
        if self.past.now is not None and row not in self.past.rows and row.starts < self.past.now:
            yield Fault("in the past", f"{row.step} of batch {row.batch} begins before the plan")

    def _floor(self) -> Iterator[Fault]:
        for coat in self.job.values["coats"]:
            for area in self.job.values["areas"]:
                wanted = figure(area["size"]) if area["name"] in coat.get("areas", (area["name"],)) else 0.0
                pieces = [piece for batch in self.batches if batch["coat"] == coat["name"] for piece in batch["pieces"]]
                laid = sum(piece["size_m2"] for piece in pieces if piece["area"] == area["name"])
                if abs(laid - wanted) > 0.005 * max(wanted, 1.0):
                    yield Fault("coverage", f"{coat['name']} on {area['name']}: {laid:g} of {wanted:g} m²")

    def _vessels(self) -> Iterator[Fault]:
        vessels = self.job.values.get("vessels", ())
        if not vessels:
            return
        held = []
        for batch in self.batches:
            mix, pour = self._span(batch, "mix"), self._span(batch, "pour")
            if mix and pour:
                held.append((mix.starts, pour.ends, batch))
        for starts, _, batch in held:
            at_once = [other for begun, out, other in held if begun <= starts < out]
            if len(at_once) > len(vessels):
                yield Fault("pails", f"batch {batch['number']} is mixed while {len(at_once) - 1} pails are full")
            if batch["volume_l"] > max(figure(vessel["volume"]) for vessel in vessels) + 1e-6:
                yield Fault("pail too small", f"batch {batch['number']}: {batch['volume_l']} L")

    def _batch(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        if batch in self.past.batches:
            yield from self._trails(batch)
            yield from self._shut(batch)
            return
        spans = {step: self._span(batch, step) for step in (*ORDER, "squeegee", "roll")}
        lacking = [step for step, span in spans.items() if span is None]
        if self.job.coat(batch["coat"]).get("flake") and not self._span(batch, "broadcast"):
            lacking.append("broadcast")
        if lacking:
            yield Fault("left out", f"batch {batch['number']}: {', '.join(lacking)}")
            return
        yield from self._bucket(batch)
        if batch["strips"] > 1:
            mine, wet = [row for row in self.rows if row.batch == batch["number"]], self._is_joined(batch)
            found = strip_faults(batch, mine, self._sheet(batch), self.job.weather, wet)
            yield from (Fault(each.kind, each.text) for each in found)
        else:
            yield from self._trails(batch)
            yield from self._shut(batch)
            yield from self._side_by_side(batch)
        yield from self._amount(batch)
        yield from self._least(batch)
        yield from self._paces(batch)
        yield from self._weather(batch)

    def _bucket(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        measure, mix, pour = (self._span(batch, step) for step in ORDER)
        sheet = self._sheet(batch)
        assert measure is not None
        assert mix is not None
        assert pour is not None
        if mix.starts < measure.ends or pour.starts < mix.ends:
            yield Fault("order", f"batch {batch['number']}: measured, mixed, poured is the order")
        if mix.starts - measure.ends > MEASURED_BEFORE:
            yield Fault("stands open", f"batch {batch['number']} is measured {mix.starts - measure.ends} before")
        if pour.ends > sheet.bucket_by(mix.starts, self.job.weather) + MINUTE:
            yield Fault("pot life", f"batch {batch['number']} is poured after the sheet's pot life")
        told = next((each for each in batch["windows"] if each["name"] == "pour-out"), None)
        if told and told["closes"] and pour.ends > instant(told["closes"]) + SECOND:
            yield Fault("pot life", f"batch {batch['number']} is poured after its own early edge")
        for step in ("squeegee",) if batch["strips"] == 1 else ():
            spread = self._span(batch, step)
            if spread is None or spread.starts + SECOND < pour.ends:
                yield Fault("order", f"batch {batch['number']} is spread before it is poured")
            elif spread.starts - pour.ends > AT_ONCE:
                yield Fault("left lying", f"batch {batch['number']} lies in ribbons for {spread.starts - pour.ends}")

    def _trails(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        for step, ahead in TRAILS.items():
            mine = self._span(batch, step)
            if mine is None or not self._ahead(mine):
                continue
            for other in ahead:
                leader = self._span(batch, other)
                if leader and (mine.starts < leader.starts or mine.ends < leader.ends):
                    yield Fault("order", f"batch {batch['number']}: {step} is ahead of {other}")

    def _sheet(self, batch: Mapping[str, Any]) -> Sheet:
        return self.job.sheets[batch["product"]]

    def _poured(self, batch: Mapping[str, Any]) -> datetime | None:
        span = self._span(batch, "pour")
        return span.ends if span else None

    def _shut(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        """Each step over the floor ends by the likely edge of the sheet, and by the early one that the plan tells."""
        poured = self._poured(batch)
        for step, window in SHUTS.items():
            span = self._span(batch, step)
            if span is None or poured is None or not self._ahead(span):
                continue
            edge = self._sheet(batch).likely(window, "closes", poured, self.job.weather)
            told = next((each["closes"] for each in batch["windows"] if each["name"] == window), None)
            if edge and span.ends > edge + MINUTE:
                yield Fault(window, f"batch {batch['number']}: {step} ends {span.ends - edge} after the sheet's edge")
            if batch not in self.past.batches and told and span.ends > instant(told) + SECOND:
                yield Fault(window, f"batch {batch['number']}: {step} ends after the edge that the plan tells")

    def _least(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        """Nobody measures out less than a litre for a floor that takes two litres or more."""
        coat = self.job.coat(batch["coat"])
        of_it = sum(other["volume_l"] for other in self.batches if other["coat"] == batch["coat"])
        measured = coat.get("split") or "kit" not in coat
        if measured and batch["volume_l"] < LEAST_L - 1e-6 and of_it >= SMALL_JOB_L:
            yield Fault("too small", f"batch {batch['number']} is {batch['volume_l']} L, measured out for a floor")

    def _amount(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        coat = self.job.coat(batch["coat"])
        size = sum(piece["size_m2"] for piece in batch["pieces"])
        film_l = size * figure(coat["wet_film"]) / 1000.0 / (1.0 - figure(coat["waste"]) / 100.0)
        if batch["volume_l"] < film_l * 0.999 - 0.002:
            yield Fault("short", f"batch {batch['number']}: {batch['volume_l']} L for {film_l:.2f} L of film and waste")
        if abs(batch["mass_kg"] - batch["volume_l"] * self._sheet(batch).density) > 0.02 * batch["mass_kg"]:
            yield Fault("mass", f"batch {batch['number']}: {batch['mass_kg']} kg are no {batch['volume_l']} L")
        if "kit" in coat and not coat.get("split"):
            kits = batch["volume_l"] / figure(coat["kit"])
            if abs(kits - round(kits)) > 0.005:
                yield Fault("kit cut", f"batch {batch['number']}: {kits:.2f} kits of one that may not be split")

    def _paces(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        crew = {person["name"]: person for person in self.job.values.get("crew", ())}
        for step, key in RATES.items():
            rows = self._rows(batch, step)
            rates = [crew.get(row.who, {}).get(key) for row in rows]
            if not rows or None in rates:
                continue
            done = sum(row.lasts.total_seconds() / 3600.0 * figure(rate) for row, rate in zip(rows, rates, strict=True))
            work = sum(self._work(piece, step) for piece in batch["pieces"])
            if done < work * 0.995 - 0.02:
                yield Fault("too fast", f"batch {batch['number']}: {step} does {work:g} in the time of {done:g}")

    def _side_by_side(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        """Who rolls with somebody is told with whom, and both begin at once."""
        rows = self._rows(batch, "roll")
        for row in rows:
            others = [other for other in rows if other is not row and other.who != row.who]
            if len(rows) > 1 and not any(other.who == row.beside for other in others):
                yield Fault("not together", f"batch {batch['number']}: {row.who} isn't told who rolls with them")
            elif row.beside is not None and not others:
                yield Fault("not together", f"batch {batch['number']}: {row.beside} doesn't roll with {row.who}")
            elif any(abs(other.starts - row.starts) > BESIDE for other in others):
                yield Fault("not together", f"batch {batch['number']}: one begins to roll later than the other")

    def _work(self, piece: Mapping[str, Any], step: str) -> float:
        area = self.job.area(piece["area"])
        size = float(piece["size_m2"])
        return figure(area["edge"]) * size / figure(area["size"]) if step == "cut-in" else size

    def _weather(self, batch: Mapping[str, Any]) -> Iterator[Fault]:
        sheet = self._sheet(batch)
        rows = [row for row in self.rows if row.batch == batch["number"] and row.step not in ("measure", "scrape")]
        at, end = min(row.starts for row in rows), max(row.ends for row in rows)
        low, high = sheet.limit("slab", 0), sheet.limit("slab", 1)
        damp, margin = sheet.limit("humidity_max"), sheet.limit("dew_margin_min")
        while at <= end:
            air, humidity, slab = self.job.weather.at(at)
            wrong = (low is not None and slab < low - 0.1) or (high is not None and slab > high + 0.1)
            wrong = wrong or (damp is not None and humidity > damp + 0.5)
            if wrong or (margin is not None and slab - dew_point_c(air, humidity) < margin - 0.15):
                yield Fault(
                    "conditions", f"batch {batch['number']} at {at:%a %H:%M}: {air:.1f} {humidity:.0f} {slab:.1f}"
                )
                return
            at += 5 * MINUTE

    def _pair(self, one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[Fault]:
        """Two batches: side by side in one coat, or one on the other."""
        if one is other or other in self.past.batches:
            return
        if one["coat"] == other["coat"]:
            yield from self._joint(one, other)
        elif self.job.below(other["coat"]) == one["coat"]:
            shared = {piece["area"] for piece in one["pieces"]} & {piece["area"] for piece in other["pieces"]}
            if shared:
                yield from self._recoat(one, other)

    def _recoat(self, one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[Fault]:
        since, pour = self._poured(one), self._span(other, "pour")
        if since is None or pour is None:
            return
        opens = self._sheet(one).likely("recoat", "opens", since, self.job.weather)
        closes = self._sheet(one).likely("recoat", "closes", since, self.job.weather)
        if opens and pour.starts + 5 * MINUTE < opens:
            yield Fault(
                "recoat", f"batch {other['number']} goes on {opens - pour.starts} before {one['number']} is ready"
            )
        if closes and pour.ends > closes + 5 * MINUTE:
            yield Fault("recoat", f"batch {other['number']} goes on after {one['number']} has shut")
        if self.job.coat(one["coat"]).get("flake"):
            scraped = [row for row in self.rows if row.step == "scrape" and row.batch in (one["number"], None)]
            if not any(row.ends <= pour.starts for row in scraped):
                yield Fault("not scraped", f"batch {other['number']} goes on batch {one['number']}, not scraped")

    def _joint(self, one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[Fault]:
        """Later beside earlier: the squeegee reaches a living edge, and the strip between is flaked in time."""
        since, spread = self._poured(one), self._span(other, "squeegee")
        then = self._poured(other)
        if not (since and then and spread and since < then and self._touch(one, other)):
            return
        if not self._is_joined(one) or (one in self.past.batches and is_taped(one, self.plan)):
            return
        for window, reached in (("wet-edge", spread), ("broadcast", self._span(other, "broadcast"))):
            edge = self._sheet(one).likely(window, "closes", since, self.job.weather)
            if edge and reached and reached.starts > edge + MINUTE:
                late = reached.starts - edge
                yield Fault("joint", f"batch {other['number']} comes {late} late to batch {one['number']} ({window})")

    def _is_joined(self, batch: Mapping[str, Any]) -> bool:
        return self.job.coat(batch["coat"]).get("wet_edge") is not False

    def _touch(self, one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
        for a in one["pieces"]:
            for b in other["pieces"]:
                if a["area"] == b["area"]:
                    if abs(a["part"] - b["part"]) == 1:
                        return True
                elif self.job.touch(a["area"], b["area"]) and _at_the_end(a, b):
                    return True
        return False


def _at_the_end(earlier: Mapping[str, Any], later: Mapping[str, Any]) -> bool:
    """Parts of an area lie one behind the other along the way; the last of one meets the first of the next."""
    return bool(earlier["part"] == earlier["parts"] and later["part"] == 1)


def told(found: Sequence[Fault]) -> str:
    """For a failing test."""
    return "\n".join(f"{fault.kind}: {fault.text}" for fault in found)
