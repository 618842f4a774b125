"""The one button for a gloved hand, without a page: a pedal or a shutter key that types into the terminal.

A press states the step in the page's large panel. A hold only speaks. The caller reads the keys and says when a press
or a hold began; apart from the house that takes the statements this is pure.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.board.house import BoardHouse, RefusedError
from mixclock.board.taps import read_statement
from mixclock.board.view import TABLE, ViewParts, build_view
from mixclock.job.stepkinds import CallKind
from mixclock.job.steps import Rank, Stage
from mixclock.units import wall_zone, write_clock
from mixclock.units.wall import TWELVE_HOURS
from mixclock.values import dataclass
from mixclock.words.enumeration import list_words
from mixclock.words.spoken import spoken_s

Json = Mapping[str, Any]

BOUNCE = timedelta(seconds=1.5)
"""Presses this close together are one: pedals stick and bounce."""

HOLD_AGAIN = timedelta(seconds=12)
"""A hold within this of the one before goes a step further (judgement)."""

MOST_SAID_S = 7.6
"""What is asked by ear is answered within eight seconds; how long a voice takes is only reckoned here."""


@dataclass(frozen=True)
class _LastStatement:
    entry: int
    words: str


class OneButton:
    """States, speaks, takes back. Only the house's own thread may call it."""

    def __init__(self, house: BoardHouse) -> None:
        self._house = house
        self._last: _LastStatement | None = None
        self._pressed: datetime | None = None
        self._held: datetime | None = None
        self._holds = 0

    def press(self, at: datetime) -> str:
        """State that the next step was finished at an instant. Gives the statement in words; empty for a bounce."""
        bounced = self._pressed is not None and at - self._pressed < BOUNCE
        if bounced:
            return ""
        self._pressed = at
        view = self._view(at)
        item = next_to_state(view)
        if item is None:
            return "Nothing to state now."
        label = item["done"]["label"]
        if not is_for_button(item):
            return f"Not by the button: {label}, {place_of(item)}. Look at the board."
        try:
            answer = self._house.state(read_statement(item["done"]["statement"]), at, None)
        except RefusedError as refused:
            return f"Not stated: {label}. {refused}"
        said = f"{place_of(item)} {label[:1].lower()}{label[1:]}, {write_clock(at, _wall(view))}."
        self._last = _LastStatement(answer.entry, said)
        return " ".join((said, *answer.look_out[:1]))

    def hold(self, at: datetime) -> str:
        """Held once it says what is next; held again, what could be taken back. A third hold takes it back."""
        again = self._held is not None and at - self._held < HOLD_AGAIN
        self._holds = self._holds + 1 if again else 1
        self._held = at
        if self._holds == 1:
            return what_is_next(self._view(at), at, self._kit(at))
        if self._last is None:
            return "Nothing was stated by this button."
        if self._holds == 2:
            return f"Hold once more to take back: {self._last.words}"
        self._holds = 0
        taken, self._last = self._last, None
        try:
            self._house.withdraw(taken.entry, at, None)
        except RefusedError as refused:
            return f"Not taken back: {refused}"
        return f"Taken back: {taken.words}"

    def ask(self, at: datetime) -> str:
        """Say whether the next kit may be opened. The book keeps the question, so that it is asked again by itself."""
        try:
            return f"Next kit: {self._house.ask_next_kit(at, None)['spoken']}"
        except RefusedError as refused:
            return f"Not known: keep it shut. {refused}"

    def _kit(self, now: datetime) -> Json | None:
        """The answer about the next kit. If it can't be worked out, it says so and the rest goes on."""
        try:
            return self._house.next_kit(now)
        except Exception as defect:
            said = f"not known, keep it shut ({type(defect).__name__})"
            return {"said": said, "spoken": f"{said}."}

    def _view(self, now: datetime) -> Json:
        house = self._house
        return build_view(ViewParts(house.snapshot(now), house.floor(), house.planned_next(now), ()), now)


def _wall(view: Json) -> ZoneInfo:
    return wall_zone(view["zone"], clock=TWELVE_HOURS if view["twelve_hours"] else None)


