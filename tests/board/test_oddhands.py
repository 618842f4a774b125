"""What happens to a board in a pocket, in gloves, on a small glass: odd things that must state nothing by mistake."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from mixclock.board.house import RecentStatement
from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing, studio_plan
from tests.board.stated import come_to
from tests.board.test_everystate import WRONG
from tests.board.test_inhands import settled
from tests.board.test_kitpage import ROUND

CLOCK = SystemClock()
MIN = timedelta(minutes=1)


def house(*minutes_ago: float) -> FakeHouse:
    now = CLOCK.now()
    made = FakeHouse(planned=studio_plan(now))
    made.rounds = lambda now: {"ready": ROUND, "evening": [], "morning": []}  # type: ignore[method-assign]
    for bay, ago in enumerate(minutes_ago, 1):
        made.state(mixing(f"bay {bay}"), now - ago * MIN, "mixer")
    return made


def test_letters_typed_into_a_field_state_nothing_and_enter_sends_them(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    page.evaluate("localStorage.setItem('mixclock.pedal', JSON.stringify('Enter'))")
    page.keyboard.press("m")
    page.get_by_role("button", name="Ready?").click()
    page.get_by_role("button", name="Leave it out").click()
    page.wait_for_selector(".typed")
    page.locator(".typed").press_sequentially("below bow, w m h n o")
    assert page.inner_text("#sheet-title") == "Ready before any kit?"
    page.keyboard.press("Enter")
    come_to(page, served.house, "mixing", "ready")
    assert served.house.live()[-1].statement["answer"] == "below bow, w m h n o"
    page.wait_for_function("() => mixclockBoard.said.length === 3")  # what it asks next, it asks aloud


def test_back_closes_a_sheet_and_does_not_leave_the_board_at_once(serve: Any, phone: Any) -> None:
    page = phone(serve(house(3)), has_touch=True)
    page.locator("#job").tap()
    page.locator("#more").tap()
    page.evaluate("history.back()")
    page.wait_for_selector("#sheet", state="hidden")
    page.evaluate("history.back()")
    page.wait_for_function("() => document.querySelector('#toast').textContent.startsWith('Back once more')")
    assert page.locator("#now-first .main").is_visible()


def test_a_tap_and_a_reload_and_a_tap_at_the_same_place_state_one_step(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    settled(page)
    box = page.locator("#now-first .does .main").bounding_box()
    at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*at)
    page.wait_for_timeout(120)
    page.reload()
    page.wait_for_selector("#now-first .does .main")
    page.touchscreen.tap(*at)
    come_to(page, served.house, "mixing", "poured")


def test_a_pedal_that_is_stood_on_or_is_the_space_bar_states_one_step(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    settled(page)
    page.evaluate("localStorage.setItem('mixclock.pedal', JSON.stringify(' '))")
    page.locator("#bar-heard").focus()
    for _ in range(3):  # down again and again, as a keyboard repeats it, with a button in focus
        page.keyboard.down(" ")
    page.keyboard.up(" ")
    come_to(page, served.house, "mixing", "poured")
    page.keyboard.press("m")
    assert "key Space" in page.inner_text("#sheet")


def test_a_page_turned_while_a_dump_is_asked_keeps_asking_and_states_it_once(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    settled(page)
    page.locator(".number").first.tap()
    settled(page)
    page.locator("#sheet .target", has_text="Dumped").first.tap()
    page.wait_for_function("() => document.querySelector('#sheet-title').textContent.startsWith('How much')")
    page.set_viewport_size({"width": 844, "height": 390})
    settled(page)
    page.locator("#sheet-body .target", has_text="most").tap()
    come_to(page, served.house, "mixing", "dumped", "dumped")
    said = [each.statement for each in served.house.live()][1:]
    assert said[-1]["share"] == "most"


def test_a_phone_that_comes_out_of_a_pocket_sends_what_it_kept_each_once_in_order(serve: Any, phone: Any) -> None:
    served = serve(house(3, 2))
    page, other = phone(served), phone(served)
    tab = page.context.new_page()
    tab.goto(served.server.address)
    tab.wait_for_selector("#contact[data-state=ok]")
    page.context.set_offline(True)
    for number in (1, 2):
        page.evaluate(
            "(batch) => import('/static/main.js').then(({ state }) => { state({ verb: 'poured', batch }, {}); })",
            number,
        )
    page.wait_for_selector(".notice.taps")
    assert "2 on this phone" in page.inner_text(".notice.taps")
    page.context.set_offline(False)
    page.wait_for_selector(".notice.taps", state="detached", timeout=15_000)
    other.wait_for_function("() => document.querySelector('#bar-out-what').textContent === 'no bucket'")
    poured = [each.statement["batch"] for each in served.house.live() if each.statement["verb"] == "poured"]
    assert poured == [1, 2]


def test_small_glass_and_a_page_twice_as_large_cut_nothing(serve: Any, phone: Any) -> None:
    long = "x" * 200
    made = house(3, 12)
    made.recent = lambda now: [RecentStatement(1, f"Noted: {long}", now, long, False)]  # type: ignore[method-assign]
    page = phone(serve(made))
    for size in ((320, 568), (360, 640), (683, 384)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        settled(page)
        assert cut(page) == [], size
    page.get_by_role("button", name="Show the rest").click()
    page.keyboard.press("m")
    page.get_by_role("button", name="What was stated").click()
    page.set_viewport_size({"width": 320, "height": 568})
    settled(page)
    assert cut(page) == []


def cut(page: Any) -> list[str]:
    """What is cut; how large a finger's target is depends on the glass."""
    return [each for each in page.evaluate(WRONG) if not each.startswith("small")]
