"""What was stated on one phone stands on the others before anything is worked out of it, and never says otherwise."""

from __future__ import annotations

import asyncio
import json
import random
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

import pytest

from mixclock.board.house import Along, FirstWord, RefusedError
from mixclock.board.hub import Hub, Stream
from mixclock.board.joining import JoinedHouse
from mixclock.board.taps import read_statement
from mixclock.board.view import ViewParts, build_view
from mixclock.outside.clock import FakeClock, SystemClock
from mixclock.wiring import House
from tests.board.boardfakes import FakeHouse, mixing

AS_IN_THE_VIEW = ("product", "amount", "grit", "where", "stage", "stage_words", "in_bucket", "mixed_at")


def _said(joined: JoinedHouse, statement: dict[str, Any], at: datetime, by: str | None = "mixer") -> dict[str, Any]:
    words: list[FirstWord] = []
    joined.state(read_statement(statement), at, by, Along(heard=words.append))
    (word,) = words
    return dict(word.told)


def _view(joined: JoinedHouse, now: datetime) -> dict[str, Any]:
    return build_view(
        ViewParts(joined.snapshot(now), joined.floor(), joined.planned_next(now), joined.recent(now)), now
    )


def test_a_bucket_that_somebody_mixed_can_be_poured_on_every_phone_at_once_and_names_no_time_yet(
    joined: JoinedHouse, clock: FakeClock
) -> None:
    clock.advance(60)
    card = _said(joined, mixing("bay 1"), clock.now())["card"]
    assert (card["id"], card["stage_words"], card["amount"], card["where"]) == (1, "in the bucket", "9 L", "bay 1")
    assert card["next"]["statement"] == {"verb": "poured", "batch": 1}
    assert (card["closes"], card["waits"], card["windows"]) == (None, None, [])
    assert (card["told"]["at"], card["told"]["by"], card["is_new"]) == ("2026-04-13T08:01:00Z", "mixer", True)


def test_a_poured_bucket_loses_the_time_by_which_it_had_to_be_out_and_says_when_it_was(
    joined: JoinedHouse, clock: FakeClock
) -> None:
    clock.advance(60)
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    assert _view(joined, clock.now())["batches"][0]["closes"] is not None
    clock.advance(300)
    card = _said(joined, {"verb": "poured", "batch": 1}, clock.now())["card"]
    assert (card["stage_words"], card["told"]["label"], card["closes"]) == ("on the floor", "Poured", None)


def test_a_bucket_that_was_thrown_away_is_gone_at_once(joined: JoinedHouse, clock: FakeClock) -> None:
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    assert _said(joined, {"verb": "dumped", "batch": 1, "share": "all"}, clock.now())["card"]["stage"] == "done"


def test_who_is_on_a_step_moves_no_time_on_the_card(joined: JoinedHouse, clock: FakeClock) -> None:
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer")
    card = _said(joined, {"verb": "began", "step": "pour-out", "batch": 1}, clock.now(), "roller")["card"]
    assert card == {"id": 1, "began": {"by": "roller", "at": "2026-04-13T08:00:00Z"}}


def test_what_goes_with_a_statement_is_kept_with_it_or_not_at_all(
    house: House, joined: JoinedHouse, clock: FakeClock
) -> None:
    joined.state(read_statement(mixing("bay 1")), clock.now(), "mixer", Along({"board.taps": "one"}))
    assert joined.setting("board.taps") == JoinedHouse(house).setting("board.taps") == "one"
    with pytest.raises(RefusedError, match="batch 9"):
        joined.state(read_statement({"verb": "poured", "batch": 9}), clock.now(), None, Along({"board.taps": "two"}))
    assert joined.setting("board.taps") == JoinedHouse(house).setting("board.taps") == "one"


