"""The board in two gloved hands: at the four sizes of phone, phone on its side, tablet and laptop, by touch."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import FakeHouse, mixing, studio_plan
from tests.board.stated import come_to

CLOCK = SystemClock()
SIZES = [(390, 844), (844, 390), (768, 1024), (1366, 768)]
PHONE_FIRST, SIDEWAYS_FIRST, TABLET_FIRST, LAPTOP_FIRST = (
    [pytest.param(size, marks=[] if place == turn else [pytest.mark.long]) for place, size in enumerate(SIZES)]
    for turn in range(len(SIZES))
)
"""All four, of which the short form looks at one, and at another in the next test."""
MIN = timedelta(minutes=1)

SEEN = """(selector) => {
  const found = [...document.querySelectorAll(selector)].filter((each) => each.getClientRects().length);
  return found.length > 0 && found.slice(0, 1).every((each) => {
    const box = each.getBoundingClientRect();
    if (box.top < 0 || box.bottom > innerHeight || box.left < 0 || box.right > innerWidth) return false;
    return [0.1, 0.5, 0.9].every((share) => {
      const at = document.elementFromPoint(box.left + box.width / 2, box.top + box.height * share);
      return at && (each.contains(at) || at.contains(each));
    });
  });
}"""
"""Whether the first of something stands whole on the glass and nothing covers it."""


def house(*minutes_ago: float, **rest: Any) -> FakeHouse:
    """A house with a bucket mixed so many minutes ago for each bay in turn."""
    now = CLOCK.now()
    made = FakeHouse(planned=studio_plan(now), **rest)
    for bay, ago in enumerate(minutes_ago, 1):
        made.state(mixing(f"bay {bay}"), now - ago * MIN, "mixer")
    return made


def settled(page: Any) -> None:
    """Wait until no button that has just changed or moved turns touches away."""
    page.evaluate("import('/static/main.js').then((main) => main.draw())")
    page.wait_for_function("() => !document.querySelector('.settling')")


def test_the_time_left_and_the_first_button_are_never_cut_or_covered(board: Any, glass: Any) -> None:
    for shown, root in ((house(3), "#now-first"), (house(11, 12), "#shout")):
        page = glass(board(shown))
        for size in SIZES:
            page.set_viewport_size({"width": size[0], "height": size[1]})
            page.wait_for_selector(f"{root} .does .target")
            settled(page)
            for part in (".left", ".what", ".does .target"):
                assert page.evaluate(SEEN, f"{root} {part}"), f"{root} {part} at {size}"
            for button in ("#bar-in", "#bar-out", "#bar-heard"):
                assert page.evaluate(SEEN, button), f"{button} at {size}"


@pytest.mark.parametrize("size", TABLET_FIRST)
def test_what_is_critical_comes_over_an_open_sheet(board: Any, glass: Any, size: Any) -> None:
    served = board(house())
    page = glass(served, size=size)
    page.click("#more")
    assert page.locator("#sheet").is_visible()
    served.house.state(mixing("bay 1"), CLOCK.now() - 11 * MIN, "mixer")
    page.wait_for_selector("#shout:not([hidden]) .does .target")
    settled(page)
    assert page.evaluate(SEEN, "#shout .does .target")


@pytest.mark.parametrize("size", SIDEWAYS_FIRST)
def test_a_sheet_that_is_opened_during_a_critical_call_is_seen_until_the_next_call(
    board: Any, glass: Any, size: Any
) -> None:
    served = board(house(3, 11))
    page = glass(served, size=size)
    page.wait_for_selector("#shout:not([hidden]) .does .target")
    settled(page)
    page.click("#bar-in")
    page.wait_for_selector("body.asking")
    assert page.evaluate(SEEN, "#sheet-title")
    assert page.evaluate(SEEN, "#sheet-body .target")
    page.locator("#sheet").get_by_role("button", name="No, a mistake").click()
    page.wait_for_selector("body:not(.asking)", state="attached")
    settled(page)
    assert page.evaluate(SEEN, "#shout .does .target"), "the call is back once the sheet is closed"
    page.keyboard.press("m")
    page.wait_for_selector("body.asking")
    assert page.evaluate(SEEN, "#sheet-title")
    served.house.state({"verb": "poured", "batch": 2}, CLOCK.now(), "mixer")
    served.house.state(mixing("bay 3"), CLOCK.now() - 12 * MIN, "mixer")
    page.wait_for_function("() => document.querySelector('#shout .lines').textContent.includes('Batch 3')")
    settled(page)
    assert page.evaluate(SEEN, "#shout .does .target"), "another call comes over the sheet"


def test_a_finger_that_scrolls_a_sheet_may_touch_a_button_of_it_at_once(board: Any, glass: Any) -> None:
    page = glass(board(house()), size=(844, 390))
    page.click("#bar-in")
    settled(page)
    page.evaluate("document.querySelector('#sheet').scrollTop = 200")
    page.evaluate("import('/static/main.js').then((main) => main.draw())")
    assert page.evaluate("document.querySelector('#sheet').scrollTop") == 200
    assert page.locator("#sheet .target").count() >= 5
    assert page.locator("#sheet .settling").count() == 0


def test_a_sheet_that_is_left_alone_gives_the_screen_back_to_a_critical_call(serve: Any, phone: Any) -> None:
    page = phone(serve(house(11)))
    page.wait_for_selector("#shout:not([hidden]) .does .target")
    settled(page)
    page.keyboard.press("m")
    assert page.evaluate(SEEN, "#sheet-title")
    page.evaluate("() => { const now = performance.now.bind(performance); performance.now = () => now() + 21000; }")
    page.wait_for_function("() => !document.body.classList.contains('asking')")
    settled(page)
    assert page.evaluate(SEEN, "#shout .does .target")


def test_heard_covers_only_what_is_on_the_screen_and_the_next_one_comes_up(board: Any, glass: Any) -> None:
    served = board(house(11, 12))
    page = glass(served)
    page.wait_for_function("() => document.querySelector('#bar-heard-what').textContent === '1 here, 1 more'")
    assert "and 1 more" in page.inner_text("#shout .moreshout")
    page.click("#bar-heard")
    page.wait_for_function("() => document.querySelector('#bar-heard-what').textContent === '1 to hear'")
    page.wait_for_timeout(300)
    heard = [each.statement["alerts"] for each in served.house.live() if each.statement["verb"] == "heard"]
    assert [len(alerts) for alerts in heard] == [1]
    assert page.locator("#shout").is_visible()


@pytest.mark.parametrize("size", PHONE_FIRST)
def test_heard_leaves_a_call_that_a_sheet_covers_as_it_is(board: Any, glass: Any, size: Any) -> None:
    served = board(house(11))
    page = glass(served, size=size)
    page.wait_for_selector("#shout:not([hidden]) .does .target")
    settled(page)
    page.click("#bar-in")
    page.wait_for_selector("body.asking")
    page.wait_for_function("() => document.querySelector('#bar-heard-what').textContent === '1 not in sight'")
    page.click("#bar-heard")
    page.wait_for_selector("#toast:not([hidden])")
    assert "behind this sheet" in page.inner_text("#toast")
    assert [each.statement["verb"] for each in served.house.live()] == ["mixing"]
    page.locator("#sheet").get_by_role("button", name="No, a mistake").click()
    settled(page)
    page.click("#bar-heard")
    come_to(page, served.house, "mixing", "heard")


def test_the_one_that_can_still_be_saved_stands_before_the_one_that_is_lost(board: Any, glass: Any) -> None:
    lost = {
        "id": "b9.pour-out", "rank": "critical", "stage": "lost", "batch": 9, "area": None, "step": "pour-out",
        "do": "Keep it off the floor", "text": "Batch 9: keep it off the floor.", "due": "2026-04-13T08:00:00.000Z",
        "delivered": [], "heard_by": None, "who": None,
    }  # fmt: skip
    fake = house(11)
    told = fake.snapshot

    def snapshot(now: Any) -> Any:
        return {**told(now), "alerts": [lost, *told(now)["alerts"]]}

    fake.snapshot = snapshot  # type: ignore[method-assign]
    page = glass(board(fake))
    page.wait_for_selector("#shout:not([hidden])")
    assert "Batch 1" in page.inner_text("#shout .lines")
    assert "Keep it off the floor" in page.inner_text("#shout .moreshout")
    page.click("#bar-heard")
    page.wait_for_function("() => document.querySelector('#shout .what')?.textContent === 'Keep it off the floor'")


def test_a_second_thumb_states_no_second_step(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    page.wait_for_selector("#now-first .does .main")
    settled(page)
    box = page.locator("#now-first .does .main").bounding_box()
    at = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.touchscreen.tap(*at)
    page.wait_for_function("() => document.querySelector('#now-first .does .main')?.textContent.startsWith('Rolled')")
    page.touchscreen.tap(*at)
    come_to(page, served.house, "mixing", "poured")
    settled(page)
    page.locator("#now-first .does .main").tap()
    come_to(page, served.house, "mixing", "poured", "rolled")


@pytest.mark.parametrize("size", LAPTOP_FIRST)
def test_no_message_covers_a_mistake(board: Any, glass: Any, size: Any) -> None:
    page = glass(board(house(3)), size=size)
    page.click("#bar-out")
    page.wait_for_selector("#toast:not([hidden]) .back")
    assert "Poured: batch 1" in page.inner_text("#toast .back"), "it names what it takes back"
    page.click("#bar-in")
    mistake = page.get_by_role("button", name="No, a mistake")
    mistake.evaluate("(each) => each.scrollIntoView({ block: 'center' })")
    settled(page)
    box = mistake.bounding_box()
    covered = page.evaluate(
        "([x, y]) => document.elementFromPoint(x, y)?.closest('button')?.textContent",
        [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2],
    )
    assert covered.startswith("No, a mistake")


@pytest.mark.parametrize("size", PHONE_FIRST)
def test_who_is_in_touch_and_what_presses_stay_in_view_and_the_page_comes_back(
    board: Any, glass: Any, size: Any
) -> None:
    served = board(house(*[1.0] * 8))
    page = glass(served, size=size)
    page.wait_for_selector(".card")
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    settled(page)
    assert page.evaluate(SEEN, "#contact")
    presses = (
        "#now-first .left" if size == (1366, 768) else "#urgent"
    )  # a laptop has it beside the list, always in view
    assert page.evaluate(SEEN, presses)
    assert "left" in page.inner_text(presses)
    served.house.state({"verb": "poured", "batch": 1}, CLOCK.now() - 25 * MIN, "mixer")
    page.wait_for_function("() => window.scrollY < 5", timeout=5000)


@pytest.mark.parametrize("size", SIDEWAYS_FIRST)
def test_fourteen_batches_fit_by_saying_alike_ones_together(board: Any, glass: Any, size: Any) -> None:
    made = house(*[1.0] * 14)
    for batch in range(1, 15):
        made.state({"verb": "poured", "batch": batch}, CLOCK.now(), "mixer")
    page = glass(board(made), size=size)
    page.wait_for_selector(".group")
    assert page.locator("#cards > li").count() <= 6
    assert "Back-roll: batches 5–14, by " in page.inner_text(".group")
    page.locator(".group button").click()
    page.wait_for_function("() => document.querySelectorAll('#cards > li').length === 15")


def test_every_target_is_large_enough_for_a_glove(board: Any, glass: Any) -> None:
    # a phone of 65 mm shows 390 dots across: 6 to a millimetre; 20 by 18 mm for the main ones, 12 for the small
    page = glass(board(house(3)))
    page.wait_for_selector(".card .target")
    for selector, wide, high in (("#now-first .target", 120, 108), (".bar button", 120, 108), (".chip", 72, 72)):
        boxes = page.locator(selector).evaluate_all(SHOWN_BOXES)
        assert boxes, f"no {selector} is shown"
        for box in boxes:
            assert box["width"] >= wide - 0.5, selector
            assert box["height"] >= high - 0.5, selector


TURNS = """() => {
  window.turns = [];
  new MutationObserver((seen) => seen.forEach((each) => {
    const was = (each.oldValue ?? '').includes('turned');
    if (was !== each.target.classList.contains('turned')) window.turns.push(Date.now());
  })).observe(document.querySelector('#shout'), { attributeFilter: ['class'], attributeOldValue: true });
}"""


@pytest.mark.parametrize(("ago", "stage", "in_4_s"), [(10.1, "NOW", 4), (11.0, "LATE", 8)])
def test_a_critical_call_flashes_the_screen_under_three_times_a_second(
    serve: Any, phone: Any, ago: float, stage: str, in_4_s: int
) -> None:
    page = phone(serve(house(ago)), own_time=True)
    page.wait_for_selector("#shout:not([hidden])")
    assert page.inner_text("#shout .stage").upper().endswith(stage)
    page.evaluate(TURNS)
    page.clock.run_for(4000)
    turns = page.evaluate("window.turns")
    assert in_4_s - 1 <= len(turns) / 2 <= in_4_s + 1, "it turns over, and back again"
    assert all(sum(at <= each < at + 1000 for each in turns) / 2 < 3.0 for at in turns)
    inverted = "getComputedStyle(document.querySelector('#shout')).filter.startsWith('invert')"
    assert page.evaluate(f"document.querySelector('#shout').classList.contains('turned') === {inverted}")


SHOWN_BOXES = "all => all.filter((each) => each.offsetParent).map((each) => each.getBoundingClientRect())"

NO_LOCK = "Object.defineProperty(navigator, 'wakeLock', { value: undefined });"
NO_VIDEO = NO_LOCK + "HTMLMediaElement.prototype.play = () => Promise.reject(new Error('forbidden'));"


def test_a_phone_stays_awake_over_plain_http_by_a_silent_video(serve: Any, phone: Any) -> None:
    page = phone(serve(house(3)), init=NO_LOCK)
    page.locator("body").click(position={"x": 5, "y": 5})
    page.wait_for_function("() => mixclockBoard.awakeBy() === 'video'")
    page.wait_for_function("() => document.querySelector('#contact-words').textContent.endsWith('screen on')")
    assert "locked" not in page.inner_text("body")
    page.click("#more")
    assert "This screen stays on while a batch is live" in page.inner_text("#sheet")


def test_a_phone_that_will_go_dark_says_so(serve: Any, phone: Any) -> None:
    page = phone(serve(house(3)), init=NO_VIDEO)
    page.locator("body").click(position={"x": 5, "y": 5})
    page.wait_for_timeout(1200)
    assert page.evaluate("mixclockBoard.awakeBy()") is None
    assert "a locked phone is silent" in page.inner_text("#notices").lower()
    assert "screen on" not in page.inner_text("#contact-words")


def test_a_phone_that_is_idle_does_not_speak_of_locked_phones(serve: Any, phone: Any) -> None:
    page = phone(serve(house()), init=NO_VIDEO)
    page.locator("body").click(position={"x": 5, "y": 5})
    page.wait_for_timeout(1200)
    page.click("#more")
    assert "locked" not in page.inner_text("body")
    assert "kept on once a batch is live" in page.inner_text("#sheet")


def pedal(page: Any) -> None:
    """Set the shutter key of a Bluetooth remote as this phone's pedal."""
    page.evaluate("localStorage.setItem('mixclock.pedal', JSON.stringify('Enter'))")
    page.evaluate("document.activeElement?.blur()")


