"""Finds products by name: first among the user's own profiles, then among those that come with mixclock."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import mixclock
from mixclock.job.mistakes import Mistakes, near, one_line, plain_name, quoted
from mixclock.job.profile import Profile
from mixclock.job.profilereading import read_profile
from mixclock.outside.atomicfile import write_atomically
from mixclock.outside.home import profiles_home
from mixclock.values import dataclass

TEMPLATE = "template.toml"
SIZE_MAX = 1_000_000
_NAME_LINE = re.compile(r"^[ \t]*[\"']?name[\"']?[ \t]*=.*$", re.MULTILINE)


class ProfileFileError(Exception):
    """A profile can't be read. The message is one line for each thing that is wrong."""

    def __init__(self, *lines: str) -> None:
        """Keep the lines. Each can be shown as it is."""
        self.lines = tuple(one_line(line) for line in lines)
        super().__init__("\n".join(self.lines))


class FoundProfile(NamedTuple):
    """A product that was found: its profile, the text, and the file that holds it."""

    profile: Profile
    text: str
    origin: str


@dataclass(frozen=True)
class ProductListing:
    """A product as the list shows it. Only its name was read."""

    name: str
    path: Path
    own: bool


def find(name: str) -> FoundProfile:
    """The product of that name. Raises `ProfileFileError` where there is none, or where its file has mistakes."""
    every = listed()
    own = [entry for entry in every if entry.own and plain_name(entry.name) == plain_name(name)]
    if len(own) > 1:
        files = " and ".join(entry.path.name for entry in own)
        raise ProfileFileError(f"{quoted(name)} stands in two files of {profiles_home()}: {files}; rename one of them")
    matches = own or [entry for entry in every if plain_name(entry.name) == plain_name(name)]
    if not matches:
        raise _unknown(name, every)
    return read(matches[0].path)


def read(path: Path) -> FoundProfile:
    """The profile in a file; raises `ProfileFileError` with every mistake of it."""
    text = text_of(path)
    try:
        return FoundProfile(read_profile(text), text, str(path))
    except Mistakes as mistakes:
        raise ProfileFileError(*mistakes.lines(str(path))) from mistakes


def text_of(path: Path) -> str:
    """The text of a file; raises `ProfileFileError` where it can't be read as text."""
    try:
        if path.stat().st_size > SIZE_MAX:
            raise ProfileFileError(f"{path}: is larger than a megabyte; give the text file of one product")
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise ProfileFileError(f"{path}: {error.strerror or error}; give the path of a TOML file") from error
    except ValueError as error:
        raise ProfileFileError(f"{path}: is not text in UTF-8; save it as UTF-8") from error


def names() -> list[str]:
    """The names of all products that can be found, once each, in alphabetical order."""
    return sorted({entry.name for entry in listed()}, key=str.casefold)


def listed() -> list[ProductListing]:
    """Every product that can be found: the user's own, then those that come with mixclock."""
    return [*_listed_in(profiles_home(), own=True), *_listed_in(shipped_folder(), own=False)]


def shipped_folder() -> Path:
    """Where the products that come with mixclock lie: inside the installed package, or beside it in a checkout."""
    package = Path(mixclock.__file__).parent
    installed = package / "shippedprofiles"
    return installed if installed.is_dir() else package.parent / "profiles"


def own_path(name: str) -> Path | None:
    """The file of the user's own product of that name, if there is one."""
    wanted = plain_name(name)
    return next((each.path for each in _listed_in(profiles_home(), own=True) if plain_name(each.name) == wanted), None)


def path_for(name: str) -> Path:
    """The file for the user's own product of that name: the one that holds it, else a new one."""
    known = own_path(name)
    if known is not None:
        return known
    stem = stem_of(name, "product")
    path = profiles_home() / f"{stem}.toml"
    number = 2
    while path.exists():
        path = profiles_home() / f"{stem}-{number}.toml"
        number += 1
    return path


def save(profile_text: str) -> Path:
    """Check a profile's text and keep it among the user's own, in one step. Gives the file."""
    try:
        profile = read_profile(profile_text)
    except Mistakes as mistakes:
        raise ProfileFileError(*mistakes.lines("profile")) from mistakes
    path = path_for(profile.name)
    try:
        write_atomically(path, profile_text)
    except OSError as error:
        raise ProfileFileError(f"{path}: {error.strerror or error}; set MIXCLOCK_HOME to a folder of yours") from error
    return path


def _listed_in(folder: Path, *, own: bool) -> Iterator[ProductListing]:
    try:
        paths = sorted(path for path in folder.glob("*.toml") if (own or path.name != TEMPLATE) and path.is_file())
    except OSError:
        return  # products in an unreadable folder can't be found
    for path in paths:
        yield ProductListing(_name_in(path), path, own)


def _name_in(path: Path) -> str:
    """The product's name, without reading the whole profile; the file's name where it gives none."""
    try:
        line = _NAME_LINE.search(text_of(path))
        name = tomllib.loads(line[0]).get("name") if line else None
    except (ProfileFileError, ValueError):
        name = None
    return name.strip() if isinstance(name, str) and name.strip() else path.stem


def _unknown(name: str, every: list[ProductListing]) -> ProfileFileError:
    close = near(name, [entry.name for entry in every])
    mend = f"did you mean '{close}'?" if close else "`mixclock profile list` shows those that are known"
    return ProfileFileError(f"no product is named {quoted(name)}; {mend}")


def stem_of(name: str, usual: str) -> str:
    """A file's name, without its ending, for what somebody called a product or a job.

    >>> stem_of("Slow epoxy: base!", "product"), stem_of("?", "product")
    ('slow-epoxy-base', 'product')
    """
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:60] or usual
