"""Reads the settings file, MIXCLOCK_HOME/settings.toml. Its one table of keys holds all that the file may say.

When a job begins, it takes from here what its job file leaves out about the crew, and keeps it. A setting that is
changed later changes no job that is under way.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mixclock.job.kinds import CLOSING, LEAD
from mixclock.job.mistakes import did_you_mean, one_line, quoted
from mixclock.job.saying import CannotTellError
from mixclock.outside.atomicfile import write_atomically
from mixclock.outside.channels.choosable import CHANNEL_ROWS
from mixclock.outside.channels.message import RANKS, Rank
from mixclock.outside.channels.quiet import read_quiet_hours
from mixclock.units import CLOCKS
from mixclock.values import dataclass, field

NAME = "settings.toml"
CHANNELS = tuple(CHANNEL_ROWS)
"""What a rank may be sent to; the terminal and the pages that are open take every rank in any case."""


_LINE = re.compile(r"at line (\d+)")
_BROKEN_LINES = 20


class SettingsError(CannotTellError):
    """The settings can't be read. The message has one line for each mistake."""


@dataclass(frozen=True)
class SettingKey:
    """One key: its place in the file, its purpose, an example as TOML, and the reader of its value.

    `read` raises `ValueError` with what was expected. `of_job` names the job file's key that takes this as its default.
    """

    section: str
    name: str
    says: str
    example: str
    read: Callable[[Any], Any]
    usual_says: str
    usual: Any = None
    of_job: bool = False

    @property
    def place(self) -> str:
        """Where it stands, as a person finds it: 'watch.quiet'."""
        return f"{self.section}.{self.name}"


@dataclass(frozen=True)
class Settings:
    """The user's settings, by place. A key that was left out has its usual value."""

    found: Mapping[str, Any] = field(default_factory=dict)

    def get(self, place: str) -> Any:
        """The value at a place, such as "watch.quiet"."""
        return self.found.get(place, BY_PLACE[place].usual)

    def ranks_of(self, channel: str) -> frozenset[Rank] | None:
        """The ranks that a channel takes; None where nobody chose any."""
        chosen: dict[Rank, Any] = {rank: self.get(f"channels.{rank}") for rank in RANKS}
        if all(names is None for names in chosen.values()):
            return None
        return frozenset(
            rank for rank, names in chosen.items() if channel in (USUAL_CHANNELS[rank] if names is None else names)
        )


USUAL_CHANNELS: Mapping[Rank, tuple[str, ...]] = MappingProxyType(
    {rank: tuple(name for name, row in CHANNEL_ROWS.items() if rank in row.usual) for rank in RANKS}
)


def read_settings(home: Path) -> Settings:
    """The settings of a home, the usual ones without a file. Raises `SettingsError` with every mistake."""
    settings, mistakes = readable_settings(home)
    if mistakes:
        raise SettingsError("\n".join(mistakes))
    return settings


def readable_settings(home: Path) -> tuple[Settings, tuple[str, ...]]:
    """The settings as far as they can be read, and a line for each mistake. A mistake here must not stop the watch."""
    path = home / NAME
    try:
        text = path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return Settings(), ()
    except (OSError, ValueError) as error:
        return Settings(), (f"{path}: can't be read as text ({error}); mend it or delete it",)
    table, broken = _table_of(text)
    found, mistakes = _read(table)
    return Settings(found), tuple(f"{path}: {one_line(mistake)}" for mistake in (*broken, *mistakes))


def _table_of(text: str) -> tuple[Mapping[str, Any], list[str]]:
    """The file's content without the lines that are no TOML, and a line on each of those."""
    lines, wrong = text.split("\n"), list[str]()
    while len(wrong) < _BROKEN_LINES:
        try:
            return tomllib.loads("\n".join(lines)), wrong
        except tomllib.TOMLDecodeError as error:
            wrong.append(f"{error}; mend that line")
            at = _LINE.search(str(error))
            place = int(at[1]) - 1 if at else len(lines) - 1
            broken = next((each for each in range(min(place, len(lines) - 1), -1, -1) if lines[each].strip()), None)
            if broken is None:
                break
            lines[broken] = ""
    return {}, wrong


