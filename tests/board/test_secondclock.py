"""The second alarm clock in a real browser: what the page does when the daemon is gone, and when it is back."""

from __future__ import annotations

from datetime import timedelta
from itertools import pairwise
from typing import Any

import pytest

from mixclock.board.desk import Wishes
from mixclock.outside.channels.tones import pattern_of
from mixclock.outside.clock import FakeClock, SystemClock
from tests.board.boardfakes import POUR_OUT, FakeHouse, mixing, studio_plan

CLOCK = SystemClock()
A_SECOND = timedelta(seconds=1)

FIVE_HOURS_AHEAD = """
  const Real = Date, ahead = 5 * 3600 * 1000;
  window.Date = class extends Real {
    constructor(...given) { if (given.length) super(...given); else super(Real.now() + ahead); }
    static now() { return Real.now() + ahead; }
  };
"""


SOON_MS = 6000
"""What a busy machine may take to show what is due; the page's own time runs on meanwhile, so it is not much."""


def _house(due_in_s: float | None = None) -> FakeHouse:
    house = FakeHouse(planned=studio_plan(CLOCK.now()))
    if due_in_s is not None:
        house.state(mixing(), CLOCK.now() - POUR_OUT + timedelta(seconds=due_in_s), "mixer")
    return house


def _sounded(page: Any) -> list[str]:
    return [each["name"] for each in page.evaluate("mixclockBoard.played")]


def _wait_for_sound(page: Any, name: str) -> None:
    page.wait_for_function(
        "name => mixclockBoard.played.some((each) => each.name === name && each.heard)", arg=name, timeout=SOON_MS
    )


def test_sound_is_off_until_a_touch_and_the_page_says_so_and_that_a_laptop_runs_on_its_battery(
    serve: Any, phone: Any
) -> None:
    page = phone(serve(_house(), wishes=Wishes(power=lambda: {"on_battery": True, "charge_pct": 42})))
    assert "Sound is off" in page.inner_text(".notice.sound")
    page.wait_for_selector(".notice.power")
    assert "42 % left" in page.inner_text(".notice.power")
    page.click(".notice.sound")
    page.wait_for_selector(".notice.sound", state="detached")


def test_a_killed_daemon_is_noticed_and_its_deadline_sounds_all_the_same(serve: Any, phone: Any) -> None:
    served = serve(_house(due_in_s=30.0))
    page = phone(served, own_time=True)
    page.click("#job")
    served.down()
    page.clock.run_for(5_500)
    page.wait_for_selector("#contact[data-state=amber]", timeout=SOON_MS)
    assert "silent for" in page.inner_text("#contact-words")
    assert "lost" not in _sounded(page)
    page.clock.run_for(10_000)
    _wait_for_sound(page, "lost")
    assert page.get_attribute("#contact", "data-state") == "red"
    assert "critical" not in _sounded(page)
    page.clock.run_for(15_000)
    _wait_for_sound(page, "critical")
    page.wait_for_selector("#shout:not([hidden])")
    assert "Pour it out" in page.inner_text("#shout")
    served.up()
    page.clock.run_for(2000)
    page.wait_for_selector("#contact[data-state=ok]")


def test_a_daemon_that_hangs_is_noticed_although_the_page_is_still_served(serve: Any, phone: Any) -> None:
    clock = FakeClock(CLOCK.now())
    served = serve(_house(), clock)
    page = phone(served)
    page.click("#job")
    served.silence()
    clock.advance(7.0)  # the laptop's age of its daemon counts from one second, which is how often it speaks
    page.wait_for_selector("#contact[data-state=amber]", timeout=SOON_MS)
    assert "lost" not in _sounded(page)
    clock.advance(9.5)
    _wait_for_sound(page, "lost")
    served.ticking()
    page.wait_for_selector("#contact[data-state=ok]")


@pytest.mark.parametrize("clock_is", [pytest.param("right", marks=pytest.mark.long), "five hours ahead"])
def test_taps_made_while_the_daemon_is_gone_arrive_once_with_their_own_times(
    serve: Any, phone: Any, clock_is: str
) -> None:
    served = serve(_house())
    clock = FIVE_HOURS_AHEAD if clock_is == "five hours ahead" else ""
    page = phone(served, init=clock)
    twin = page.context.new_page()
    twin.add_init_script(clock)
    twin.goto(served.server.address)
    twin.wait_for_selector("#contact[data-state=ok]")
    served.house.state(mixing(), CLOCK.now(), "mixer")
    page.wait_for_selector(".card")
    served.down()
    touched = CLOCK.now()
    page.click("#bar-out")
    let_go = CLOCK.now()
    page.wait_for_selector(".notice.taps")
    assert "waits on this phone" in page.inner_text(".card .closing")
    page.wait_for_timeout(1200)  # it tries to come through, and fails
    served.up()
    page.wait_for_selector(".notice.taps", state="detached")
    twin.wait_for_selector("#contact[data-state=ok]")
    page.wait_for_timeout(700)
    poured = [each for each in served.house.entries if each.statement["verb"] == "poured"]
    assert len(poured) == 1
    assert touched - A_SECOND <= poured[0].at <= let_go + A_SECOND


