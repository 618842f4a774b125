"""The picture of a plan for a phone: time runs down the page, a column for each person, a box for each step."""

from __future__ import annotations

from datetime import timedelta

from mixclock.units import write_time_of_day
from mixclock.words.plan.panels import DayPanel, has_an_edge, panels
from mixclock.words.plan.picture import PlanDrawing
from mixclock.words.plan.sheet import PlanSheet

WIDTH, LEFT, TOP, FOOT = 366.0, 44.0, 44.0, 10.0
A_MINUTE = 12.0
"""So tall is a minute: the shortest step, a pour, holds its words."""

EVERY = timedelta(minutes=10)
LETTER = 5.8
"""How wide a letter is at this size, more or less."""

LEAST_READ = 9.0
"""In a box that is lower than this no word is read: the pour of a strip. The list beneath names it."""

SHORT = {"measure": "measure", "set-up": "set up", "scrape": "scrape", "clean": "clean", "ready": "neutraliser"}
"""Steps whose words are too long for a narrow column."""


def tall_figures(sheet: PlanSheet) -> list[str]:
    """Each stretch of work as a picture that a phone shows whole across."""
    return [_drawn(sheet, panel, number) for number, panel in enumerate(panels(sheet), start=1)]


def _drawn(sheet: PlanSheet, panel: DayPanel, number: int) -> str:
    height = TOP + (panel.ends - panel.starts).total_seconds() / 60.0 * A_MINUTE + FOOT
    told = "The same as in the list: who does what, down the page as time goes."
    drawing = PlanDrawing(f"plan-tall-{number}", height, panel.title, told, WIDTH)
    drawing.text((4, 14), panel.title, "head")
    people = panel.people()
    column = (WIDTH - LEFT - 2.0) / max(1, len(people))
    _draw_clock(drawing, sheet, panel)
    for place, (who, rows) in enumerate(people):
        left = LEFT + place * column
        drawing.text((left + 3, TOP - 8), who[: int(column / LETTER)], "who")
        for row in rows:
            for step in row.steps:
                top = _y(step.starts - panel.starts)
                bound = has_an_edge(step)
                size = _y(step.ends - panel.starts) - top
                drawing.box(left + 1, top, column - 3, size, "bound" if bound else "free")
                if step is sheet.plan.tightest:
                    drawing.mark((left + column - 12, top + size / 2))
                if size < LEAST_READ:
                    continue
                said = SHORT.get(step.kind, row.said)
                words = f"{step.batch}  {said}" if step.batch is not None else said
                drawing.text((left + 5, top + min(size / 2, 10.0) + 3.6), words, "dark" if bound else "light")
    return drawing.markup()


def _y(since: timedelta) -> float:
    return TOP + since.total_seconds() / 60.0 * A_MINUTE


def _draw_clock(drawing: PlanDrawing, sheet: PlanSheet, panel: DayPanel) -> None:
    """A line across every ten minutes, on the crew's clock."""
    there = panel.starts.astimezone(sheet.zone)
    midnight = there.replace(hour=0, minute=0, second=0, microsecond=0)
    at = midnight + EVERY * (-(-(there - midnight) // EVERY))
    while at <= panel.ends:
        y = _y(at - panel.starts)
        drawing.line((LEFT - 4, y), (WIDTH, y), "grid")
        drawing.text((2, y + 4), write_time_of_day(at.timetz()), "soft")
        at += EVERY