def make_settings(home: Path) -> bool:
    """Make the file if there is none, for its owner alone. Tells whether it was made."""
    path = home / NAME
    if path.exists():
        return False
    try:
        home.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_atomically(path, settings_text())
        path.chmod(0o600)  # the phones' addresses hold passwords
    except OSError as error:
        raise SettingsError(
            f"{path}: can't be written ({error.strerror or error}); make room, or mend its rights"
        ) from error
    return True


def settings_text() -> str:
    """The file with every key, commented out, as `mixclock settings` makes it."""
    lines = [
        "# Settings of mixclock. Every line is optional: take the # away from those that you want.",
        "# `mixclock settings` checks this file and shows what holds.",
    ]
    for section, keys in _by_section():
        lines += ["", f"[{section}]"]
        for key in keys:
            lines += ["", *(f"# {part}" for part in (*key.says.split("\n"), f"If left out: {key.usual_says}."))]
            lines += [f"# {part}" for part in key.example.split("\n")]
    return "\n".join(lines) + "\n"


def _by_section() -> Iterable[tuple[str, list[SettingKey]]]:
    sections = list(dict.fromkeys(key.section for key in KEYS))
    return [(section, [key for key in KEYS if key.section == section]) for section in sections]


def _read(table: Mapping[str, Any]) -> tuple[dict[str, Any], list[str]]:
    found: dict[str, Any] = {}
    mistakes = []
    sections = {key.section for key in KEYS}
    for section, values in table.items():
        if section not in sections or not isinstance(values, dict):
            mistakes.append(_unknown(section, sections, "sections are: "))
            continue
        for name, value in values.items():
            key = BY_PLACE.get(f"{section}.{name}")
            if key is None:
                known = [key.name for key in KEYS if key.section == section]
                mistakes.append(f"at '{section}.{name}': {_unknown(name, known, 'known are: ')}")
                continue
            try:
                found[key.place] = key.read(value)
            except ValueError as error:
                mistakes.append(f"at '{key.place}': {error}")
    return found, mistakes


def _unknown(name: str, known: Iterable[str], before: str) -> str:
    return f"{quoted(name)} is not known here; {did_you_mean(name, sorted(known), before)}"


def _choice(*choices: str) -> Callable[[Any], str]:
    def read(value: Any) -> str:
        if value not in choices:
            raise ValueError(f"{quoted(value)}, expected {' or '.join(map(quoted, choices))}")
        return str(value)

    return read


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{quoted(value)}, expected true or false")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{quoted(value)}, expected a text in quotes")
    return value


def _quiet(value: Any) -> str:
    read_quiet_hours(_text(value))
    return str(value)


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
        raise ValueError(f'{quoted(value)}, expected a list of texts, as ["mixer", "roller"]')
    return tuple(value)


def _targets(value: Any) -> Mapping[str, str]:
    if not isinstance(value, dict) or not all(isinstance(target, str) for target in value.values()):
        raise ValueError(f'{quoted(value)}, expected a table of addresses, as {{ mixer = "…" }}')
    return value


def _people(value: Any) -> tuple[str, ...]:
    names = _texts(value)
    if not all(name.strip() for name in names) or len({name.casefold() for name in names}) != len(names):
        raise ValueError(f"{quoted(value)}, expected each person once, by a name")
    return names


def _leads(value: Any) -> Mapping[str, str]:
    if not isinstance(value, dict):
        raise ValueError(f'{quoted(value)}, expected a table, as {{ pour-out = "5 min" }}')
    for step, lead in value.items():
        if step not in CLOSING:
            raise ValueError(_unknown(step, CLOSING, "steps are: "))
        seconds = LEAD.read(_text(lead))
        if objection := LEAD.objection(seconds):
            raise ValueError(f"{quoted(lead)} {objection}; expected something like {quoted(LEAD.example)}")
    return value