@pytest.mark.parametrize("seed", range(6))
def test_whatever_is_stated_the_first_word_says_what_the_whole_view_then_says(
    joined: JoinedHouse, clock: FakeClock, seed: int
) -> None:
    dice, told = random.Random(seed), 0
    for bay in ("bay 1", "bay 2"):
        joined.state(read_statement(mixing(bay)), clock.now(), "mixer")
    for _ in range(14):
        clock.advance(dice.choice([20, 90, 400]))
        at = clock.now() - timedelta(seconds=dice.choice([0, 0, 5, 60]))
        try:
            word = _said(joined, any_statement(dice), at, dice.choice(["mixer", None]))
        except RefusedError:
            continue
        told += 1
        view = _view(joined, clock.now())
        if word["recent"] is not None:
            assert word["recent"] == view["recent"][0]
        _require_no_contradiction(word["card"], view)
    assert told > 4


def any_statement(dice: random.Random) -> dict[str, Any]:
    """Something that a phone may state of the first two buckets."""
    batch = dice.randint(1, 2)
    return dice.choice(
        [
            mixing(dice.choice(["bay 1", "bay 2"])),
            {"verb": "poured", "batch": batch},
            {"verb": "poured", "batch": batch, "part_l": 3.0},
            {"verb": "mixed", "batch": batch},
            {"verb": "rolled", "batch": batch},
            {"verb": "flaked", "batch": batch},
            {"verb": "did", "step": "wet-edge", "batch": batch},
            {"verb": "began", "step": "back-roll", "batch": batch},
            {"verb": "dumped", "batch": batch},
            {"verb": "reading", "slab_c": float(dice.randint(12, 24))},
            {"verb": "noted", "text": "the door stood open"},
            {"verb": "saw", "sign": "string", "batch": batch},
        ]
    )


def _require_no_contradiction(card: dict[str, Any] | None, view: dict[str, Any]) -> None:
    if card is None:
        return
    shown = next((each for each in view["batches"] if each["id"] == card["id"]), None)
    if "told" not in card:
        assert shown is None or shown["began"] is None or shown["began"]["by"] == card["began"]["by"]
        return
    assert (card["closes"], card["waits"], card["windows"]) == (None, None, [])
    if shown is None:  # nothing of it waits for anything any more: the view leaves it out
        assert not card["in_bucket"]
    else:
        assert {name: card[name] for name in AS_IN_THE_VIEW} == {name: shown[name] for name in AS_IN_THE_VIEW}
        if card["next"] is not None and shown["next"] is not None and shown["next"]["statement"]["verb"] == "poured":
            assert card["next"] == shown["next"]


def _sent(stream: Stream, count: int) -> list[tuple[str, dict[str, Any]]]:
    async def read() -> list[bytes]:
        events = stream.events()
        return [await asyncio.wait_for(anext(events), 5) for _ in range(count)]

    # in a thread of its own: where a browser was driven before, this one has a loop already
    with ThreadPoolExecutor(1) as apart:
        told = [piece.decode().split("\n") for piece in apart.submit(asyncio.run, read()).result()]
    return [(name.removeprefix("event: "), json.loads(data.removeprefix("data: "))) for name, data, *_ in told]


def test_a_phone_that_is_slow_gets_every_word_once_and_none_that_its_view_holds() -> None:
    hub = Hub()
    hub.show({"job": "shed", "batches": []})
    stream = hub.open("phone")
    for number in (1, 2, 3):
        hub.say("shed", number, json.dumps({"number": number}))
    hub.say("porch", 4, json.dumps({"number": 4}))
    hub.show({"job": "shed", "batches": [1]}, None, 2)
    (first, word), (second, view) = _sent(stream, 2)
    assert (first, word, second) == ("stated", {"number": 3}, "view")
    assert (view["words"], view["batches"]) == (2, [1])


