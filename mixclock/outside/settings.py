"""The settings file: MIXCLOCK_HOME/settings.toml, where there is one."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from mixclock.job.mistakes import near, quoted

NAME = "settings.toml"
KNOWN: Mapping[str, tuple[str, ...]] = {"phone": ("targets", "timely"), "watch": ("quiet",), "board": ("step_key",)}


class SettingsError(ValueError):
    """Settings that can't be read: one line for each mistake."""


@dataclass(frozen=True)
class Settings:
    """What the user set. `phones` are apprise addresses by name; `quiet` is "22:00-06:00"."""

    phones: Mapping[str, str] = field(default_factory=dict)
    phone_timely: bool = False
    quiet: str | None = None
    step_key: str | None = None


def read_settings(home: Path) -> Settings:
    """The settings of a home; the usual ones where no file is. Raises `SettingsError` with every mistake."""
    path = home / NAME
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings()
    except (OSError, ValueError) as error:
        raise SettingsError(f"{path}: can't be read as text ({error}); mend it or delete it") from error
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path}: {error}; mend that line") from error
    mistakes = [*_unknown(table), *_wrong(table)]
    if mistakes:
        raise SettingsError("\n".join(f"{path}: {mistake}" for mistake in mistakes))
    phone = table.get("phone", {})
    return Settings(
        phones=phone.get("targets", {}),
        phone_timely=phone.get("timely", False),
        quiet=table.get("watch", {}).get("quiet"),
        step_key=table.get("board", {}).get("step_key"),
    )


def _unknown(table: Mapping[str, Any]) -> list[str]:
    said = []
    for section, values in table.items():
        if section not in KNOWN or not isinstance(values, dict):
            said.append(f"{quoted(section)} is not known here; known are [phone], [watch] and [board]")
            continue
        for key in values.keys() - set(KNOWN[section]):
            close = near(key, KNOWN[section])
            hint = f"did you mean '{close}'?" if close else f"known are: {', '.join(KNOWN[section])}"
            said.append(f"at '{section}.{key}': is not known here; {hint}")
    return said


def _wrong(table: Mapping[str, Any]) -> list[str]:
    wanted = {
        ("phone", "timely"): bool,
        ("watch", "quiet"): str,
        ("board", "step_key"): str,
        ("phone", "targets"): dict,
    }
    names = {bool: "true or false", str: "a text in quotes", dict: 'a table of addresses, as { mixer = "…" }'}
    said = []
    for (section, key), kind in wanted.items():
        values = table.get(section)
        value = values.get(key) if isinstance(values, dict) else None
        fits = value is None or isinstance(value, kind)
        if fits and kind is dict and value is not None:
            fits = all(isinstance(target, str) for target in value.values())
        if not fits:
            said.append(f"at '{section}.{key}': {value!r}, expected {names[kind]}")
    return said
