"""Two people with a phone each, in gloves, on one board: at the four sizes, by touch, one acting while the other looks.

The short form drives each row at one of the sizes, in turn; `--long` drives all of them at all four.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from datetime import timedelta
from itertools import count, cycle, islice, product
from typing import Any

import pytest

from mixclock.wiring import open_house
from tests.board.boardfakes import FakeHouse, mixing, studio_floor, studio_plan
from tests.board.conftest import LIKE_A_PHONE, looked_at_now_and_then
from tests.board.scenes import METRIC, SCENES, SIZES, Theatre, theatre
from tests.board.stated import come_to, until, verbs
from tests.board.test_inhands import SEEN, settled

MIN = timedelta(minutes=1)
SHOUTS = "#shout:not([hidden]) .does .target"


@dataclass
class TwoPhones:
    """The board, and the two pages that look at it."""

    stage: Theatre
    mixer: Any
    roller: Any
    number: Any = field(default_factory=count)

    @property
    def both(self) -> tuple[Any, Any]:
        """The two pages."""
        return self.mixer, self.roller

    def put_on(self, *minutes_ago: float) -> FakeHouse:
        """Buckets mixed so many minutes ago, on a house that keeps them in mind."""
        now = self.stage.clock.now()
        name = f"Pottery studio floor {next(self.number)}"  # else a page that shows the last one counts as looked at
        house = FakeHouse(job=replace(studio_floor(), job=name), planned=studio_plan(now))
        for bay, ago in enumerate(minutes_ago, 1):
            house.state(mixing(f"bay {bay}"), now - ago * MIN, "mixer")
        self.stage.put_on(lambda: house, house.job.job)
        self._look()
        return house

    def play(self, name: str) -> None:
        """A scene on a book of its own."""
        self.stage.stage(next(scene for scene in SCENES if scene.name == name), METRIC)
        self._look()

    def _look(self) -> None:
        for page in self.both:
            self.stage.show(page)

    def at(self, size: tuple[int, int]) -> None:
        """Both are of this size."""
        for page in self.both:
            page.set_viewport_size({"width": size[0], "height": size[1]})

    def book(self) -> list[str]:
        """What the scene's book holds of what was stated."""
        with open_house(self.stage.home, self.stage.clock) as house:
            return [entry.facts.kind for entry in house.entries()]


@pytest.fixture(scope="module")
def phones(browser: Any) -> Iterator[TwoPhones]:
    """Two phones with touch, for all rows: each in a browser profile of its own."""
    complaints: list[str] = []
    with theatre() as stage:
        contexts = [browser.new_context(has_touch=True, **LIKE_A_PHONE) for _ in range(2)]
        pages = [stage.pair(context) for context in contexts]
        for page in pages:
            page.on("pageerror", lambda error: complaints.append(str(error)))
            looked_at_now_and_then(page)
        yield TwoPhones(stage, *pages)
        for context in contexts:
            context.close()
    assert complaints == []


def tap(page: Any, selector: str, text: str | None = None) -> None:
    """A finger on the middle of a button that it can see."""
    found = page.locator(selector, has_text=text) if text else page.locator(selector)
    settled(page)
    found.first.tap()


def lost_has_its_own_words_and_is_dumped_by_one_while_the_other_is_left_in_peace(phones: TwoPhones) -> None:
    phones.play("bucket, lost")
    for page in phones.both:
        page.wait_for_selector(SHOUTS)
        assert page.inner_text("#shout .what") == "Keep it off the floor"
        assert page.locator("#shout .main").inner_text() == "Dumped"
    tap(phones.mixer, "#shout .target", "Dumped")
    tap(phones.mixer, "#sheet-body .target", "half")
    phones.roller.wait_for_function("() => document.querySelector('#cards').children.length === 0")
    phones.roller.wait_for_selector("#shout", state="hidden")
    until(phones.mixer, lambda: phones.book().count("dumped") == 2)  # that it was, and how much of it


def what_is_critical_comes_over_both_sheets_and_heard_quiets_both(phones: TwoPhones) -> None:
    house = phones.put_on()
    tap(phones.roller, "#more")
    tap(phones.mixer, "#who")
    house.state(mixing("bay 1"), phones.stage.clock.now() - 11 * MIN, "mixer")
    house.state(mixing("bay 2"), phones.stage.clock.now() - 10.2 * MIN, "mixer")
    phones.stage.server.notify_change()
    for page in phones.both:
        page.wait_for_selector(SHOUTS)
        settled(page)
        assert page.evaluate(SEEN, "#shout .does .target")
        assert page.evaluate(SEEN, "#shout .moreshout"), "the one that waits is named"
    tap(phones.mixer, "#bar-heard")
    first = "() => !document.querySelector('#shout .where')?.textContent.includes('Batch 1,')"
    phones.roller.wait_for_function(first)
    heard = [each.statement["alerts"] for each in house.live() if each.statement["verb"] == "heard"]
    assert heard == [["b1.pour-out"]], "only what was on the glass"


