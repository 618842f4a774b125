"""Whether everybody can use the page: axe-core finds nothing, and what tells time stands out by 7:1 in every light."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from itertools import product
from typing import Any

import pytest

from mixclock.outside.clock import SystemClock
from tests.board.boardfakes import POUR_OUT, FakeHouse, mixing, studio_plan

CLOCK = SystemClock()
TELLS_TIME = (
    ".fit.time, .fit.left, .fit.what, .then span, .closing, .remain, .coming .when, .contact, .count, .notice,"
    ".bar small"
)

# WCAG 2.2, relative luminance and contrast ratio (w3.org/TR/WCAG22, "contrast ratio"), worked out from what is painted
CONTRASTS = """
  (selector) => {
    const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
    const channel = (c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4);
    const light = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
    const ground = (element) => {
      for (let each = element; each; each = each.parentElement) {
        const [r, g, b, a = 1] = numbers(getComputedStyle(each).backgroundColor);
        if (a === 1) return [r, g, b];
      }
      return [255, 255, 255];
    };
    return [...document.querySelectorAll(selector)]
      .filter((each) => each.textContent.trim() && each.offsetParent !== null)
      .map((each) => {
        const [one, other] = [light(numbers(getComputedStyle(each).color)), light(ground(each))];
        return [`${each.className} ${each.textContent}`, (Math.max(one, other) + 0.05) / (Math.min(one, other) + 0.05)];
      });
  }
"""

LOOK = """
  (looks) => import('/static/main.js').then(({ useLooks }) => {
    localStorage.setItem('mixclock.looks', JSON.stringify(looks));
    useLooks();
  })
"""

FACTS = """
  () => [...document.querySelectorAll("#sheet .facts .target")].map((each) => {
    const name = each.querySelector("b");
    const height = parseFloat(getComputedStyle(name).lineHeight);
    return {
      name: name.textContent,
      height: each.getBoundingClientRect().height,
      lines: Math.round(name.getBoundingClientRect().height / height),
    };
  })
"""


def _house(scene: str) -> FakeHouse:
    now = CLOCK.now()
    house = FakeHouse(planned=studio_plan(now))
    if scene in ("normal day", "overdue"):
        house.state(mixing("bay 1"), now - timedelta(minutes=19), "mixer")
        house.state({"verb": "poured", "batch": 1}, now - timedelta(minutes=13), "mixer")
    if scene == "overdue":
        house.state(mixing("bay 2"), now - POUR_OUT - timedelta(minutes=2), "mixer")
    return house


SCENES = ("empty board", "normal day", "overdue")
LOOKS = ("light", "dark", "sun")
IN_TURN = tuple(zip(SCENES, LOOKS, strict=True))
"""Each scene in another light: the short form; the long one looks at each in all."""
SIZES = ((390, 844), (820, 1180), (1920, 1080))


@pytest.fixture
def shown(board: Callable[..., Any], glass: Callable[..., Any]) -> Callable[[str], Any]:
    """A scene on the page that stands."""
    return lambda scene: glass(board(_house(scene)))


def sized(page: Any, size: tuple[int, int]) -> None:
    """The same page on another glass, drawn anew."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    page.evaluate("() => new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(then)))")


SHEETS = (("m",), ("w",), ("b",), ("m", "A reading"), ("m", "Tick a fact"), ("m", "Tick a fact", "heater"))


@pytest.mark.parametrize("scene", [pytest.param("empty board", marks=pytest.mark.long), *SCENES[1:]])
def test_axe_finds_nothing_wrong_on_the_page(shown: Callable[[str], Any], axe_source: str, scene: str) -> None:
    _no_violation(shown(scene), axe_source)


@pytest.mark.parametrize(
    "scene", [pytest.param(each, marks=() if each == "normal day" else pytest.mark.long) for each in SCENES]
)
def test_axe_finds_nothing_wrong_on_its_sheets(shown: Callable[[str], Any], axe_source: str, scene: str) -> None:
    """Each sheet is the same over every scene: the short form opens them over one."""
    page = shown(scene)
    if scene == "overdue":  # a critical alert stands over every sheet until it is heard, done or folded away
        page.locator("#shout").get_by_role("button", name="Heard").click()
    for key, *names in SHEETS:
        page.keyboard.press(key)
        for name in names:
            page.locator("#sheet").get_by_role("button", name=name).click()
        assert page.locator("#sheet").is_visible()
        _no_violation(page, axe_source)
        page.keyboard.press("Escape")


