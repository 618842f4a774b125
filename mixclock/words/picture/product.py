"""The picture of a product: a panel for each window, and three for what the mass does in the bucket."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from mixclock.decide.clocks import LearnedFactor
from mixclock.job.practice import pot_life_mass
from mixclock.job.profile import Family, Profile, SheetSpan
from mixclock.job.steps import POUR_OUT
from mixclock.units import CrewUnits
from mixclock.words.picture.drawing import Drawing
from mixclock.words.picture.edgepanel import WindowCurves, draw_window, windows_of
from mixclock.words.picture.masspanel import DrawnCup, MassCurve, draw_masses
from mixclock.words.profilepage import TABLE_RH_PCT, edge_rows

WIDTH, MARGIN, COLUMNS = 800.0, 18.0, 3
PANEL = ((WIDTH - 2 * MARGIN) / COLUMNS, 190.0)
TOP = 108.0
REACH_K = 5.0
USUAL_C = (5.0, 35.0)


def product_picture(
    profile: Profile,
    units: CrewUnits,
    masses: Sequence[MassCurve] = (),
    learned: Mapping[str, LearnedFactor] = MappingProxyType({}),
    cups: Sequence[DrawnCup] = (),
) -> str:
    """The whole SVG file. `masses` is what the bucket model says, `learned` what was seen of a window, by its name;
    `cups` are test cups, drawn on what the sheet says at their own warmth."""
    temps_c = _temperatures(profile)
    windows = windows_of(edge_rows(profile, learned, temps_c), _spans(profile))
    rows = -(-len(windows) // COLUMNS)
    of_cups = TOP + rows * PANEL[1] + (PANEL[1] + 34.0 if masses else 0.0)
    height = of_cups + (PANEL[1] + 34.0 if cups else 0.0) + 8.0
    told = " ".join([_told(profile, windows, masses, units), *(cup.told(units) for cup in cups)])
    drawing = Drawing("product", WIDTH, height, f"{profile.name}: its windows", told)
    drawing.box(0, 0, WIDTH, height, "paper")
    _head(drawing, profile, any(row.factor != 1.0 for window in windows for row in window.rows))
    for index, window in enumerate(windows):
        place = MARGIN + index % COLUMNS * PANEL[0], TOP + index // COLUMNS * PANEL[1]
        draw_window(drawing, window, place, PANEL, units)
    if masses:
        below = TOP + rows * PANEL[1]
        drawing.text((MARGIN, below + 20), _mass_words(profile, units), "soft")
        for index, curve in enumerate(masses):
            place = MARGIN + index * PANEL[0], below + 30.0
            draw_masses(drawing, curve, _stated_at(profile, curve.temp_c), place, PANEL, units)
    if cups:
        _draw_cups(drawing, profile, cups, of_cups, units)
    return drawing.document()


def _draw_cups(drawing: Drawing, profile: Profile, cups: Sequence[DrawnCup], below: float, units: CrewUnits) -> None:
    """Each cup beside its sheet: where the black diamond lies under the line, this lot is faster than its sheet."""
    words = "Test cups: the black diamond is the cup's own end; the curves are the sheet's at the cup's warmth."
    drawing.text((MARGIN, below + 20), words, "soft")
    for index, cup in enumerate(cups):
        place = MARGIN + index * PANEL[0], below + 30.0
        draw_masses(drawing, cup.by_sheet, _stated_at(profile, cup.by_sheet.temp_c), place, PANEL, units, cup)


def _temperatures(profile: Profile) -> list[float]:
    """From a little under to a little over what the sheet states, every degree, its own points among them."""
    stated = _stated_c(profile)
    low = min([USUAL_C[0], *(temp_c - REACH_K for temp_c in stated)])
    high = max([USUAL_C[1], *(temp_c + REACH_K for temp_c in stated)])
    return sorted({*(low + (high - low) * step / 30.0 for step in range(31)), *stated})


def _stated_c(profile: Profile) -> list[float]:
    spans = _spans(profile).values()
    return sorted({point.temp_c for span in spans for point in span.points if point.temp_c is not None})


def _spans(profile: Profile) -> dict[tuple[str, str], SheetSpan]:
    spans = {(POUR_OUT, "closes"): profile.pot_life.span} if profile.pot_life else {}
    for rule in profile.windows:
        for edge, span in (("opens", rule.opens), ("closes", rule.closes)):
            if span is not None:
                spans[(rule.name, edge)] = span
    return spans


def _stated_at(profile: Profile, temp_c: float) -> tuple[float, float] | None:
    """The sheet's mass and pot life where it states this very temperature."""
    assert profile.pot_life is not None
    for point in profile.pot_life.span.points:
        if point.temp_c is not None and abs(point.temp_c - temp_c) < 0.3:
            return pot_life_mass(profile).value, point.span_s
    return None


def _head(drawing: Drawing, profile: Profile, learned: bool) -> None:
    drawing.text((MARGIN, 30), profile.name, "title")
    drawing.text((MARGIN, 48), f"{profile.family.value}; {profile.source or 'no source stated'}", "soft")
    damp = f", at {TABLE_RH_PCT:.0f} % humidity" if profile.family is Family.POLYASPARTIC else ""
    of_mass = "; pour-out is that of the sheet's own mass" if profile.pot_life else ""
    drawing.text((MARGIN, 66), f"Windows by slab temperature{damp}{of_mass}.", "soft")
    keys = ((MARGIN, "closing", "what closes: early to late"), (MARGIN + 195, "opening", "what opens: early to late"))
    for x, kind, words in keys:
        drawing.band([(x, 78), (x + 34, 78)], [(x, 90), (x + 34, 90)], kind)
        drawing.path([(x, 84), (x + 34, 84)], f"likely-{kind}")
        drawing.text((x + 41, 88), words)
    x = MARGIN + 390
    drawing.mark((x + 4, 84))
    drawing.text((x + 14, 88), "stated on the sheet")
    if learned:
        drawing.path([(x + 140, 84), (x + 170, 84)], "sheet")
        drawing.text((x + 177, 88), "by the sheet alone")


def _mass_words(profile: Profile, units: CrewUnits) -> str:
    mass = pot_life_mass(profile)
    of = f"the sheet speaks of {units.write_mass(mass.value)}" if mass.stated else mass.words
    return f"Pot life by the mass in the bucket, material as warm as the air; {of}. Work by the early line."


def _told(profile: Profile, windows: Sequence[WindowCurves], masses: Sequence[MassCurve], units: CrewUnits) -> str:
    stated = _stated_c(profile) or [20.0]
    said = [window.told(stated, units) for window in windows]
    return " ".join([*said, *(curve.told(units) for curve in masses)])
