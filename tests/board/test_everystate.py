"""Every state that a board can be in: at the four sizes nothing is cut, covered or too small, each in its crew's units.

The short form looks at a few states, `--long` at all; `python -m tests.board.scenes FOLDER` takes their pictures.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest

from tests.board.conftest import LIKE_A_PHONE, looked_at_now_and_then
from tests.board.scenes import METRIC, SCENES, SIZES, US, Crew, Scene, Theatre, theatre
from tests.board.test_inhands import SEEN
from tests.cli.test_crewclock import strange

SHORT = ("acid on the floor", "lost, others wait", "days after", "sheet, Called away", "reading asked", "next kit")

# a phone of 65 mm is 390 dots across: 6 to a millimetre; 20 by 18 mm for what states a step, 12 for what is small. A
# word that is wider than its button, and a button that is wider than the glass, are cut
WRONG = """() => {
  const shown = (each) => each.offsetParent !== null || getComputedStyle(each).position === 'fixed';
  const all = (selector) => [...document.querySelectorAll(selector)].filter(shown);
  const small = (wide, high) => (each) => each.offsetWidth < wide - 1 || each.offsetHeight < high - 1;
  const named = (why) => (each) => `${why}: ${each.textContent.slice(0, 60)}`;
  const cut = (each) => each.scrollWidth > each.clientWidth + 1 && each.clientWidth > 0;
  const beyond = (each) => each.getBoundingClientRect().right > innerWidth + 1;
  return [
    ...(document.documentElement.scrollWidth > innerWidth ? ['wider than the glass'] : []),
    ...all('.target b, .choice, .fit, .amount, .closing').filter(cut).map(named('cut')),
    ...all('.target, .chip, .choice, .amount').filter(beyond).map(named('beyond the glass')),
    ...all('.target.main, .bar button, .sheet .target').filter(small(120, 108)).map(named('small')),
    ...all('.item .target').filter(small(120, 60)).map(named('small')),
    ...all('.chip, .choice').filter(small(72, 72)).map(named('small')),
  ];
}"""
PANELS = """() => (document.body.classList.contains('asking') ? ['#sheet'] : ['#shout', '#sheet', '#now'])
  .find((each) => !document.querySelector(each).hidden)"""
MUST = {
    "#shout": ("#shout .what", "#shout .left", "#shout .does .target", "#bar-heard"),
    "#sheet": ("#sheet-title", "#sheet-close", "#bar-heard"),
    "#now": ("#now-first .what", "#now-first .left", "#now-first .does .target", "#contact", "#bar-heard"),
}


@pytest.fixture(scope="module")
def stage() -> Iterator[Theatre]:
    """One board for all of them."""
    with theatre() as opened:
        yield opened


@pytest.fixture(scope="module")
def glass(stage: Theatre, browser: Any) -> Iterator[Any]:
    """One phone that looks at them."""
    context = browser.new_context(has_touch=True, **LIKE_A_PHONE)
    page = stage.pair(context)
    looked_at_now_and_then(page)
    yield page
    context.close()


def faults(page: Any, sizes: tuple[tuple[int, int], ...]) -> list[str]:
    """What is cut, covered, beyond the glass or too small, at each of these sizes."""
    found = []
    for width, height in sizes:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("() => new Promise((then) => requestAnimationFrame(() => requestAnimationFrame(then)))")
        page.evaluate(
            "() => document.querySelectorAll('.settling').forEach((each) => each.classList.remove('settling'))"
        )
        parts = [part for part in MUST[page.evaluate(PANELS)] if page.locator(part).filter(visible=True).count()]
        hidden = [part for part in parts if not page.evaluate(SEEN, part)]
        said = [*page.evaluate(WRONG), *(f"not seen whole: {part}" for part in hidden if not covered(page, part))]
        found += [f"{width} × {height}: {each}" for each in said]
    return found


def covered(page: Any, part: str) -> bool:
    """What was just stated stands over the panel for some seconds, as it is meant to."""
    return "now" in part and page.locator("#toast").is_visible()


def look(stage: Theatre, page: Any, scene: Scene, crew: Crew, sizes: Any = SIZES) -> list[str]:
    page.set_viewport_size({"width": 390, "height": 844})
    stage.stage(scene, crew)
    stage.show(page, scene)
    wrong = faults(page, sizes)
    told = page.evaluate("() => document.body.innerText")
    assert told.strip()
    return wrong + (strange(told.replace("\u00a0", " ")) if crew is US else [])


def _scenes(short: bool) -> list[Any]:
    return [pytest.param(each, id=each.name) for each in SCENES if (each.name in SHORT) is short]


@pytest.mark.parametrize("scene", _scenes(short=True))
def test_nothing_is_cut_covered_too_small_or_in_another_crews_units(stage: Theatre, glass: Any, scene: Scene) -> None:
    """At two of the four sizes, in turn."""
    place = [each.name for each in SCENES if each.name in SHORT].index(scene.name)
    assert look(stage, glass, scene, US, SIZES[place % 2 :: 2]) == []


@pytest.mark.long
@pytest.mark.parametrize("scene", _scenes(short=True))
def test_nothing_is_cut_at_the_other_sizes_either(stage: Theatre, glass: Any, scene: Scene) -> None:
    assert look(stage, glass, scene, US) == []


@pytest.mark.long
@pytest.mark.parametrize("scene", _scenes(short=False))
def test_nothing_is_wrong_in_any_other_state_of_a_us_crew(stage: Theatre, glass: Any, scene: Scene) -> None:
    assert look(stage, glass, scene, US) == []


@pytest.mark.long
@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_nothing_is_wrong_in_any_state_of_a_metric_crew(stage: Theatre, glass: Any, scene: Scene) -> None:
    assert look(stage, glass, scene, METRIC) == []
