"""A job to be read by others: people under other names, no photos, no paths. No book joins it with what it has.

Two names are the same person where they are the same but for case and spaces: that is how people are told apart
everywhere in mixclock, and lots as well.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from mixclock.job.crewnumbers import crew_numbers, in_words
from mixclock.job.entry import Entry
from mixclock.job.folding import cached_site, fold
from mixclock.job.mistakes import did_you_mean, quoted
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookfile import SentEntry, write_job_file
from mixclock.outside.bookrows import canonical, entry_of
from mixclock.outside.jobexchange import FOR_READING, head_of, sent_entries

_IN_WORDS = ("text", "detail", "channel", "changed")
_PATHS = ("origin",)
_COMMENT = re.compile(r"(?m)(^|[ \t]+)#[^\"'\n]*$")


def export_for_reading(book: Book, job: str, path: Path, renamed: Sequence[str] | None, replace: bool = False) -> int:
    """Write a job with other names: those of `renamed` ("OLD=NEW"), or everybody as a number; gives the entries."""
    if path.exists() and not replace:
        raise BookError(f"{path} is already there; give another name, or say --replace")
    sent = sent_entries(book, job)
    entries = [entry_of(each.row) for each in sent]
    everybody = crew_numbers(fold(job, entries).site, entries)
    names = everybody if renamed is None else _renamed(renamed, list(everybody))
    head = {**head_of(book, job), "book": FOR_READING, "van": "", "for_reading": True}
    lines = [_told_otherwise(each, entry, names) for each, entry in zip(sent, entries, strict=True)]
    return write_job_file(path, head, lines, ())


def _renamed(renamed: Sequence[str], people: Sequence[str]) -> Mapping[str, str]:
    names = {}
    for each in renamed:
        old, sign, new = (part.strip() for part in each.partition("="))
        known = next((name for name in people if same_name(name) == same_name(old)), None)
        if not sign or not new:
            raise CannotTellError(f"--rename: {quoted(each)} is not understood; say it as 'OLD=NEW'")
        if known is None:
            raise CannotTellError(f"--rename: nobody is called {quoted(old)} here; {did_you_mean(old, people)}")
        names[known] = new
    return names


def same_name(name: str) -> str:
    """What two names share that mean one person, or one lot: case and spaces do not count.

    >>> same_name("  Lot 7a ") == same_name("LOT  7A")
    True
    """
    return " ".join(name.casefold().split())


def _told_otherwise(sent: SentEntry, entry: Entry, names: Mapping[str, str]) -> SentEntry:
    facts = {key: _other(entry, key, value, names) for key, value in json.loads(sent.row.facts).items()}
    by = names.get(entry.by, entry.by) if entry.by is not None else None
    note = in_words(entry.note, names) if entry.note is not None else None
    row = dataclasses.replace(sent.row, facts=canonical(facts), by_whom=by, note=note)
    home = dict(sent.home or {})
    told = {"book": FOR_READING, "van": "", "number": row.number, "before": None, "stamp": home.get("stamp", ["", 0])}
    return SentEntry(row, sent.mark, {**told, **({"batch": home["batch"]} if "batch" in home else {})})


def _other(entry: Entry, key: str, value: Any, names: Mapping[str, str]) -> Any:
    kind, other = entry.facts.kind, value
    if kind in ("job started", "job mended") and key == "text":
        other = _job_text(value, names)
    elif key == "who":
        other = names.get(value, value)
    elif key in _PATHS:
        other = ""
    elif kind == "photo" and key == "name":
        other = "a photo"
    elif key == "plan":
        other = _plan(value, names)
    elif key in _IN_WORDS and kind != "profile used":
        other = in_words(value, names) if isinstance(value, str) else [in_words(each, names) for each in value]
    return other


def _plan(text: str, names: Mapping[str, str]) -> str:
    for old, new in names.items():
        text = text.replace(json.dumps(old), json.dumps(new))
    return text


def _job_text(text: str, names: Mapping[str, str]) -> str:
    """A job file with its crew under other names and without its comments; refused where a name would stay."""
    pieces = re.split(r"(?m)^(?=\s*\[)", _COMMENT.sub("", text))
    for old, new in names.items():
        quoted_old = re.compile(rf"([\"']){re.escape(old)}\1")
        pieces = [
            quoted_old.sub(json.dumps(new, ensure_ascii=False), piece)
            if piece.lstrip().startswith("[[crew]]")
            else piece
            for piece in pieces
        ]
    made = "".join(pieces)
    if {person.name for person in cached_site(made).crew} & names.keys():
        raise BookError("a name stands in the job file where it cannot be taken out; write the crew as [[crew]] tables")
    return made