def said(page: Any) -> list[str]:
    """What was said by ear so far."""
    return page.evaluate("mixclockBoard.said")


def test_a_press_states_the_next_step_and_says_so_with_the_time(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    page.wait_for_selector("#now-first .does .main")
    pedal(page)
    page.keyboard.press("Enter")
    page.wait_for_function("() => mixclockBoard.said.length === 1")
    assert said(page)[0].startswith("Batch 1 poured, ")
    page.keyboard.press("Enter")  # a pedal that bounces
    come_to(page, served.house, "mixing", "poured")
    page.wait_for_timeout(1500)
    page.keyboard.press("Enter")
    come_to(page, served.house, "mixing", "poured", "rolled")


def hold(page: Any) -> None:
    """A foot that stays on the pedal for a second."""
    page.keyboard.down("Enter")
    page.wait_for_timeout(900)
    page.keyboard.up("Enter")


def test_a_long_press_says_what_is_next_and_a_third_one_takes_the_last_statement_back(board: Any, glass: Any) -> None:
    served = board(house(3))
    page = glass(served)
    page.wait_for_selector("#now-first .does .main")
    pedal(page)
    page.keyboard.press("Enter")
    page.wait_for_function("() => mixclockBoard.said.length === 1")
    page.wait_for_timeout(500)
    hold(page)
    assert said(page)[1].startswith("Next back-roll, batch 1, ")
    assert "minutes left" in said(page)[1]
    assert len(said(page)[1].split()) <= 20
    hold(page)
    assert said(page)[2].startswith("Hold once more to take back: Batch 1 poured, ")
    assert [each.statement["verb"] for each in served.house.live()] == ["mixing", "poured"]
    hold(page)
    page.wait_for_function("() => mixclockBoard.said.length === 4")
    assert said(page)[3].startswith("Taken back: ")
    assert "poured" not in [each.statement["verb"] for each in served.house.live()]


def test_the_pedal_never_mixes_and_never_dumps(board: Any, glass: Any) -> None:
    empty = board(house())
    page = glass(empty)
    page.wait_for_selector("#now-first .does .main")
    pedal(page)
    page.keyboard.press("Enter")
    page.wait_for_function("() => mixclockBoard.said.length === 1")
    assert said(page)[0].startswith("Not by pedal: ")
    assert empty.house.entries == []


def test_say_it_again_speaks_what_is_next(board: Any, glass: Any) -> None:
    page = glass(board(house(3, 5)))
    page.wait_for_selector(".card")
    page.click("#more")
    page.get_by_role("button", name="Say it again").click()
    assert said(page)[0].startswith("Next pour it out, batch 2, ")
    assert "Then pour it out, batch 1, " in said(page)[0]
