"""Fills in a job file's text: what it leaves out about the crew comes from the settings."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

from mixclock.job.mistakes import one_line
from mixclock.outside.home import home
from mixclock.outside.profilefiles import ProfileFileError, text_of
from mixclock.outside.settings import BY_PLACE, Settings, SettingsError, read_settings


def job_text_of(path: Path) -> str:
    """The text of a job file as the job will keep it. Raises `ProfileFileError` with every line that is wrong."""
    text = text_of(path)
    try:
        return with_settings(text, read_settings(home()))
    except SettingsError as error:
        raise ProfileFileError(*str(error).splitlines()) from error


def with_settings(text: str, settings: Settings) -> str:
    """The text with the settings' words on units, leads and crew, where it has none of its own.

    >>> print(with_settings('name = "shed"\\nareas = []', Settings({"crew.units": "US", "crew.people": ("mixer",)})))
    units = "US"  # from the settings
    name = "shed"
    areas = []
    [[crew]]  # from the settings
    name = "mixer"
    >>> with_settings('units = "metric"\\nareas = []', Settings({"crew.units": "US"})).count("units")
    1
    """
    try:
        told = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return text  # whoever reads it reports the mistakes, by the line numbers that its writer knows
    if "areas" not in told:
        return text
    first = [
        f"{key.name} = {_toml(value)}  # from the settings\n"
        for place, value in settings.found.items()
        if (key := BY_PLACE[place]).of_job and key.name not in told and not isinstance(value, tuple)
    ]
    people = () if "crew" in told else settings.get("crew.people")
    crew = [f"\n[[crew]]  # from the settings\nname = {_toml(name)}" for name in people]
    return "".join([*first, text.rstrip("\n") if crew else text, *crew])


def _toml(value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_toml(key)} = {_toml(each)}" for key, each in value.items()) + " }"
    return json.dumps(one_line(str(value)), ensure_ascii=False)
