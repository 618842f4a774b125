"""The next kit and the rounds on a phone: the answer stands on the panel, a no takes the button away."""

from __future__ import annotations

import json
import threading
from typing import Any

from mixclock.decide.plan.search.givingway import give_way
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing, studio_plan

CLOCK = SystemClock()
NO = {
    "answer": "no",
    "why": "edge",
    "said": "No: tape here",
    "because": "the wet edge of bay 2 lasts until 10:31",
    "ways": ["Yes once bay 2 is taped in a straight line"],
    "beside": [],
    "from": None,
    "wait_s": None,
    "spoken": "No: tape here. The wet edge of bay 2 lasts until 10:31.",
}
YES = {
    **NO,
    "answer": "yes",
    "said": "Yes: 6 L for bay 3, poured by 10:42",
    "because": "",
    "ways": [],
    "spoken": "Yes: 6 L for bay 3, poured by 10:42.",
}


def _asked(item: str, ask: str, takes: str | None, **answers: bool) -> dict[str, Any]:
    taps = [
        {"label": label, "fine": fine, "statement": {"verb": "ready", "item": item, "answer": label}}
        for label, fine in answers.items()
    ]
    blank = dict.fromkeys(("answer", "fine", "warning", "at"))
    return {"item": item, "ask": ask, "takes": takes, "answers": taps, **blank}


ROUND = [
    _asked("cloth", "A dark cloth wiped over it: does it stay clean?", None, clean=True, dusty=False),
    _asked("moisture", "How moist is the slab? The sheet allows 4 %.", "moisture of the slab"),
]


def _house(kit: dict[str, Any]) -> FakeHouse:
    house = FakeHouse(planned=studio_plan(CLOCK.now()), kit=kit)
    house.rounds = lambda now: {"ready": ROUND, "evening": [], "morning": []}  # type: ignore[method-assign]
    return house


def test_a_no_stands_large_on_the_panel_without_a_button_that_starts_a_batch(board: Any, glass: Any) -> None:
    page = glass(board(_house(NO)))
    page.wait_for_function("() => document.querySelector('#now').innerText.includes('tape here')")
    panel = page.inner_text("#now-first")
    assert "lasts until 10:31" in panel
    assert page.locator("#now-first .target.main").count() == 0
    page.click("#bar-in")
    assert "No: tape here" in page.inner_text("#sheet-body .kitno"), "who starts one all the same reads the no first"


def test_the_question_is_asked_with_one_touch_and_kept_with_who_asked(board: Any, glass: Any) -> None:
    house = _house(YES)
    page = glass(board(house))
    page.keyboard.press("n")
    page.wait_for_selector("#sheet-body .kitanswer.yes")
    assert "Yes: 6 L for bay 3, poured by 10:42" in page.inner_text("#sheet-body")
    assert house.asked_by == [None]
    assert "6 L for bay 3" in "".join(page.evaluate("window.mixclockBoard.said"))


def test_a_question_of_a_round_is_answered_by_a_tap_or_in_words_and_may_be_left_out(board: Any, glass: Any) -> None:
    house = _house(YES)
    page = glass(board(house))
    page.keyboard.press("m")
    page.get_by_role("button", name="Ready?").click()
    page.wait_for_selector("#sheet-body .ask")
    assert "does it stay clean" in page.inner_text("#sheet-body .ask")
    page.get_by_role("button", name="Leave it out").click()
    page.wait_for_function("() => document.querySelector('#sheet-body .ask').innerText.includes('4 %')")
    page.fill("#sheet-body .typed", "3.5 %")
    page.get_by_role("button", name="State it").click()
    page.wait_for_function("() => document.querySelector('#toast').innerText.includes('in the book')")
    stated = [each.statement for each in house.live()]
    assert stated == [{"verb": "ready", "item": "moisture", "answer": "3.5 %"}]
    page.wait_for_function("() => mixclockBoard.said.length === 3")  # what it asks next, it asks aloud


def test_what_was_stated_is_seen_before_the_next_kit_is_worked_out(board: Any, glass: Any) -> None:
    house, answered, asked = _house(YES), threading.Event(), threading.Event()
    page = glass(board(house))
    page.wait_for_function("() => document.querySelector('#now-first').innerText.includes('6 L for bay 3')")

    def slow(now: Any) -> dict[str, Any]:
        asked.set()
        answered.wait(20)
        return NO

    house.next_kit = slow  # type: ignore[method-assign]
    try:
        page.evaluate(f"import('/static/main.js').then(({{ state }}) => {{ state({json.dumps(mixing())}) }})")
        page.wait_for_selector(".card")
        # a yes to another bucket is none any more
        page.wait_for_function("() => !document.querySelector('#now').innerText.includes('6 L for bay 3')")
        assert asked.wait(5)
        assert "tape here" not in page.inner_text("body")
    finally:
        answered.set()
    page.wait_for_function("() => document.querySelector('#now').innerText.includes('tape here')")


def test_a_small_mix_is_stated_from_the_moment_of_the_first_touch_with_its_use_and_place(
    board: Any, glass: Any
) -> None:
    house = _house(YES)
    page = glass(board(house))
    page.click("#bar-in")
    page.get_by_role("button", name="A small mix").click()
    sheet = page.locator("#sheet-body")
    sheet.get_by_role("button", name="cove mortar", exact=True).click()
    sheet.get_by_role("button", name="bay 2", exact=True).click()
    sheet.get_by_role("button", name="+ more").click()
    assert "350 mL" in sheet.inner_text()
    assert house.live() == [], "silence begins no batch"
    sheet.get_by_role("button", name="State it a small mix").click()
    page.wait_for_function("() => document.querySelector('#toast').innerText.includes('in the book')")
    (stated,) = [each.statement for each in house.live()]
    assert stated == {
        "verb": "spot", "product": "Slow epoxy base", "volume_l": 0.35, "use": "cove mortar", "areas": ["bay 2"],
    }  # fmt: skip


def test_what_one_states_is_drawn_for_the_other_while_a_slow_answer_is_worked_out_and_no_older_one_passes_as_new(
    board: Any, glass: Any
) -> None:
    house, asked, known = _house(NO), threading.Event(), threading.Event()
    served = board(house)
    mixer, roller = glass(served), glass(served)
    for page in (mixer, roller):
        page.wait_for_function("() => document.querySelector('#now').innerText.includes('tape here')")

    def slow(now: Any) -> dict[str, Any]:
        stood = len(house.entries)
        asked.set()
        while not known.wait(0.005):
            give_way()
        return {**NO, "said": f"No: {stood} stated"}

    def state(statement: dict[str, Any]) -> None:
        mixer.evaluate(f"import('/static/main.js').then(({{ state }}) => {{ state({json.dumps(statement)}) }})")

    house.next_kit = slow  # type: ignore[method-assign]
    try:
        state(mixing())
        roller.wait_for_selector(".card")
        assert asked.wait(5)
        state({"verb": "poured", "batch": 1})
        roller.wait_for_function("() => document.querySelector('.card .stuff').innerText.includes('on the floor')")
        assert not known.is_set()
        view = served.server._desk.hub.view(None)
        assert view["kit"]["outdated"], "the answer is from before both"
        roller.click("#bar-in")
        assert "being worked out again" in roller.inner_text("#sheet-body .kitno")
    finally:
        known.set()
    roller.keyboard.press("Escape")
    roller.evaluate("async () => { window.kept = (await import('/static/main.js')).store }")
    roller.wait_for_function("() => window.kept.view.kit.said === 'No: 2 stated'")
    assert "outdated" not in roller.evaluate("window.kept.view.kit")