def test_each_fact_to_tick_is_a_target_whose_words_stay_whole(shown: Callable[[str], Any]) -> None:
    page = shown("normal day")
    page.keyboard.press("m")
    page.locator("#sheet").get_by_role("button", name="Tick a fact").click()
    for size in ((390, 844), (1366, 768)):
        sized(page, size)
        told = page.evaluate(FACTS)
        assert len(told) >= 15
        assert [each for each in told if each["height"] < 88 or each["lines"] > len(each["name"].split())] == [], size
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0]
    page.keyboard.press("Escape")
    page.wait_for_selector("#sheet", state="hidden")


def _no_violation(page: Any, axe_source: str) -> None:
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(axe_source)
    told = page.evaluate("() => axe.run(document, { resultTypes: ['violations'] })")
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in told["violations"]] == []


@pytest.mark.parametrize(
    ("scene", "looks"),
    [pytest.param(*each, marks=[] if each in IN_TURN else [pytest.mark.long]) for each in product(SCENES, LOOKS)],
)
def test_whatever_tells_time_stands_out_by_seven_to_one(shown: Callable[[str], Any], scene: str, looks: str) -> None:
    page = shown(scene)
    page.evaluate(LOOK, looks)
    try:
        sized(page, SIZES[0])
        assert page.evaluate("document.documentElement.dataset.looks") == looks
        told = page.evaluate(CONTRASTS, TELLS_TIME)
    finally:
        page.evaluate(LOOK, None)
    assert len(told) >= 4
    assert [each for each in told if each[1] < 7.0] == []


# 5 minutes of arc for a letter is normal sight (20/20; ISO 8596 takes the same letter): 14.5 mm at 10 m. A capital is
# about 0.72 of the letter size in the fonts named. Screens: 24 inch, 1920 dots across 531 mm; a 10 inch tablet, 820
# dots across 148 mm (from memory, common makes).
@pytest.mark.parametrize(("scene", "within"), [("normal day", "#now-first"), ("overdue", "#shout")])
def test_what_to_do_and_when_are_read_from_ten_metres(shown: Callable[[str], Any], scene: str, within: str) -> None:
    page = shown(scene)
    for size, mm_per_px in (((1920, 1080), 531 / 1920), ((820, 1180), 148 / 820)):
        sized(page, size)
        for line in (".what", ".time"):
            letter_px = page.evaluate(
                "(s) => parseFloat(getComputedStyle(document.querySelector(s)).fontSize)", f"{within} {line}"
            )
            assert 0.72 * letter_px * mm_per_px >= 14.5, (size, line)


def test_every_statement_is_a_target_of_88_px_or_more(shown: Callable[[str], Any]) -> None:
    page = shown("overdue")
    for size in SIZES:
        sized(page, size)
        sizes = page.evaluate(
            "() => [...document.querySelectorAll('.target, .bar button')].filter((each) => each.offsetParent)"
            ".map((each) => [each.textContent, each.offsetWidth, each.offsetHeight])"
        )
        assert len(sizes) >= 6
        assert [each for each in sizes if min(each[1], each[2]) < 88] == [], size


def test_each_line_of_the_large_panel_tells_one_time_at_most(shown: Callable[[str], Any]) -> None:
    import re

    for scene in SCENES:
        page = shown(scene)
        sized(page, SIZES[0])
        for line in page.locator("#now-first p, #shout p, .closing, .coming .when, .then span").all_inner_texts():
            assert len(re.findall(r"\d\d:\d\d", line)) <= 1, line


def test_rank_is_told_by_words_and_signs_and_not_by_colour_alone(shown: Callable[[str], Any]) -> None:
    page = shown("overdue")
    sized(page, SIZES[0])
    page.wait_for_selector("#shout:not([hidden])")
    assert page.inner_text("#shout .stage").upper() == "▲ LATE"
    assert page.locator(".card[data-urgency=late] .remain").first.text_content().endswith("late")


def test_long_german_words_do_not_break_the_page(board: Any, glass: Any) -> None:
    from dataclasses import replace

    house = _house("empty board")
    areas = ("Fußbodenheizungsverteilerraum Nordwest", "Materialannahmestelle", "x" * 200)
    house.job = replace(house.job, job="Bootslagerhallenbodenbeschichtungsvorhaben" * 3, areas=areas,
                        crew=("Fußbodenbeschichtungsfachkraft",))  # fmt: skip
    for area in areas:
        house.state(mixing(area), CLOCK.now() - POUR_OUT + timedelta(minutes=1), areas[2])
    page = glass(board(house))
    page.wait_for_function("() => document.querySelectorAll('.card').length === 3")
    cut = (
        "() => [...document.querySelectorAll('.fit')].filter((each) => each.scrollWidth > each.clientWidth + 1).length"
    )
    for size in SIZES:
        sized(page, size)
        assert page.evaluate("() => document.documentElement.scrollWidth") <= size[0], size
        assert page.evaluate(cut) == 0, size
