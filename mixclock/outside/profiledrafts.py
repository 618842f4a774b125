"""Keeps half-typed profiles and job files after each answer, so that nothing typed is ever lost."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Mapping
from pathlib import Path

from mixclock.outside.atomicfile import write_atomically
from mixclock.outside.home import drafts_home
from mixclock.outside.profilefiles import ProfileFileError, stem_of, text_of
from mixclock.values import dataclass


@dataclass(frozen=True)
class ProfileDraft:
    """The answers so far, as they were typed, and the question that comes next."""

    path: Path
    answers: Mapping[str, str]
    at: str

    @property
    def name(self) -> str:
        """What the product is called so far."""
        return self.answers.get("name", self.path.stem)


def path_of_draft(name: str) -> Path:
    """Where the draft of a product is kept."""
    return drafts_home() / f"{stem_of(name, 'product')}.json"


def keep(draft: ProfileDraft) -> None:
    """Keep a draft in one step. Raises `ProfileFileError` where it can't be written."""
    text = json.dumps({"answers": dict(draft.answers), "at": draft.at}, indent=1)
    try:
        write_atomically(draft.path, text)
    except OSError as error:
        raise ProfileFileError(f"{draft.path}: {error.strerror}; set MIXCLOCK_HOME to a folder of yours") from error


def drop(draft: ProfileDraft) -> None:
    """Forget a draft that has become a profile."""
    with contextlib.suppress(FileNotFoundError):
        draft.path.unlink()


def drafts(folder: Path | None = None) -> list[ProfileDraft]:
    """Every draft of profiles, or of another folder, the latest first. Raises `ProfileFileError` for a broken one."""
    paths = sorted((folder or drafts_home()).glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    return [load(path) for path in paths]


def job_drafts_home() -> Path:
    """Where half-typed job files are kept."""
    return drafts_home() / "jobs"


def load(path: Path) -> ProfileDraft:
    """A draft as it was kept."""
    try:
        kept = json.loads(text_of(path))
        answers, at = kept["answers"], kept["at"]
        if not all(isinstance(text, str) for text in (at, *answers.values())):
            raise TypeError("an answer that is no text")
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise ProfileFileError(f"{path}: is no draft of a profile; remove it to begin again") from error
    return ProfileDraft(path, answers, at)
