"""Reads the windows of a profile: what starts each clock, when it opens, when it closes, and whether that is
possible."""

from __future__ import annotations

from collections.abc import Sequence

from mixclock.job.mistakes import did_you_mean, near, quoted
from mixclock.job.profile import SheetSpan, WindowRule
from mixclock.job.sheetspans import read_span, say_point, span_at
from mixclock.job.steps import INDUCTION, POUR_OUT, RECOAT, WINDOWS
from mixclock.job.tablereading import Table
from mixclock.job.windownames import HOTTEST_HOUR, STAND_STILL, STARTS, default_energy
from mixclock.units import crew_units_for, write_span

_SPELLINGS = {
    "neutralised": "neutralise",
    "neutralized": "neutralise",
    "rinsed": "rinse",
    "scraped": "scrape",
    "dried": "dry",
    "recoated": "recoat",
}


def read_windows(table: Table) -> tuple[WindowRule, ...]:
    """Every [windows.NAME] of the profile, in the order of the file."""
    rules = []
    for name in table.values:
        part = table.table(name, f"[windows.{name}]")
        if _name_will_do(table, name):
            rules.append(_read_window(part, name, list(table.values)))
    found = [rule for rule in rules if rule is not None]
    _check_circles(table, found)
    return tuple(found)


def _name_will_do(table: Table, name: str) -> bool:
    if name == POUR_OUT:
        table.wrong(
            name, f"{POUR_OUT} has no window of its own", "write the pot life under [pot-life]: it gives pour-out"
        )
        return False
    close = near(name, WINDOWS, cutoff=0.75)
    if name not in WINDOWS and close is not None:
        table.wrong(name, "is no window that mixclock knows", f"did you mean '{close}'?")
        return False
    if not name.strip() or not name.isprintable() or len(name) > 60:
        table.wrong(name, "is no name for a window", "expected a short name such as 'recoat'")
        return False
    return True


def _read_window(table: Table, name: str, names: Sequence[str]) -> WindowRule | None:
    before = len(table.found.mistakes)
    after = _after(table, name, names)
    constant = _constant(table, name)
    opens = read_span(table, "opens", zero=name == INDUCTION, constant=constant, opens=True)
    closes = read_span(table, "closes", constant=constant)
    closes_for = _closes_for(table, name, constant)
    hottest = _hottest_hour(table, name, "closes" in table.values)
    _check_edges(table, name)
    table.finish()
    if len(table.found.mistakes) > before:
        return None
    _check_order(table, opens, closes, default_energy(name).likely_kj_mol)
    return WindowRule(name, after or default_start(name), opens, closes, hottest, after is not None, closes_for)


def _constant(table: Table, name: str) -> bool:
    """Whether spans without a temperature are the same at any: only time ends such a stand, or the file says so."""
    stated = table.flag("constant")
    return name in STAND_STILL if stated is None else stated


def _closes_for(table: Table, name: str, constant: bool) -> tuple[tuple[str, SheetSpan], ...]:
    """When it closes, by the family or the product of the coat that follows."""
    part = table.table("closes_for", '[windows.recoat.closes_for] with polyurethane = "24 h"')
    if part.values and name != RECOAT:
        table.wrong("closes_for", "goes with recoat only: it says which coat follows", "leave it out here")
    spans = ((key.casefold(), read_span(part, key, constant=constant)) for key in part.values)
    return tuple((key, span) for key, span in spans if span is not None)


def default_start(name: str) -> str:
    """What starts a window if the file does not say: mixing starts an induction, pouring all others."""
    return "mixed" if name == INDUCTION else "poured"


def _after(table: Table, name: str, names: Sequence[str]) -> str | None:
    stated = table.text("after", "poured")
    if stated is None:
        return None
    start = _SPELLINGS.get(stated, stated)
    steps = [step for step in names if step != name]
    if start not in STARTS and start not in steps:
        table.wrong(
            "after",
            f"{quoted(stated)} is not something that a window can count from",
            did_you_mean(stated, [*STARTS, *steps]),
        )
        return None
    return start


def _hottest_hour(table: Table, name: str, closes: bool) -> bool:
    if table.choice("rule", [HOTTEST_HOUR]) is None:
        return False
    if name != RECOAT or not closes:
        table.wrong("rule", f"'{HOTTEST_HOUR}' is for the closing edge of recoat only", "leave it out here")
    return True


def _check_edges(table: Table, name: str) -> None:
    stated = [edge for edge in ("opens", "closes") if edge in table.values]
    if not stated and "closes_for" not in table.values:
        table.found.add(table.path, "neither opens nor closes", "state opens, closes or both")
    meaning = WINDOWS.get(name)
    for edge in stated:
        if meaning is not None and edge not in meaning.edges:
            only = "closes" if edge == "opens" else "opens"
            table.wrong(edge, f"{name} only {only}: {meaning.says}", f"write {only} = …")


def _check_order(table: Table, opens: SheetSpan | None, closes: SheetSpan | None, energy_kj_mol: float) -> None:
    if opens is None or closes is None or opens.points[0].span_s == 0.0:
        return
    for point in (*opens.points, *closes.points):
        open_s, close_s = (span_at(span, point, energy_kj_mol) for span in (opens, closes))
        if close_s <= open_s:
            table.wrong(
                "closes",
                f"at {say_point(point, crew_units_for(table.found.quantities))} it shuts after {write_span(close_s)}, "
                f"but opens only after {write_span(open_s)}",
                "look whether opens and closes were swapped, or hours typed for days",
            )
            return


def _check_circles(table: Table, rules: Sequence[WindowRule]) -> None:
    starts = {rule.name: rule.after for rule in rules}
    for rule in rules:
        seen = [rule.name]
        while (start := starts.get(seen[-1])) is not None and start not in seen:
            seen.append(start)
        if start == rule.name:
            table.wrong(
                rule.name, f"counts from itself: {' after '.join([*seen, start])}", f"begin with one of {STARTS}"
            )
            return
