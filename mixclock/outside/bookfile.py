"""Writes a whole job to a file of its own, and reads it back.

The file is JSON, one line each, compressed: a head, the entries, the small pictures. Every line carries a seal, SHA-256
over the seal before and the line's canonical JSON, and the head counts the lines; so a line that was changed, dropped,
added or cut off is found. A seal shows accidents and careless edits. It is no signature, and proves no sender.

An entry says where it was written: in which book, under which number, after which hash. So a reader can check it by its
own hash, even after two other books handed it on. `jobexchange` takes the file in.
"""

from __future__ import annotations

import base64
import gzip
import json
import os
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from hashlib import sha256
from pathlib import Path
from typing import Any

from mixclock.outside.bookdrawers import Picture
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookrows import FIRST_HASH, FOR_READING, Row, canonical, entry_of, mark_in
from mixclock.values import dataclass, replace

FORMAT = 2
OLDEST_FORMAT = 1
_LARGEST_FILE = 1 << 30
_GZIP = b"\x1f\x8b"
WRONG_INSIDES = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError, RecursionError)
"""What a file raises that holds something else than what was exported."""


@dataclass(frozen=True)
class SentEntry:
    """An entry on its way: its row in the sender's book, its mark, and where it was first written.

    `home` is None where an older mixclock took the entry over and kept its hash alone.
    """

    row: Row
    mark: str
    home: Mapping[str, Any] | None

    @property
    def original(self) -> Row:
        """The entry as it was first written."""
        home = self.home or {}
        facts = canonical(home["facts"]) if "facts" in home else self.row.facts
        return replace(self.row, number=home["number"], job=home.get("job", self.row.job), facts=facts)

    def is_as_written(self) -> bool:
        """Whether the entry still fits its mark, as far as that can be checked."""
        if self.home is None or self.home["before"] is None:
            return True
        return self.original.chained_to(self.home["before"]) == self.mark


@dataclass(frozen=True)
class JobFile:
    """What an exported file holds."""

    path: Path
    head: Mapping[str, Any]
    entries: Sequence[SentEntry]
    pictures: Sequence[Picture]

    @property
    def is_for_reading(self) -> bool:
        """Whether names were taken out of it. Such a file is only read, never joined with other books' entries."""
        told = bool(self.head.get("for_reading"))
        return told or any(each.home is not None and each.home["book"] == FOR_READING for each in self.entries)


def write_job_file(path: Path, head: Mapping[str, Any], entries: Iterable[SentEntry], pics: Iterable[Picture]) -> int:
    """Write a file that its owner alone can read. Gives the number of entries. It never leaves half a file."""
    sent = [_entry_line(each) for each in entries]
    pictures = [{**vars(each), "small": base64.b64encode(each.small).decode("ascii")} for each in pics]
    first = {"mixclock_job": FORMAT, **head, "entries": len(sent), "pictures": None}
    _write_whole(path, _sealed([first, *sent, *pictures]))
    return len(sent)


def read_job_file(path: Path) -> JobFile:
    """Read a file, once every seal, the count and each entry's own hash are found right."""
    lines = _checked_lines(path)
    head = lines[0]
    entries, pictures = lines[1 : 1 + head["entries"]], lines[1 + head["entries"] :]
    try:
        sent = [_sent(line, head["mixclock_job"]) for line in entries]
        for each in sent:
            entry_of(each.row)
            if not each.is_as_written():
                raise ValueError(f"entry {each.row.number} is not what was written: its hash differs")
        return JobFile(path, head, sent, [_picture(line) for line in pictures])
    except WRONG_INSIDES as error:
        raise BookError(f"{path}: an entry cannot be read ({error}); nothing was imported") from error


def _entry_line(sent: SentEntry) -> dict[str, Any]:
    line = {name: value for name, value in vars(sent.row).items() if name not in ("hash", "origin")}
    return {**line, "facts": json.loads(sent.row.facts), "mark": sent.mark, "home": sent.home}


def _sent(line: dict[str, Any], written_as: int) -> SentEntry:
    if written_as == 1:
        row = Row(**{**line, "facts": canonical(line["facts"])})
        return SentEntry(replace(row, origin="", hash=""), mark_in(row.origin) if row.origin else row.hash, None)
    mark, home = line.pop("mark"), line.pop("home")
    row = Row(**{**line, "facts": canonical(line["facts"]), "origin": "", "hash": ""})
    if not _is_typed(row) or not isinstance(mark, str) or not mark:
        raise TypeError("an entry with a value of the wrong kind")
    if home is not None:
        _check_home(home)
    return SentEntry(row, mark, home)


def _check_home(home: Mapping[str, Any]) -> None:
    texts = (home["book"], home["van"], home["stamp"][0])
    counts = (home["number"], home["stamp"][1], home.get("batch", 1))
    if not all(isinstance(text, str) for text in texts) or not all(type(count) is int for count in counts):
        raise TypeError("an entry that doesn't say where it was written")
    if not isinstance(home["before"], str | None):
        raise TypeError("an entry that doesn't say after which it was written")


