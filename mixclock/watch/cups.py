"""The daemon's care for test cups: the voice asks how warm a running one is, until somebody says it or it has ended.

A cup needs no job, so no log holds the question. After a restart it is asked again; an answer ends it.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from mixclock.decide.cupasking import asked_next, end_is_asked
from mixclock.job.cups import Cup
from mixclock.job.profile import Profile
from mixclock.outside.book import BookError
from mixclock.outside.channels.deliver import Sender
from mixclock.outside.channels.message import Message
from mixclock.outside.clock import Clock
from mixclock.outside.cupshelf import CupShelf
from mixclock.outside.profilefiles import ProfileFileError, find
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.values import dataclass
from mixclock.words.cupwords import ASKED, cup_line, cup_question

Run = Callable[[Callable[[], None]], None]
EXAMPLE_C = 31.0


@dataclass
class _Question:
    """When a cup was last asked, under which name, and what it had shown by then."""

    at: datetime
    message_id: str
    read: int
    open: bool = True


class CupAsker:
    """Asks running cups for their warmth."""

    def __init__(self, shelf: CupShelf, sender: Sender, clock: Clock, fault: Callable[[str], None], run: Run) -> None:
        """`fault` takes a line that says what went wrong. `run` begins a piece of work without waiting for it."""
        self._shelf, self._sender, self._clock, self._fault, self._run = shelf, sender, clock, fault, run
        self._asked: dict[tuple[str, str, datetime], _Question] = {}
        self._sheets: dict[str, Profile | None] = {}
        self._running: tuple[Cup, ...] = ()

    def tend(self, units: CrewUnits = METRIC_CREW) -> None:
        """Ask each question that is due, and take away the answered ones."""
        now = self._clock.now()
        try:
            self._running = self._shelf.running(now)
        except BookError as error:
            self._fault(f"the test cups cannot be read: {error}")
            return
        for cup in self._running:
            self._tend(cup, now, units)
        for name in self._asked.keys() - {_name(cup) for cup in self._running}:
            self._take_away(self._asked.pop(name))

    @property
    def any_runs(self) -> bool:
        """Whether a cup runs now, so that somebody stays with it."""
        return bool(self._running)

    def lines(self, units: CrewUnits) -> list[str]:
        """The cups that run, for the screen, each with what it is asked."""
        now = self._clock.now()
        return [f"{cup_line(cup, now, units)}: {ASKED}" for cup in self._running]

    def heard(self, message_id: str) -> bool:
        """Somebody pressed "heard" on a question: let it wait for its next time. False where no cup asked it."""
        found = [asked for asked in self._asked.values() if asked.message_id == message_id]
        for asked in found:
            self._take_away(asked)
        return bool(found)

    def _tend(self, cup: Cup, now: datetime, units: CrewUnits) -> None:
        asked, sheet = self._asked.get(_name(cup)), self._sheet(cup.product)
        if asked is not None and len(cup.read) > asked.read:
            self._take_away(asked)
        due = asked_next(cup, sheet, asked.at if asked else None, now)
        if due is None or now < due:
            return
        words = cup_question(cup, self._running, end_is_asked(cup, sheet, now))
        example = units.write_temp(EXAMPLE_C).replace(" °", "")
        how = f"{words} Say it on the page, or: mixclock cup reading {example}"
        message = Message(f"cup.{cup.lot or cup.product}.{cup.began:%H%M%S}", "timely", words, how, words)
        self._asked[_name(cup)] = _Question(now, message.alert_id, len(cup.read))
        self._run(lambda: self._send(message))

    def _send(self, message: Message) -> None:
        self._sender.deliver(message)

    def _take_away(self, asked: _Question) -> None:
        if asked.open:
            asked.open = False
            self._run(lambda: self._withdraw(asked.message_id))

    def _withdraw(self, message_id: str) -> None:
        self._sender.withdraw(message_id)

    def _sheet(self, product: str) -> Profile | None:
        if product not in self._sheets:
            try:
                self._sheets[product] = find(product).profile
            except ProfileFileError:
                self._sheets[product] = None
        return self._sheets[product]


def _name(cup: Cup) -> tuple[str, str, datetime]:
    return cup.product, cup.lot, cup.began
