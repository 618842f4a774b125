"""Exports a job for others to read: people under other names, no photos, no paths. No book joins it with its own.

Two names mean one person if they differ only in case and spaces. mixclock tells people and lots apart so everywhere. No
rule can take names out of free words, or out of the names of the job and its areas: those stay, and whoever hands the
file on is told so.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from mixclock.job.crewnumbers import crew_numbers, numbered
from mixclock.job.entry import Entry, Noted
from mixclock.job.folding import cached_site, fold
from mixclock.job.mistakes import did_you_mean, plain_name, quoted
from mixclock.job.saying import CannotTellError
from mixclock.outside.book import Book
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookfile import SentEntry, write_job_file
from mixclock.outside.bookrows import FOR_READING, canonical, entry_of, reading_mark
from mixclock.outside.jobexchange import head_of, sent_entries, state_of_marks
from mixclock.values import dataclass

WITHOUT_NAMES: Final = "without names"
OTHER_NAMES: Final = "other names"

_OF_THE_TRADE = frozenset(
    {"alert", "area", "areas", "at", "batch", "by_what", "coat", "due", "event", "issued", "item", "lot", "lot_a"}
    | {"lot_b", "outcome", "product", "quantity", "rank", "round", "sha256", "shape", "sign", "source", "spot"}
    | {"stage", "step", "symptom", "unit", "verdict", "vessel", "was", "window"}
)
"""Facts that name no person: places, products, lots and words of the trade, which another name would spoil."""

_COMMENT = re.compile(r"(?m)(^|[ \t]+)#[^\"'\n]*$")
_CONTACT = re.compile(r"(?m)^(\s*contact\s*=\s*).*$")
_SHORTEST_PART = 3


@dataclass(frozen=True)
class CopyForReading:
    """The written copy: how many entries, its sign, and the free words that stand in it."""

    entries: int
    state: str
    free_words: tuple[str, ...]
    photos: int


def export_for_reading(
    book: Book, job: str, path: Path, renamed: Sequence[str] | None, replace: bool = False
) -> CopyForReading:
    """Write a job with other names: those of `renamed` ("OLD=NEW"), or a number for everybody."""
    if path.exists() and not replace:
        raise BookError(f"{path} is already there; give another name, or say --replace")
    sent = sent_entries(book, job)
    entries = [entry_of(each.row) for each in sent]
    people = _people(crew_numbers(fold(job, entries).site, entries))
    names = OtherNames(people if renamed is None else _renamed(renamed, list(people)), parts=renamed is None)
    kind = WITHOUT_NAMES if renamed is None else OTHER_NAMES
    head = {**head_of(book, job), "book": FOR_READING, "van": "", "for_reading": kind}
    key = str((sent[0].home or {}).get("book", ""))
    lines = [_told_otherwise(each, entry, names, key) for each, entry in zip(sent, entries, strict=True)]
    count = write_job_file(path, head, lines, ())
    told = [entry_of(each.row) for each in lines]
    photos = sum(entry.facts.kind == "photo" for entry in told)
    return CopyForReading(count, state_of_marks(each.mark for each in lines), tuple(_free_words(told)), photos)


class OtherNames:
    """Other names for people, wherever one stands as a word of its own."""

    def __init__(self, names: Mapping[str, str], parts: bool) -> None:
        """With `parts` a part of a name, such as the first name alone, means that person too."""
        self.names = names
        self._known = {plain_name(name): other for name, other in names.items()}
        whole = sorted((re.escape(name).replace(r"\ ", r"\s+") for name in names), key=len, reverse=True)
        self._whole = re.compile(rf"\b(?:{'|'.join(whole)})\b", re.IGNORECASE) if whole else None
        self._parts = dict[str, str]()
        for name, other in names.items() if parts else ():
            for part in name.split() if " " in name else ():
                if len(part) >= _SHORTEST_PART and part[0].isupper():
                    self._parts.setdefault(part, other)

    def of(self, name: str) -> str:
        """The other name of a person. An unknown name stays as it is."""
        return self._known.get(plain_name(name), name)

    def in_words(self, text: str) -> str:
        """A text with the other names.

        >>> OtherNames({"Anna Berg": "crew 1"}, parts=True).in_words("anna berg's trowel; Anna went at two")
        "crew 1's trowel; crew 1 went at two"
        """
        if self._whole is not None:
            text = self._whole.sub(lambda found: self.of(found[0]), text)
        for part, other in self._parts.items():
            text = re.sub(rf"\b{re.escape(part)}\b", other, text)
        return text


def _people(numbers: Mapping[str, str]) -> Mapping[str, str]:
    """Everybody once, however the name was typed."""
    first = {plain_name(name): name for name in reversed(list(numbers))}
    return numbered(name for name in numbers if first[plain_name(name)] == name)


def _renamed(renamed: Sequence[str], people: Sequence[str]) -> Mapping[str, str]:
    names = {}
    for each in renamed:
        old, sign, new = (part.strip() for part in each.partition("="))
        known = next((name for name in people if plain_name(name) == plain_name(old)), None)
        if not sign or not new:
            raise CannotTellError(f"--rename: {quoted(each)} is not understood; say it as 'OLD=NEW'")
        if known is None:
            raise CannotTellError(f"--rename: nobody is called {quoted(old)} here; {did_you_mean(old, people)}")
        names[known] = new
    left = [plain_name(name) for name in people if name not in names]
    taken = next((new for new in names.values() if plain_name(new) in left), None)
    if taken is not None or len(set(map(plain_name, names.values()))) < len(names):
        raise CannotTellError(
            f"--rename: two people would be called {quoted(taken or new)}; give each a name of its own"
        )
    return names


def _told_otherwise(sent: SentEntry, entry: Entry, names: OtherNames, key: str) -> SentEntry:
    facts = {name: _other(entry, name, value, names) for name, value in json.loads(sent.row.facts).items()}
    by = names.of(entry.by) if entry.by is not None else None
    note = names.in_words(entry.note) if entry.note is not None else None
    row = dataclasses.replace(sent.row, facts=canonical(facts), by_whom=by, note=note)
    home = dict(sent.home or {})
    told = {"book": FOR_READING, "van": "", "number": row.number, "before": None, "stamp": home.get("stamp", ["", 0])}
    mark = sent.mark if key == FOR_READING else reading_mark(key, sent.mark)
    return SentEntry(row, mark, {**told, **({"batch": home["batch"]} if "batch" in home else {})})


def _other(entry: Entry, key: str, value: Any, names: OtherNames) -> Any:
    kind = entry.facts.kind
    if key == "origin":
        return ""  # a path may name a person
    if kind in ("job started", "job mended") and key == "text":
        return _job_text(value, names)
    if kind == "photo" and key == "name":
        return "a photo"
    if kind == "planned" and key == "plan":
        return json.dumps(_in_all(json.loads(value), names), ensure_ascii=False)
    if kind == "profile used" or key in _OF_THE_TRADE or (kind, key) == ("job started", "name"):
        return value
    return _in_all(value, names)


def _in_all(value: Any, names: OtherNames) -> Any:
    if isinstance(value, str):
        return names.in_words(value)
    if isinstance(value, list):
        return [_in_all(each, names) for each in value]
    if isinstance(value, dict):
        return {names.of(key): each if key in _OF_THE_TRADE else _in_all(each, names) for key, each in value.items()}
    return value


def _job_text(text: str, names: OtherNames) -> str:
    """A job file with its crew under other names and without its comments. Refused where a name would stay."""
    plain = _CONTACT.sub(lambda found: f'{found[1]}"the contact"', _COMMENT.sub("", text))
    quoted_name = re.compile(rf"([\"'])({'|'.join(map(re.escape, names.names)) or '(?!)'})\1")

    def other(found: re.Match[str]) -> str:
        return json.dumps(names.of(found[2]), ensure_ascii=False)

    pieces = [
        quoted_name.sub(other, piece) if piece.lstrip().startswith("[[crew]]") else piece
        for piece in re.split(r"(?m)^(?=\s*\[)", plain)
    ]
    made = "".join(pieces)
    if {person.name for person in cached_site(made).crew} & (names.names.keys() - set(names.names.values())):
        raise BookError("a name stands in the job file where it cannot be taken out; write the crew as [[crew]] tables")
    return made


def _free_words(entries: Sequence[Entry]) -> Iterator[str]:
    """All that people wrote in their own words. Only who hands the file on can tell whether it holds a name."""
    for entry in entries:
        facts = entry.facts
        said = [facts.text] if isinstance(facts, Noted) else []
        said += [getattr(facts, key, "") or "" for key in ("why", "how")] if facts.kind in _WITH_WORDS else []
        yield from (f"entry {entry.number}: {words}" for words in [*said, entry.note or ""] if words)


_WITH_WORDS = ("stopped", "visited", "settled")