def _is_typed(row: Row) -> bool:
    texts = (row.job, row.kind, row.happened, row.written, row.facts, row.boot_id)
    if type(row.number) is not int or not all(isinstance(text, str) for text in texts):
        return False
    return isinstance(row.boot_s, float | int) and all(isinstance(t, str | None) for t in (row.by_whom, row.note))


def _picture(line: Mapping[str, Any]) -> Picture:
    return Picture(**{**line, "small": base64.b64decode(line["small"])})


def _sealed(lines: list[dict[str, Any]]) -> Iterator[str]:
    head = {**lines[0], "pictures": len(lines) - 1 - lines[0]["entries"]}
    seal = FIRST_HASH
    for line in (head, *lines[1:]):
        seal = _seal(seal, line)
        yield canonical({**line, "seal": seal})


def _seal(before: str, line: Mapping[str, Any]) -> str:
    return sha256(f"{before}\n{canonical(line)}".encode()).hexdigest()


def _write_whole(path: Path, lines: Iterable[str]) -> None:
    half = path.with_name(f".{path.name}.half")
    try:
        half.unlink(missing_ok=True)
        number = os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)  # private: it names people and floors
        with os.fdopen(number, "wb") as file:
            with gzip.GzipFile(fileobj=file, mode="wb", filename="", mtime=0) as packed:
                packed.writelines(f"{line}\n".encode() for line in lines)
            file.flush()
            os.fsync(file.fileno())
        half.replace(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise BookError(f"{path}: {error.strerror or error}; nothing was exported") from error


def _checked_lines(path: Path) -> list[dict[str, Any]]:
    """The lines of a file without their seals, once every seal and the count are found right."""
    lines: list[dict[str, Any]] = []
    seal = FIRST_HASH
    for number, text in enumerate(_text_lines(path), start=1):
        if not text:
            continue  # the empty text behind the last line
        line = _parsed(path, number, text)
        if number == 1:
            _check_format(path, line)  # checked before the seals, because a newer mixclock may seal in another way
        said = line.pop("seal", None)
        seal = _seal(seal, line)
        if said != seal:
            raise BookError(f"{path}: line {number} is not what was exported: its seal differs; nothing was imported")
        lines.append(line)
    _check_count(path, lines)
    return lines


def _check_format(path: Path, head: Mapping[str, Any]) -> None:
    written_as = head.get("mixclock_job", FORMAT)
    if not isinstance(written_as, int) or not OLDEST_FORMAT <= written_as <= FORMAT:
        raise BookError(f"{path}: written by a newer mixclock (format {written_as}); update mixclock")


def _check_count(path: Path, lines: list[dict[str, Any]]) -> None:
    head = lines[0] if lines else {}
    if "mixclock_job" not in head:
        raise BookError(f"{path}: this is no exported job; `mixclock job export FILE` writes one")
    counts = (head.get("entries"), head.get("pictures"))
    if not all(type(count) is int and count >= 0 for count in counts) or not isinstance(head.get("job"), str):
        raise BookError(f"{path}: its first line doesn't say what it holds; nothing was imported")
    expected = 1 + head["entries"] + head["pictures"]
    if len(lines) != expected:
        raise BookError(f"{path}: {len(lines)} of {expected} lines are there; nothing was imported, copy it again")


def _text_lines(path: Path) -> list[str]:
    try:
        if path.exists() and not path.is_file():
            raise BookError(f"{path}: is no file; nothing was imported")
        return _content(path).decode("utf-8").split("\n")
    except UnicodeDecodeError as error:
        raise BookError(f"{path}: this is no exported job; `mixclock job export FILE` writes one") from error
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise BookError(f"{path}: the file is cut short or damaged; nothing was imported, copy it again") from error
    except OSError as error:
        raise BookError(f"{path}: {error.strerror or error}; nothing was imported") from error


def _content(path: Path) -> bytes:
    """The bytes of a file, unpacked where it is packed. A file that somebody unpacked is taken too."""
    with path.open("rb") as file:
        packed = file.read(len(_GZIP)) == _GZIP
    with gzip.open(path, "rb") if packed else path.open("rb") as file:
        content = file.read(_LARGEST_FILE + 1)
    if len(content) > _LARGEST_FILE:
        raise BookError(f"{path}: far too large for an exported job; nothing was imported")
    return content


def _parsed(path: Path, number: int, text: str) -> dict[str, Any]:
    try:
        line = json.loads(text)
        canonical(line).encode()
    except (ValueError, RecursionError):
        line = None
    if not isinstance(line, dict):
        what = "this is no exported job" if number == 1 else f"line {number} is cut short"
        raise BookError(f"{path}: {what}; nothing was imported, `mixclock job export FILE` writes one")
    return line
