"""The plan as page, picture and JSON."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest

from mixclock.decide.plan.floor.plans import Obstacle, PlannedStep
from mixclock.words.plan import plan_json, plan_lines, plan_page, plan_picture
from mixclock.words.plan.panels import panels
from mixclock.words.plan.tallpicture import tall_figures
from tests.words.plan.plans import BATCHES, NO_PLAN, PLAN, STEPS, at, etch_sheet, sheet, step

SVG = "{http://www.w3.org/2000/svg}"
SI = re.compile(r"_(l|kg|m2|s|um|pct|c|k|l_m2)$")


def numbers(value: Any, key: str = "") -> Iterator[tuple[str, Any]]:
    """Every number of a JSON answer with its key."""
    if isinstance(value, dict):
        for name, inner in value.items():
            yield from numbers(inner, name if key not in ("cost_by_area",) else "cost")
    elif isinstance(value, list):
        for inner in value:
            yield from numbers(inner, key)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield key, value


def test_the_json_can_be_read_back_and_its_numbers_carry_their_unit_or_count_something() -> None:
    answer = json.loads(json.dumps(plan_json(sheet())))
    counted = {"batches_in_all", "number", "batch", "part", "parts", "kits", "days", "seed", "bought", "spare", "cost",
               "product_cost", "flake_cost", "water_to_product", "kept", "batches", "strips"}  # fmt: skip
    named = {key for key, _ in numbers(answer)}
    assert {key for key in named if not SI.search(key)} <= counted
    assert len(named - counted) > 10, "the answer carries quantities with units"


def test_times_in_the_json_are_utc_with_z() -> None:
    answer = plan_json(sheet())
    assert answer["begins"] == "2026-04-13T07:00:00Z"
    assert answer["batches"][0]["pour_by"] == "2026-04-13T07:21:00Z"
    assert answer["tightest"]["slack_s"] == 840


def test_the_json_of_no_plan_names_the_constraint_and_the_changes() -> None:
    answer = plan_json(sheet(NO_PLAN))
    assert answer["feasible"] is False
    assert answer["obstacle"]["constraint"] == "back-roll"
    assert [change["direction"] for change in answer["changes"]] == ["another person", "smaller batch"]


class Balanced(HTMLParser):
    """Notes every element, and that what opens also closes."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.ids += [value or "" for name, value in attrs if name == "id"]
        if tag not in ("meta", "br", "img", "rect", "line", "path", "polyline", "polygon", "circle"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in ("rect", "line", "path", "polyline", "polygon", "circle"):
            assert self.open.pop() == tag


@pytest.mark.parametrize("told", [sheet(), sheet(NO_PLAN), etch_sheet()], ids=["plan", "no plan", "etch"])
def test_the_page_is_well_formed_needs_nothing_from_anywhere_and_escapes_names(told: Any) -> None:
    page = plan_page(told)
    read = Balanced()
    read.feed(page)
    assert read.open == []
    assert len(set(read.ids)) == len(read.ids)
    assert "Pottery &lt;studio&gt;" in page
    assert "<studio>" not in page
    assert not re.search(r"(src|href)=\"(?!#|data:)", page)


def test_every_batch_has_a_card_and_each_product_its_cautions_once() -> None:
    page = plan_page(sheet())
    assert page.count('<article class="sheet">') == 3
    assert page.count("Never a lid on mixed leftovers") == 1
    assert page.count('<div class="person">') == 2, "a page for each of the crew"
    assert "Batch 3 <span>Tue 14 Apr 8:00</span>" in page


def test_every_sheet_of_a_plan_that_does_not_fit_says_so_for_whoever_gets_that_sheet_alone() -> None:
    late = "on Mon 13 the work goes on until 8:54, 4 min past your hours"
    nearest = replace(PLAN, obstacle=NO_PLAN.obstacle, chance=None, breaks=(late,))
    warning = f'<p class="unfit">It does not fit: {late}. Do not work by it as it stands.'
    page = plan_page(sheet(nearest))
    assert page.count(f"{warning}</p>") == 3, "two people, and the sheets that are taped to the pails"
    assert "tape them to the pails" not in page
    live = plan_page(sheet(replace(nearest, kept=(1,))))
    assert live.count(f"{warning} Finish what lies all the same.</p>") == 3
    assert 'class="unfit"' not in plan_page(sheet())
    untold = plan_page(sheet(replace(nearest, breaks=())))
    assert untold.count('<p class="unfit">It does not fit: base on bay 2: this crew') == 3
    base_alone = replace(nearest, breaks=(), obstacle=Obstacle("recoat", "top: it shuts", "top"), batches=BATCHES[:2])
    assert 'class="unfit"' not in plan_page(sheet(base_alone)), "what fits may be worked by"


def test_each_printed_page_of_a_long_list_is_headed_by_whose_it_is_and_which_day() -> None:
    page = plan_page(sheet())
    for head in ("mixer, Mon 13 Apr", "mixer, Tue 14 Apr", "roller, Mon 13 Apr"):
        assert f'<thead><tr class="paper"><th colspan="2">{head}</th></tr>' in page
    assert ".paper{display:none}" in page, "a screen has the caption alone"


def test_the_picture_shows_every_step_with_its_window_behind_it() -> None:
    drawn = ET.fromstring(plan_picture(sheet()))
    boxes = [box for box in drawn.iter(f"{SVG}rect") if box.get("class") in ("bound", "free")]
    legend, overview = 2, 2
    assert len(boxes) == len(STEPS) + legend + overview
    bands = [box for box in drawn.iter(f"{SVG}rect") if box.get("class") == "band"]
    bound = [step for step in STEPS if step.by is not None]
    recoat, in_legend = 1, 1
    assert len(bands) == len(bound) + recoat + in_legend


def test_the_picture_is_black_on_white_and_told_in_words() -> None:
    drawn = plan_picture(sheet())
    colours = {int(code[0:2], 16) - int(code[4:6], 16) for code in re.findall(r"#([0-9a-f]{6})\b", drawn)}
    assert colours, "the picture states its shades"
    assert all(abs(tint) < 24 for tint in colours), "no colour carries a meaning"
    assert "<desc" in drawn
    assert "8:06 pour batch 1 bay 1" in drawn
    assert "base is open for it from Tue 14 Apr" in drawn


def test_windows_that_overlap_lie_beside_each_other() -> None:
    tight = tuple(
        step("roll", "roller", at_min, at_min + 5, number, "bay 1", "back-roll", at_min + 40)
        for number, at_min in enumerate((0, 10, 20, 70, 90), start=1)
    )
    compared = levels = 0
    for panel in panels(sheet(replace(PLAN, steps=tight))):
        for row in panel.rows:
            levels = max(levels, *(band.level for band in row.bands))
            for level in range(3):
                bands = sorted((b.starts, b.closes) for b in row.bands if b.level == level)
                compared += len(bands) // 2
                assert all(one[1] <= other[0] for one, other in pairwise(bands))
    assert levels, "some of these windows overlap"
    assert compared, "and some lie behind each other on one level"


def test_a_night_between_is_not_drawn_and_a_long_day_is_cut_into_pictures() -> None:
    assert len(panels(sheet())) == 2
    day = tuple(step("squeegee", "mixer", at_min, at_min + 20, 1, "bay 1") for at_min in range(0, 400, 30))
    cut = panels(sheet(replace(PLAN, steps=day)))
    assert sum(len(row.steps) for panel in cut for row in panel.rows) == len(day)
    assert len(cut) == 3
    assert cut[0].starts == at(0)


def test_a_browser_draws_the_picture_and_the_page_without_a_complaint(paper: Any) -> None:
    page = paper(1100, 900)
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.set_content(plan_page(sheet()))
    too_wide = page.evaluate("document.documentElement.scrollWidth > document.documentElement.clientWidth")
    texts = page.evaluate(OVERLAPS)
    drawn = page.locator("svg.plan text").count()
    assert drawn > 10, "there are words in the picture"
    assert said == []
    assert not too_wide
    assert texts == [], "words of the picture lie on each other"


OVERLAPS = """
() => {
  const found = [];
  for (const svg of document.querySelectorAll('svg.plan')) {
    const boxes = [...svg.querySelectorAll('text')].map(t => [t.textContent, t.getBoundingClientRect()]);
    for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
      const [a, p] = boxes[i], [b, q] = boxes[j];
      const x = Math.min(p.right, q.right) - Math.max(p.left, q.left);
      const y = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
      if (x > 1 && y > 3) found.push(a + ' | ' + b);
    }
  }
  return found;
}
"""


def test_a_phone_is_shown_the_day_down_its_page_no_wider_than_it_is() -> None:
    page = plan_page(sheet())
    tall = page.partition('<div class="tall">')[2].partition("Who does what, when")[0]
    widths = [float(found) for found in re.findall(r'viewBox="0 0 ([\d.]+) ', tall)]
    assert widths
    assert max(widths) <= 390.0
    assert all(f"{one.batch}  " in tall for one in PLAN.steps if one.batch is not None)
    assert ".tall{display:none}" in page, "paper shows the picture across"


def test_what_is_said_by_the_mixing_is_not_said_again_for_the_work() -> None:
    page = plan_page(sheet())
    lines = re.findall(r"<li>([^<]*)</li>", page.partition('id="mix"')[2])
    minded = re.findall(r"<li>([^<]*)</li>", page.partition('id="cautions"')[2].partition("</section>")[0])
    assert minded
    before = page.partition('id="mix"')[2].partition('id="cautions"')[0]
    assert lines
    deferring = "safety data sheet"
    assert not [line for line in minded if f"<li>{line}</li>" in before and deferring not in line]


def test_a_break_is_drawn_as_no_edge_and_a_box_too_low_for_words_has_none() -> None:
    """The pour of a strip takes twenty seconds: its words would lie over those of the next step."""
    rest = PlannedStep("break", "roller", at(0), at(15), "base", by=at(90), slack_s=60.0)
    pour = PlannedStep("pour", "roller", at(15), at(15.3), "base", 1, ("bay 1",), "pour-out", at(40), 60.0, strip=1)
    told = sheet(replace(PLAN, steps=(rest, pour)))
    (tall,) = tall_figures(told)
    assert ">break</text>" in tall
    assert "pour</text>" not in tall
    assert tall.count('class="bound"') == 1, "the pour alone has an edge"
    assert "break" not in "".join(line for line in plan_lines(told) if "to spare:" in line)