def two_thumbs_state_one_step(phones: TwoPhones) -> None:
    house = phones.put_on(3)
    at = {}
    for page in phones.both:
        tap(page, "#job")  # the first touch of a page wakes its sound, and a line that asked for it goes
    for page in phones.both:
        settled(page)
    for page in phones.both:
        box = page.locator("#now-first .does .main").bounding_box()
        at[page] = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    for page in (*phones.both, *phones.both):
        page.touchscreen.tap(*at[page])
    come_to(phones.mixer, house, "mixing", "poured")


def a_message_of_one_covers_no_mistake_of_the_other(phones: TwoPhones) -> None:
    house = phones.put_on(3)
    tap(phones.mixer, "#bar-out")
    phones.mixer.wait_for_selector("#toast:not([hidden]) .back")
    tap(phones.roller, "#bar-in")
    tap(phones.mixer, "#bar-in")
    for page in phones.both:
        mistake = page.get_by_role("button", name="No, a mistake")
        mistake.scroll_into_view_if_needed()
        settled(page)
        mistake.tap()
        assert page.locator("#sheet").is_hidden()
    assert verbs(house) == ["mixing", "poured"], "nothing begun by silence, nothing taken back by mistake"


def what_one_takes_back_counts_again_on_the_other(phones: TwoPhones) -> None:
    house = phones.put_on(3)
    tap(phones.mixer, "#now-first .does .main")
    on_floor = "() => document.querySelector('.card .stuff')?.textContent.includes('on the floor')"
    phones.roller.wait_for_function(on_floor)
    phones.mixer.wait_for_function("() => document.querySelector('.toaststate')?.textContent === 'in the book'")
    assert "Poured: Batch 1" in phones.mixer.inner_text("#toast .back"), "it says what it takes back"
    tap(phones.mixer, "#toast .back")
    phones.roller.wait_for_function("() => document.querySelector('#bar-out-what').textContent === 'batch 1'")
    assert verbs(house) == ["mixing", "withdrawn"]


def todays_stop_is_taped_by_one_and_calls_nobody(phones: TwoPhones) -> None:
    phones.play("wet edge")
    phones.roller.wait_for_selector(SHOUTS)
    tap(phones.mixer, "#shout .target", "Taped")
    for page in phones.both:
        page.wait_for_function("() => !mixclockBoard.standing().some((each) => each.step === 'wet-edge')")
    assert phones.book()[-1] == "did"


def what_presses_is_seen_by_both_also_after_scrolling(phones: TwoPhones) -> None:
    house = phones.put_on(*[1.0] * 14)
    for page in phones.both:
        page.wait_for_selector(".group")
        for part in ("#now-first .what", "#now-first .left", "#now-first .does .target", "#contact"):
            assert page.evaluate(SEEN, part), part
    phones.roller.evaluate("window.scrollTo(0, 900)")
    settled(phones.roller)
    assert phones.roller.evaluate(SEEN, "#contact")
    house.state({"verb": "poured", "batch": 1}, phones.stage.clock.now() - 25 * MIN, "mixer")
    phones.stage.server.notify_change()
    phones.roller.wait_for_function("() => window.scrollY < 5", timeout=5000)


def both_stay_awake_and_say_so(phones: TwoPhones) -> None:
    phones.put_on(3)
    for page in phones.both:
        tap(page, "#job")
        page.wait_for_function("() => mixclockBoard.awakeBy() !== null")
        page.wait_for_function("() => document.querySelector('#contact-words').textContent.endsWith('screen on')")


ROWS: tuple[Callable[[TwoPhones], None], ...] = (
    lost_has_its_own_words_and_is_dumped_by_one_while_the_other_is_left_in_peace,
    what_is_critical_comes_over_both_sheets_and_heard_quiets_both,
    two_thumbs_state_one_step,
    a_message_of_one_covers_no_mistake_of_the_other,
    what_one_takes_back_counts_again_on_the_other,
    todays_stop_is_taped_by_one_and_calls_nobody,
    what_presses_is_seen_by_both_also_after_scrolling,
    both_stay_awake_and_say_so,
)
IN_TURN = tuple(zip(ROWS, islice(cycle(SIZES), len(ROWS)), strict=True))
OTHERS = tuple(each for each in product(ROWS, SIZES) if each not in IN_TURN)


def named(value: Any) -> str:
    return value.__name__ if callable(value) else f"{value[0]}x{value[1]}"


@pytest.mark.parametrize(("row", "size"), IN_TURN, ids=named)
def test_two_phones_at_once_in_gloves(phones: TwoPhones, row: Any, size: Any) -> None:
    phones.at(size)
    row(phones)


@pytest.mark.long
@pytest.mark.parametrize(("row", "size"), OTHERS, ids=named)
def test_two_phones_at_once_in_gloves_at_every_other_size(phones: TwoPhones, row: Any, size: Any) -> None:
    phones.at(size)
    row(phones)
