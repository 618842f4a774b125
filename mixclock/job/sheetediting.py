"""One figure of a finished profile: shown as somebody would type it, and written back with every other line
unchanged."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import Table

from mixclock.job.mistakes import Mistakes
from mixclock.job.profilereading import read_profile
from mixclock.job.sheetanswers import Form, answer_as_toml
from mixclock.job.sheetquestions import QUESTIONS, Question, mistakes_about, start_of

PARTS = {"a": 0, "b": 1}
"""The place of each part's density in the sheet's pair."""


def figures_in(text: str) -> dict[str, str]:
    """The figures of a profile by the keys of their questions, each as somebody would type it.

    >>> figures_in('[windows.recoat]\\nopens = { "20 °C" = "12 h" }\\n[mix]\\nratio_by_volume = [2, 1]')
    {'mix.ratio_by_volume': '2:1', 'windows.recoat.opens': '20 °C = 12 h'}
    """
    values = tomllib.loads(text)
    found = ((question, _value_at(values, question.key)) for question in QUESTIONS)
    return {question.key: _as_typed(question.form, value) for question, value in found if value is not None}


def with_figure(text: str, question: Question, typed: str) -> str:
    """The profile's text with one figure replaced. If nothing is typed, the figure is taken out."""
    document = tomlkit.parse(text)
    *tables, key = question.key.split(".")
    if question.key.startswith("mix.density."):
        tables, key, value = ["mix"], "density", _densities(document, PARTS[key], typed)
    else:
        value = tomlkit.value(answer_as_toml(question.form, typed)) if typed else None
    held = _table_at(document, tables, figures_in(text), make=value is not None)
    if held is None:
        return text
    if value is not None:
        held[key] = value
    elif key in held:
        del held[key]
        _drop_window_without_edges(document, tables)
    return tomlkit.dumps(document)


def mistakes_in_text(question: Question, text: str) -> list[str]:
    """What is wrong with one figure beside all others. If the figure itself is right, what it makes wrong elsewhere."""
    try:
        read_profile(text)
    except Mistakes as mistakes:
        return mistakes_about(question, mistakes.found) or [str(mistake) for mistake in mistakes.found]
    return []


def _value_at(values: Mapping[str, Any], key: str) -> Any:
    *tables, last = key.split(".")
    if key.startswith("mix.density."):
        density = values.get("mix", {}).get("density")
        every = density if isinstance(density, list) else [] if density is None else [density]
        return every[PARTS[last]] if PARTS[last] < len(every) else None
    found: Any = values
    for table in tables:
        found = found.get(table, {}) if isinstance(found, Mapping) else {}
    return found.get(last) if isinstance(found, Mapping) else None


def _as_typed(form: Form, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Mapping):
        return "; ".join(f"{at} = {span}" for at, span in value.items())
    if isinstance(value, list):
        between = {Form.RATIO: ":", Form.PAIR: " to "}.get(form, "; ")
        return between.join(str(each) for each in value)
    return str(value)


def _densities(document: tomlkit.TOMLDocument, place: int, typed: str) -> Any:
    now = document.get("mix", {}).get("density")
    every = [str(each) for each in now] if isinstance(now, list) else [] if now is None else [str(now)]
    every[place : place + 1] = [typed] if typed else []
    return every or None


def _table_at(document: tomlkit.TOMLDocument, tables: list[str], known: Mapping[str, str], make: bool) -> Any:
    """The table that holds a figure. A new table begins with what starts its window's clock."""
    held: Any = document
    for depth, name in enumerate(tables, start=1):
        if name not in held:
            if not make:
                return None
            held[name] = _new_table(".".join(tables[:depth]), known)
        held = held[name]
    return held


def _new_table(name: str, known: Mapping[str, str]) -> Table:
    made = tomlkit.table(is_super_table=name == "windows")
    for line in start_of(name, known):
        for key, value in tomllib.loads(line).items():
            made[key] = value
    return made


def _drop_window_without_edges(document: tomlkit.TOMLDocument, tables: list[str]) -> None:
    if tables[:1] != ["windows"]:
        return
    windows: Any = document["windows"]
    if not {"opens", "closes"} & windows[tables[1]].keys():
        del windows[tables[1]]
