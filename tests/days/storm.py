"""How often a crew is called for the first time in ten minutes, over seeded normal days.

Run `python -m tests.days.storm 200` for the figure over 200 days: of every
person on every day the busiest ten minutes are taken, and of those the 95th percentile. A message that says several
alerts together is one call, and so are the led steps of one mixing; repeats are counted apart. That is stricter than
taking every ten minutes of the day: those are given too.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.buckets import BucketModel
from mixclock.outside.channels.message import Message, Outcome, Receipt
from mixclock.outside.profilefiles import find
from mixclock.words.spoken import spoken_s
from tests.days.clockwork import Day
from tests.days.crewdays import CrewDay, Recipe, first_alerts, most_in_ten_minutes, utc
from tests.days.shed import site

SLOW, FAST, POLYASPARTIC = "Slow epoxy base", "Fast epoxy base", "Polyaspartic top coat"
TEN_MINUTES = timedelta(minutes=10)
MOST_CALLS = 2

MOST_SPOKEN_S = 360.0
"""Of an hour at work no more than a tenth is talked over (judgement)."""


class TakesAll:
    """A sender that takes everything at once: nothing here is about channels."""

    channels = ()

    def deliver(self, message: Message, on_receipt, only=None) -> list[Receipt]:  # type: ignore[no-untyped-def]
        receipt = Receipt("desktop", Outcome.SENT, "taken", True)
        on_receipt(receipt)
        return [receipt]

    def withdraw(self, alert_id: str) -> list[Receipt]:
        return []


@dataclass
class Calls:
    """The calls of every person on every day."""

    busiest: list[int] = field(default_factory=list)
    windows: dict[int, int] = field(default_factory=dict)
    repeats: int = 0
    firsts: int = 0
    critical: int = 0
    idle: int = 0
    spoken_s: float = 0.0
    at_work_h: float = 0.0

    def percentile_95(self) -> int:
        """Of the busiest ten minutes of a person's day."""
        return percentile(self.busiest, 0.95)

    def window_percentile_95(self) -> int:
        """Of every ten minutes, moved on by a minute, between a day's first and last call."""
        every = [calls for calls, times in self.windows.items() for _ in range(times)]
        return percentile(every, 0.95)


