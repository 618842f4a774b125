"""A crew that does what it is told: it asks `next`, mixes what that allows, and states each step as it is done.

It stands on the real commands and on the board's house, on a clock that is held. It knows nothing of windows itself: if
what it is told is wrong, its floor shows it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.board.joining import JoinedHouse
from mixclock.job.statements import VERBS
from mixclock.wiring import open_house
from tests.frozen import Machine
from tests.running import Ran

MINUTE = timedelta(minutes=1)
MOST_ASKED = 400
MOST_DAYS = 14


@dataclass
class LedCrew:
    """Who is led. `rates` are square metres an hour for spreading, rolling and flaking."""

    run: Callable[..., Ran]
    machine: Machine
    zone: str
    reading: tuple[str, ...]
    rates: tuple[float, float, float] = (110.0, 75.0, 60.0)
    sizes: dict[str, float] = field(default_factory=dict)
    flaked: frozenset[str] = frozenset()
    said: list[str] = field(default_factory=list)
    answers: list[tuple[str, str]] = field(default_factory=list)
    morning_at: int = 7
    interrupted: bool = False
    mixer: str = "applicator"

    def tell(self, *words: str, code: int = 0) -> Ran:
        """A command that is taken."""
        ran = self.run(*words)
        assert (ran.code, ran.err) == (code, ""), (words, ran)
        self.said.append(f"{self.there:%a %H:%M} {' '.join(words)}")
        return ran

    def tap(self, verb: str, **told: Any) -> str:
        """The same by a phone: through the house as the board has it."""
        house = JoinedHouse(open_house())
        try:
            answer = house.state(VERBS[verb].told(told), self.machine.now(), None)
        finally:
            house.close()
        self.said.append(f"{self.there:%a %H:%M} (phone) {verb} {told}")
        return answer.said

    @property
    def there(self) -> datetime:
        return self.machine.now().astimezone(ZoneInfo(self.zone))

    def next(self) -> dict[str, Any]:
        """What `next` answers; 1 where it is not yes."""
        ran = self.run("next", "--json")
        assert ran.err == ""
        told: dict[str, Any] = ran.json
        assert ran.code == (0 if told["answer"] == "yes" else 1)
        self.answers.append((told["answer"], told["why"]))
        return told

    def lay_everything(self) -> None:
        """Until every coat is on: what `next` allows is mixed, what it forbids is made a yes as it says."""
        for _ in range(MOST_ASKED):
            told = self.next()
            if told["answer"] == "yes":
                self._one_bucket(told)
            elif told["why"] == "done":
                return
            elif told["why"] in ("edge", "edge gone"):
                self.tell("taped", "--on", told["edge"])
            elif told["answer"] == "wait" and told["wait_s"] < 3600.0:
                self._finish_what_is_open(told)
            elif told["from"] is not None or told["why"] in ("hours", "busy"):
                self._go_home(told)
            else:
                raise AssertionError(f"the crew stands still: {told}")
        raise AssertionError(f"the floor is never done: {self.answers[-5:]}")

    def _one_bucket(self, told: dict[str, Any]) -> None:
        self.machine.wait(3 * MINUTE)  # measured out
        area, coat = told["areas"][0], told["coat"]
        amount = f"{told['volume_l']:.2f} L"
        by = ("--on", area, "--coat", coat, "--by", self.mixer)
        self.tell("mixing", told["product"], amount, *by, "--lot-a", f"A-{coat}", "--lot-b", f"B-{coat}")
        self.machine.wait(3 * MINUTE)
        self.tell("mixed")
        self.machine.wait(MINUTE)
        if not self.interrupted:
            self._called_away()
        self.tell("poured", "--by", self.mixer)
        size = min(self.sizes[area], told["volume_l"] / self._per_m2(coat))
        self.machine.wait(timedelta(hours=size / self.rates[0]))
        self.machine.wait(timedelta(hours=size / self.rates[1]))
        self.tap("rolled")
        if coat in self.flaked:
            self.machine.wait(timedelta(hours=size / self.rates[2]))
            ran = self.run("flaked", "--json")
            assert (ran.code, ran.err) == (0, "")
            self.thrown_on.add(ran.json["batch"])

    def _per_m2(self, coat: str) -> float:
        return self.litres_per_m2[coat]

    litres_per_m2: dict[str, float] = field(default_factory=dict)

    thrown_on: set[int] = field(default_factory=set)

    def _called_away(self) -> None:
        """Once, with a bucket in hand: it hears what to save first, and is back within two minutes."""
        self.interrupted = True
        told = self.tell("stopped", "telephone").out
        assert "pour it out" in told
        self.machine.wait(MINUTE)
        assert "away" in self.tell("back").out

    def _finish_what_is_open(self, told: dict[str, Any]) -> None:
        self.machine.wait(timedelta(seconds=max(30.0, told["wait_s"])))

    def _go_home(self, told: dict[str, Any]) -> None:
        """The evening round, the night, the morning round with its readings, and the scrape of a flaked coat."""
        self.evening()
        opens = datetime.fromisoformat(told["from"]) if told["from"] else None
        morning = self.there.replace(hour=self.morning_at, minute=0, second=0, microsecond=0)
        for _ in range(MOST_DAYS):
            if morning.astimezone(self.machine.now().tzinfo) > self.machine.now():
                break
            morning += timedelta(days=1)
        self.machine.pass_until(morning.astimezone(ZoneInfo("UTC")))
        self.tell("reading", *self.reading)
        self.morning()
        if opens is not None and opens > self.machine.now() and opens - self.machine.now() < timedelta(hours=11):
            self.machine.pass_until(opens)
            self.tell("reading", *self.reading)

    def evening(self) -> None:
        """Answered by taps, all but one, which then stands as not recorded."""
        for item, answer in (("doors", "shut"), ("heater", "off"), ("leftovers", "cold, outside"), ("barrier", "up")):
            self.tap("evening", item=item, answer=answer)

    def morning(self) -> None:
        for item, answer in (
            ("thumb", "no mark"),
            ("grease", "no grease"),
            ("conditions", "read"),
            ("coat by", "seen"),
        ):
            self.tap("morning", item=item, answer=answer)
        if self.flaked:
            self._scraped()

    def _scraped(self) -> None:
        snapshot = self.run("now", "--json").json
        for batch in snapshot["batches"]:
            if batch["id"] not in self.thrown_on:
                continue
            for window in batch["windows"]:
                if window["name"] == "scrape" and window["state"] in ("open", "closing"):
                    self.tell("did", "scrape", str(batch["id"]))
                    break