def test_whoever_stated_it_gets_the_word_after_those_who_do_not_know_it_yet(monkeypatch: pytest.MonkeyPatch) -> None:
    hub, told = Hub(), list[str]()
    monkeypatch.setattr(Stream, "offer_word", lambda stream, *_: told.append(stream.phone))
    hub.show({"job": "shed"})
    for phone in ("mixer's", "roller's", "helper's"):
        hub.open(phone)
    hub.say("shed", 1, "{}", "mixer's")
    assert told == ["roller's", "helper's", "mixer's"]


def test_a_view_that_says_the_same_is_sent_all_the_same_where_it_holds_a_newer_word() -> None:
    hub = Hub()
    assert hub.show({"job": "shed"}, None, 0)
    assert not hub.show({"job": "shed"}, None, 0)
    assert hub.show({"job": "shed"}, None, 1)
    assert not hub.show({"job": "shed"}), "where nothing is told of words it holds those of the view before"
    assert hub.sealed()["words"] == 1


class _Held(FakeHouse):
    """A house that works out what follows a statement only when it is let, where it is told so. It never holds a
    look that came before the statement: that would keep the statement itself waiting."""

    def __init__(self) -> None:
        super().__init__()
        self.holds_after_the_next = False
        self.may_reckon = threading.Event()
        self.may_reckon.set()

    def state(self, *told: Any, **named: Any) -> Any:
        if self.holds_after_the_next:
            self.may_reckon.clear()
        return super().state(*told, **named)

    def snapshot(self, now: datetime) -> Any:
        assert self.may_reckon.wait(20)
        return super().snapshot(now)

    @contextmanager
    def held(self) -> Iterator[None]:
        """What is stated herein is not followed by anything before its end."""
        self.holds_after_the_next = True
        try:
            yield
        finally:
            self.holds_after_the_next = False
            self.may_reckon.set()


SEES = "(words) => document.querySelector('#cards')?.innerText.toLowerCase().includes(words)"
FOLLOWED = "() => document.querySelectorAll('.card[data-first]').length === 0"


def test_the_other_phone_shows_a_step_while_what_follows_is_still_worked_out_then_its_deadline(
    serve: Callable[..., Any], phone: Callable[..., Any]
) -> None:
    house = _Held()
    house.state(mixing("bay 1"), SystemClock().now() - timedelta(minutes=9), "mixer")
    served = serve(house)
    mixer, roller = phone(served), phone(served)
    for page in (mixer, roller):
        page.wait_for_function(SEES, arg="pour it out")
        assert page.locator(".card[data-first]").count() == 0
    call = "() => document.querySelector('#now').innerText.toLowerCase().includes('pour')"
    roller.wait_for_function(call)
    with house.held():
        _state(mixer, {"verb": "heard", "alerts": ["b1.pour-out"]})
        roller.wait_for_function("() => document.querySelector('#now').innerText.toLowerCase().includes('heard by')")
    with house.held():
        _state(mixer, {"verb": "poured", "batch": 1})
        roller.wait_for_function(SEES, arg="on the floor")
        assert roller.locator(".card[data-first]").count() == 1
        card = roller.inner_text(".card").lower()
        assert "poured " in card
        assert "pour it out" not in card, "the time that is over is not shown any more"
        assert roller.inner_text(".card .remain") == ""
        roller.wait_for_function("() => !document.querySelector('#coming').innerText.includes('bay 1')")
        roller.wait_for_function(f"() => !({call})()")
    roller.wait_for_function(FOLLOWED)
    with house.held():
        _state(mixer, mixing("bay 2"))
        roller.wait_for_function("() => document.querySelectorAll('.card').length === 2")
        roller.wait_for_function("() => document.querySelectorAll('.card[data-first] .does .target').length === 1")
    roller.wait_for_function(FOLLOWED)
    assert "back-roll" in roller.inner_text(".card >> nth=0").lower() + roller.inner_text(".card >> nth=1").lower()


def _state(page: Any, statement: dict[str, Any]) -> None:
    page.evaluate(f"import('/static/main.js').then(({{ state }}) => {{ state({json.dumps(statement)}) }})")