def test_a_step_stated_while_the_daemon_is_gone_is_not_asked_for_again(serve: Any, phone: Any) -> None:
    served = serve(_house(due_in_s=20.0))
    page = phone(served, own_time=True)
    page.click("#job")
    served.down()
    page.click("#bar-out")
    page.clock.run_for(25_000)
    page.wait_for_selector("#contact[data-state=red]", timeout=SOON_MS)
    _wait_for_sound(page, "lost")
    assert "critical" not in _sounded(page)
    assert page.locator("#shout").is_hidden()


def test_a_tap_taken_back_before_the_daemon_is_back_is_never_stated(serve: Any, phone: Any) -> None:
    served = serve(_house(due_in_s=500.0))
    page = phone(served)
    served.down()
    page.click("#bar-out")
    page.wait_for_selector(".notice.taps")
    page.wait_for_timeout(300)
    page.get_by_role("button", name="Take it back").click()
    page.wait_for_selector(".notice.taps", state="detached")
    served.up()
    page.wait_for_selector("#contact[data-state=ok]")
    page.wait_for_timeout(500)
    assert [each.statement["verb"] for each in served.house.entries] == ["mixing"]


def test_heard_while_the_daemon_is_gone_quiets_this_phone(serve: Any, phone: Any) -> None:
    served = serve(_house(due_in_s=20.0))
    page = phone(served, own_time=True)
    page.click("#job")
    served.down()
    page.clock.run_for(21_000)
    page.wait_for_selector("#shout:not([hidden])")
    page.clock.run_for(1000)  # what comes up takes no touch for the first 0.7 s
    page.click("#bar-heard")
    page.wait_for_selector("#shout", state="hidden")
    sounded = _sounded(page).count("critical")
    page.clock.run_for(22_000)
    assert page.locator("#shout").is_hidden()
    assert _sounded(page).count("critical") == sounded


def test_deadlines_do_not_move_when_the_phones_clock_is_set_back(serve: Any, phone: Any) -> None:
    served = serve(_house(due_in_s=300.0))
    page = phone(served)
    before = page.inner_text(".card .remain")
    page.evaluate("() => { const real = Date.now; Date.now = () => real() - 3600000; }")
    page.wait_for_timeout(1300)
    assert page.inner_text(".card .remain") in (before, "4 minutes left")


def test_the_fifth_tab_of_one_phone_polls_and_still_shows_what_happens(serve: Any, phone: Any) -> None:
    served = serve(_house())
    first = phone(served)
    tabs = [first.context.new_page() for _ in range(4)]
    for tab in tabs:
        tab.goto(served.server.address)
        tab.wait_for_selector("#contact[data-state=ok]")
    served.house.state(mixing(), CLOCK.now(), "mixer")
    for tab in (first, *tabs):
        tab.wait_for_function("() => document.querySelectorAll('.card').length === 1")


VOICE = """
  window.said = [];
  window.SpeechSynthesisUtterance = class { constructor(words) { this.text = words; } };
  Object.defineProperty(window, 'speechSynthesis', { value: {
    speak(words) { window.said.push(words.text); }, cancel() {},
  } });
  localStorage.setItem('mixclock.speak', 'true');
"""


def test_the_page_says_an_alert_in_words_where_the_browser_has_a_voice(serve: Any, phone: Any) -> None:
    served = serve(_house())
    page = phone(served, init=VOICE)
    page.click("#job")
    served.house.state(mixing(), CLOCK.now() - POUR_OUT - timedelta(minutes=1), "mixer")
    page.wait_for_function("() => window.said.length > 0")
    assert page.evaluate("window.said[0]") == "Batch 1, bay 1: pour it out now."
    page.wait_for_timeout(1000)
    assert page.evaluate("window.said.length") == 1


def test_a_critical_alert_sounds_again_after_20_s_until_somebody_heard_it(serve: Any, phone: Any) -> None:
    served = serve(_house())
    page = phone(served, own_time=True)
    page.click("#job")
    served.house.state(mixing(), CLOCK.now() - POUR_OUT - timedelta(minutes=1), "mixer")
    _wait_for_sound(page, "critical")
    told = page.evaluate("import('/static/main.js').then((sound) => sound.patternOf('critical', 'bucket', true))")
    own = pattern_of("critical", "bucket", late=True)
    assert [[pulse.on_s, pulse.gap_s, own.base_hz] for pulse in own.pulses] == told, "a phone calls as the laptop does"
    page.clock.run_for(45_000)
    sounded = page.evaluate("mixclockBoard.played.filter((each) => each.name === 'critical').map((each) => each.at)")
    assert len(sounded) == 3
    assert all(19_500 <= later - sooner <= 22_000 for sooner, later in pairwise(sounded))
    page.click("#bar-heard")
    page.wait_for_timeout(500)
    page.clock.run_for(25_000)
    assert _sounded(page).count("critical") == 3
    assert page.evaluate("mixclockBoard.standing().every(mixclockBoard.isHeard)")
