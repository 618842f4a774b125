"""Profiles and job files that are half typed in: kept after each answer, so that nothing typed is ever lost."""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from mixclock.outside.atomicfile import write_atomically
from mixclock.outside.home import drafts_home
from mixclock.outside.profilefiles import ProfileFileError, text_of


@dataclass(frozen=True)
class ProfileDraft:
    """The answers so far as they were typed, and the question that comes next."""

    path: Path
    answers: Mapping[str, str]
    at: str

    @property
    def name(self) -> str:
        """What the product is called so far."""
        return self.answers.get("name", self.path.stem)


def path_of_draft(name: str) -> Path:
    """Where the draft of a product is kept."""
    stem = re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:60] or "product"
    return drafts_home() / f"{stem}.json"


def keep(draft: ProfileDraft) -> None:
    """Keep a draft in one step; raises `ProfileFileError` where that can't be done."""
    text = json.dumps({"answers": dict(draft.answers), "at": draft.at}, indent=1)
    try:
        write_atomically(draft.path, text)
    except OSError as error:
        raise ProfileFileError(f"{draft.path}: {error.strerror}; set MIXCLOCK_HOME to a folder of yours") from error


def drop(draft: ProfileDraft) -> None:
    """Forget a draft that has become a profile."""
    with contextlib.suppress(FileNotFoundError):
        draft.path.unlink()


def drafts() -> list[ProfileDraft]:
    """Every draft, the last one first; raises `ProfileFileError` for one that can't be read."""
    folder = drafts_home()
    paths = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    return [load(path) for path in paths]


def job_drafts_home() -> Path:
    """Where half-typed job files are kept."""
    return drafts_home() / "jobs"


def job_drafts() -> list[ProfileDraft]:
    """Every half-typed job file, the last one first; raises `ProfileFileError` for one that can't be read."""
    paths = sorted(job_drafts_home().glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    return [load(path) for path in paths]


def load(path: Path) -> ProfileDraft:
    """A draft as it was kept."""
    try:
        kept = json.loads(text_of(path))
        answers, at = kept["answers"], kept["at"]
    except (ValueError, KeyError, TypeError) as error:
        raise ProfileFileError(f"{path}: is no draft of a profile; remove it to begin again") from error
    if not isinstance(at, str) or not isinstance(answers, dict) or not all(map(_is_text, answers.values())):
        raise ProfileFileError(f"{path}: is no draft of a profile; remove it to begin again")
    return ProfileDraft(path, answers, at)


def _is_text(value: object) -> bool:
    return isinstance(value, str)