def percentile(values: Sequence[int], share: float) -> int:
    """The smallest value that so many of them do not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, -(-int(len(ordered) * share * 1000) // 1000))]


def recipe_of(seed: int) -> tuple[Recipe, str, str]:
    """Who lays what in which weather: products that this crew can keep up with, as a plan would choose."""
    chance = random.Random(seed)
    crew = chance.choice([1, 2, 2])
    base = chance.choice([SLOW, SLOW, FAST]) if crew == 2 else SLOW
    recipe = Recipe(seed, crew, chance.uniform(14, 22), chance.uniform(40, 65))
    return recipe, base, POLYASPARTIC if crew == 2 and recipe.air_c < 19 else SLOW


def lay_a_floor(seed: int, model: BucketModel) -> Day:
    """Two days of one job: base and flake, then scrape and top coat."""
    recipe, base, top = recipe_of(seed)
    job = site(recipe.crew).replace("Shed base", base).replace("Shed top", top)
    texts = [find(name).text for name in dict.fromkeys((base, top))]
    day = Day(job, texts, begins=utc(13, 6, 30), model=model)
    day.delivery._sender = TakesAll()  # type: ignore[assignment]
    crew = CrewDay(recipe, random.Random(seed * 7919 + 1))
    for at, warmer_c in (
        (utc(13, 6, 31), -2),
        (utc(13, 9), 0),
        (utc(13, 11), 1),
        (utc(14, 6, 31), -2),
        (utc(14, 9), 0),
    ):
        crew.reading(at, warmer_c)
    crew.coat(utc(13, 6, 35), base, "base", 3.45, True, 3.0)
    scraper = "applicator" if recipe.crew == 1 else "roller"
    crew.state(utc(14, 7, 30), "did", scraper, step="scrape", areas=[f"bay {n}" for n in range(1, 6)])
    crew.coat(utc(14, 8), top, "top", 1.44, False, 1.0 if top == POLYASPARTIC else 3.0)
    crew.play(day, utc(14, 16))
    assert not day.faults, day.faults
    return day


def count(day: Day, people: Sequence[str], calls: Calls) -> None:
    """Add the calls of one job."""
    for moments in first_alerts(day, people).values():
        for on in (date(2026, 4, 13), date(2026, 4, 14)):
            today = [at for at in moments if at.date() == on]
            calls.busiest.append(most_in_ten_minutes(today))
            _count_windows(today, calls)
    raises = [one for _, bulletin in day.bulletins for one in bulletin.raises]
    calls.repeats += sum(one.repeat > 0 for one in raises)
    calls.firsts += sum(one.repeat == 0 for one in raises)
    told = {(entry.facts.kind, getattr(entry.facts, "step", ""), entry.facts.batch): entry.written
            for entry in day.book.log if getattr(entry.facts, "batch", None) is not None}  # fmt: skip
    for at, bulletin in day.bulletins:
        urgent = [one.alert for one in bulletin.raises if one.alert.rank == "critical"]
        calls.critical += len(urgent)
        calls.idle += sum(_is_said(alert.step, alert.batch, at, told) for alert in urgent)
        if bulletin.message.rank != "notice":
            calls.spoken_s += spoken_s(bulletin.message.speech)
    calls.at_work_h += sum(_hours_of(at for at, _ in day.bulletins if at.date() == on)
                           for on in (date(2026, 4, 13), date(2026, 4, 14)))  # fmt: skip


def _is_said(step: str, batch: int | None, at: datetime, told: Mapping[tuple[str, str, int], datetime]) -> bool:
    """Whether the step that a call asks for was in the book already, or one that makes it needless."""
    ends = {"pour-out": [("poured", "")], "broadcast": [("did", "broadcast")], "wet-edge": [("poured", "")]}
    meant = (batch or 0) + 1 if step == "wet-edge" else batch
    return any(told.get((kind, name, meant), at) < at for kind, name in ends.get(step, ()))


def _hours_of(moments: Iterable[datetime]) -> float:
    """From the first to the last bulletin of a day's work, no longer than a working day."""
    found = [at for at in moments if at.hour < 17]
    return (max(found) - min(found)).total_seconds() / 3600.0 if found else 0.0


def _count_windows(today: Sequence[datetime], calls: Calls) -> None:
    at = min(today, default=None)
    while at is not None and at <= max(today):
        inside = sum(at <= call < at + TEN_MINUTES for call in today)
        calls.windows[inside] = calls.windows.get(inside, 0) + 1
        at += timedelta(minutes=1)


def storm(seeds: Sequence[int]) -> Calls:
    """The calls over many jobs."""
    calls, model = Calls(), bucket_model()
    for seed in seeds:
        recipe, *_ = recipe_of(seed)
        count(lay_a_floor(seed, model), ["applicator"] if recipe.crew == 1 else ["mixer", "roller"], calls)
    return calls


def main(days: int) -> None:
    """Print the figures over so many days; a job has two."""
    found = storm(range(days // 2))
    shares = {calls: found.busiest.count(calls) for calls in sorted(set(found.busiest))}
    print(f"{days} days, {len(found.busiest)} days of a person: busiest ten minutes {shares}")
    print(f"95th percentile: {found.percentile_95()}; of every ten minutes at work: {found.window_percentile_95()}")
    print(f"{found.firsts} first alerts, {found.repeats} repeats and led steps")
    print(f"{found.critical} critical calls, {found.idle} of them for a step that was stated or not needed any more")
    print(f"spoken: {found.spoken_s / max(found.at_work_h, 0.1):.0f} s an hour, over {found.at_work_h:.0f} h at work")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