def agenda(view: Json) -> Iterator[dict[str, Any]]:
    """What stands in the page's large panel, the most urgent first: calls, then steps, then the next batch."""
    live = [alert for alert in view["alerts"] if alert["stage"] != Stage.OPENED or not alert["heard_by"]]
    yield from live
    called = {alert["batch"] for alert in live}
    for card in view["batches"]:
        if card["closes"] and card["id"] not in called:
            closes = card["closes"]
            yield {"batch": card["id"], "area": None, "stage": "next", "do": closes["do"], "by": closes["at"],
                   "done": card["next"]}  # fmt: skip
    for plan in view["planned"][:1]:
        mix = view["table"]["mix"]
        done = {"label": mix["label"], "statement": plan["statement"]}
        yield {"batch": None, "area": plan["where"], "stage": "next", "do": mix["do"], "by": None, "done": done}


def next_to_state(view: Json) -> Json | None:
    """The first item that can be stated. For a call that no statement ends that is its batch's next step."""
    own = {card["id"]: card["next"] for card in view["batches"]}
    for item in agenda(view):
        if item.get("done"):
            return item
        is_hot = item.get("rank") == Rank.CRITICAL and item.get("kind") == CallKind.BUCKET
        if (done := own.get(item["batch"])) is not None:
            return {**item, "done": done, "stage": Stage.LOST if is_hot else item["stage"]}
    return None


def is_for_button(item: Json) -> bool:
    """Whether the button may state it. Mixing, dumping and a late pour need eyes and a finger."""
    verb = item["done"]["statement"]["verb"]
    return verb not in (TABLE["mix"]["verb"], TABLE["dump"]["verb"]) and item["stage"] != Stage.LOST


def place_of(item: Json) -> str:
    """The batch, or the place where no batch is meant."""
    return f"Batch {item['batch']}" if item["batch"] is not None else str(item.get("area") or "The job")


def what_is_next(view: Json, now: datetime, kit: Json | None = None) -> str:
    """The next deadline, the one after, whether the next kit may be opened, and all that is lost, in at most eight
    seconds of speech."""
    items = [each for each in agenda(view) if each.get("by") or each.get("id")]
    lost = [each for each in items if each["stage"] == Stage.LOST]
    running = [each for each in items if each["stage"] != Stage.LOST]
    if not items:
        return f"Next kit: {kit['spoken']}" if kit else "Nothing is due."
    ways = list(_ways(running[:2], lost, now, f"Next kit: {kit['said']}." if kit else ""))
    return next((said for said in ways if spoken_s(said) <= MOST_SAID_S), ways[-1])


def _ways(running: Sequence[Json], lost: Sequence[Json], now: datetime, kit: str) -> Iterator[str]:
    """The same in fewer and fewer words. The kit is told only where there is room, as on the page."""
    least = ((True, " left", 2), (True, "", 2), (False, "", 2), (False, "", 1), (False, "", 0))
    for told, (place, left, do) in ((True, least[0]), *((False, each) for each in least)):
        if told and not kit:
            continue
        lines = [
            f"{name} {_line(item, now, place=place, left=left, do=number < do)}."
            for number, (name, item) in enumerate(zip(("Next", "Then"), running, strict=False))
        ]
        yield " ".join((*lines, *([kit] if told else []), *_lost(lost)))
    yield " ".join((*lines, f"{len(lost)} lost."))


def _line(item: Json, now: datetime, *, place: bool, left: str, do: bool) -> str:
    words = str(item["do"])
    named = f"batch {item['batch']}" if item["batch"] is not None else (item.get("area") or "" if place else "")
    what = words[:1].lower() + words[1:] if do or not named else ""
    return ", ".join(filter(None, (what, named, _left(item.get("by"), now, left))))


def _left(by: str | None, now: datetime, left: str) -> str:
    if by is None:
        return ""
    minutes = int((datetime.fromisoformat(by) - now).total_seconds() // 60)
    if minutes < 0:
        return "late"
    if minutes < 1:
        return f"under a minute{left}"
    if minutes < 90:
        return f"{'one minute' if minutes == 1 else f'{minutes} minutes'}{left}"
    return f"{minutes // 60} hours{left}"


def _lost(lost: Sequence[Json]) -> Iterator[str]:
    """Everything that is lost, each batch once."""
    places = list(dict.fromkeys(place_of(each) for each in lost))
    numbers = [each.removeprefix("Batch ") for each in places if each.startswith("Batch ")]
    if len(numbers) == len(places) > 1:
        yield f"Lost: batches {list_words(numbers)}."
    elif places:
        yield f"Lost: {', '.join(each[:1].lower() + each[1:] for each in places)}."