def _channels(value: Any) -> tuple[str, ...]:
    names = _texts(value)
    if strangers := [name for name in names if name not in CHANNELS]:
        raise ValueError(_unknown(strangers[0], CHANNELS, "channels are: "))
    return names


def _critical(value: Any) -> tuple[str, ...]:
    names = _channels(value)
    if not set(names) & {"sound", "voice"}:
        raise ValueError("a call that saves a bucket must be heard: name sound or voice, or both")
    return names


KEYS = (
    SettingKey(
        "crew",
        "units",
        "The units of your crew, for job files that do not name them.",
        'units = "US"        # or "metric"',
        _choice("metric", "US"),
        "what most figures of the job file are in",
        of_job=True,
    ),
    SettingKey(
        "crew",
        "clock",
        "How your crew reads the clock, for job files that don't say.",
        'clock = "12 h"      # or "24 h"',
        _choice(*CLOCKS),
        "24 h",
        of_job=True,
    ),
    SettingKey(
        "crew",
        "people",
        "Who works, for job files without a [[crew]].",
        'people = ["mixer", "roller"]',
        _people,
        "one person",
        (),
        of_job=True,
    ),
    SettingKey(
        "crew",
        "decimal",
        "The decimal sign in CSV files.",
        'decimal = "comma"   # or "point"',
        _choice("point", "comma"),
        "point",
        "point",
    ),
    SettingKey(
        "crew",
        "leads",
        "How long before a step's latest start you are warned, for job files without [leads].",
        'leads = { pour-out = "5 min", back-roll = "8 min" }',
        _leads,
        "a fifth of its time, between half a minute and a quarter of an hour",
        of_job=True,
    ),
    SettingKey(
        "watch",
        "quiet",
        "Hours in which only a bucket that runs hot sounds.",
        'quiet = "22:00-06:00"',
        _quiet,
        "none",
    ),
    SettingKey(
        "watch",
        "mute",
        "Led mixing that is not said: mixing, mixing by NAME, or mixing of PRODUCT.",
        'mute = ["mixing by mixer"]',
        _texts,
        "nothing is muted",
        (),
    ),
    SettingKey(
        "channels",
        "critical",
        "Where a call goes that saves a bucket or a floor; sound or voice must be among them.",
        'critical = ["desktop", "sound", "voice", "phone"]',
        _critical,
        "all of them",
    ),
    SettingKey(
        "channels",
        "timely",
        "Where a call goes whose step is due.",
        'timely = ["desktop", "sound", "voice"]',
        _channels,
        "desktop, sound and voice",
    ),
    SettingKey(
        "channels",
        "notice",
        "Where a notice goes.",
        'notice = ["desktop"]',
        _channels,
        "the desktop",
    ),
    SettingKey(
        "phone",
        "targets",
        "Phones beyond this network, by name, as addresses of the apprise library (extra: phone).\n"
        "An address holds a password: keep this file to yourself.",
        'targets = { mixer = "…" }',
        _targets,
        "none",
        {},
    ),
    SettingKey(
        "phone",
        "contact",
        "Which of these is told only that somebody who works alone does not answer (`check_in` in the job file).\n"
        "It is no safety device and no substitute for somebody within call.",
        'contact = "site office"',
        _text,
        "nobody",
    ),
    SettingKey(
        "phone",
        "timely",
        "Whether these phones get the calls of steps that are due as well.",
        "timely = true",
        _flag,
        "only what is critical",
        False,
    ),
    SettingKey(
        "board",
        "step_key",
        "The key of a pedal or shutter button that states the next step.",
        'step_key = "Enter"',
        _text,
        "none",
    ),
)
"""Every key that the file may hold."""

BY_PLACE: Mapping[str, SettingKey] = MappingProxyType({key.place: key for key in KEYS})
