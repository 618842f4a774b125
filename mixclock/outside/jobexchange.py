"""Joins one book's export with another book's entries, so that all books end with the same job.

An entry is known by its mark, the hash that it had where it was written. It is taken once, whoever hands it on,
however often. Where an entry names another entry or a batch by number, this book's number takes the place of that one.
Nothing is ever changed: new entries are added, known ones stay. A file that words a known entry otherwise is refused
whole.
"""

from __future__ import annotations

import dataclasses
import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

from mixclock.job.dayentries import Settled
from mixclock.job.entry import Delivered, Entry, Facts, Heard, JobStarted, PhotoTaken, Raised, Withdrawn
from mixclock.job.folding import cached_site, fold
from mixclock.job.instants import utc_from, utc_text
from mixclock.job.mistakes import first_line, quoted
from mixclock.job.origins import batch_numbers, begins_batch, stamps_of
from mixclock.outside.book import Book
from mixclock.outside.bookdrawers import Picture
from mixclock.outside.bookerrors import BookError
from mixclock.outside.bookfile import WRONG_INSIDES, JobFile, SentEntry, read_job_file, write_job_file
from mixclock.outside.bookidentity import BookIdentity, identity_of
from mixclock.outside.bookreading import wrong_with
from mixclock.outside.bookrows import FOR_READING, Row, canonical, entry_of, is_own, mark_in, origin_in
from mixclock.values import dataclass, field

CLOCKS_DIFFER_FROM = timedelta(minutes=2)
"""Two laptops that keep time differ by less (judgement)."""

_BATCH_OF_ALERT = re.compile(r"^b(\d+)(?=\.)")


@dataclass(frozen=True)
class ImportedJob:
    """What an import did: how many entries are new, and how many were here already.

    `state` is the same in every book that holds the same entries. `ahead` is by how much the sender's clock is ahead.
    """

    job: str
    new: int
    known: int
    van: str
    state: str
    ahead: timedelta = timedelta()
    for_reading: bool = False


def export_job(book: Book, job: str, path: Path, replace: bool = False) -> int:
    """Write a job with its pictures to a file. Gives the number of entries. It never leaves half a file."""
    if path.exists() and not replace:
        raise BookError(f"{path} is already there; give another name, or say --replace")
    sent = sent_entries(book, job)
    return write_job_file(path, head_of(book, job), sent, pictures_of(book, sent))


def head_of(book: Book, job: str) -> dict[str, Any]:
    """The first line of a job's file."""
    own, exported = identity_of(book), utc_text(book.clock.now())
    if book.is_for_reading(job):  # a copy of a copy is one too
        return {"job": job, "exported": exported, "book": FOR_READING, "van": "", "for_reading": True}
    return {"job": job, "exported": exported, "book": own.id, "van": own.name}


def sent_entries(book: Book, job: str) -> list[SentEntry]:
    """A job's entries, each with the place where it was written. Refused if any was altered."""
    known = list(book.rows_and_before(job))
    if not known:
        raise BookError(f"'{job}' is no job of this book; `mixclock job list` shows them")
    for row, before in known:
        wrong = wrong_with(row, before)
        if wrong is not None:
            raise BookError(
                f"{book.path}: entry {row.number} ({row.kind}): {wrong}; a damaged job is not exported, keep the book"
            )
    own = identity_of(book)
    entries = [entry_of(row) for row, _ in known]
    stamps, batches = stamps_of(entries), batch_numbers(entries)
    sent = []
    for row, before in known:
        home = {"book": own.id, "van": own.name, "number": row.number}
        home["before"] = None if row.origin else before  # a repair chained it anew because the row before it was lost
        instant, count = stamps[row.number]
        home["stamp"] = [utc_text(instant), count]
        if row.number in batches:
            home["batch"] = batches[row.number]
        plain = dataclasses.replace(row, origin="", hash="")
        sent.append(SentEntry(plain, _mark(row), home if is_own(row.origin) else _home_kept(row)))
    return sent


def pictures_of(book: Book, sent: Sequence[SentEntry]) -> Iterator[Picture]:
    """The small copies of the job's photos, each once. A damaged one stays behind."""
    for original in _photographed(entry_of(each.row) for each in sent if each.row.kind == PhotoTaken.kind):
        picture = book.drawers.picture(original)
        if picture is not None and picture.whole:
            yield picture


def pictures_missing(book: Book, job: str) -> int:
    """How many of a job's photos have no whole picture in this book. An export goes without them."""
    kept = (book.drawers.picture(original) for original in _photographed(book.entries(job)))
    return sum(picture is None or not picture.whole for picture in kept)


def _photographed(entries: Iterable[Entry]) -> Iterable[str]:
    """The hashes of the photos' originals, each once."""
    return dict.fromkeys(each.facts.sha256 for each in entries if isinstance(each.facts, PhotoTaken))


def state_of(book: Book, job: str) -> str:
    """A short sign that is the same in every book that holds the same entries of a job."""
    return state_of_marks(map(_mark, book.rows(job)))


def state_of_marks(marks: Iterable[str]) -> str:
    """The sign of these entries, whatever their order."""
    return sha256("\n".join(sorted(marks)).encode()).hexdigest()[:8]


def import_job(book: Book, path: Path, name: str | None = None) -> ImportedJob:
    """Take a job from a file, or the new entries of a known job. A file that contradicts this book is refused whole.

    Entries are numbered anew and chained to this book's. Each keeps the hash that it had where it was written.
    """
    file = read_job_file(path)
    joined: list[_Joining] = []
    own = identity_of(book)

    def build(first: int) -> Iterator[tuple[Entry, str]]:
        job = _job_meant(book, file, name)
        joining = _Joining(book, file, job, first, own)
        joined.append(joining)
        return iter(joining.taken_over())

    count = book.take_over(build, file.pictures)
    job = joined[-1].job
    return ImportedJob(
        job=job,
        new=count,
        known=len(file.entries) - count,
        van=str(file.head.get("van", "another book")),
        state=state_of(book, job),
        ahead=_ahead(file, book),
        for_reading=file.is_for_reading,
    )


def _ahead(file: JobFile, book: Book) -> timedelta:
    """By how much the sender's clock is ahead of this one; nothing where both may show the same time."""
    try:
        ahead = utc_from(str(file.head.get("exported"))) - book.clock.now()
    except ValueError:
        return timedelta()
    return ahead if ahead > CLOCKS_DIFFER_FROM else timedelta()


def _job_meant(book: Book, file: JobFile, name: str | None) -> str:
    """The job of this book that the file belongs to; the file's own name for the job if there is none yet."""
    said = name or _name_told(file)
    here = {line.name for line in book.all_jobs()}
    if file.is_for_reading:
        if said in here:
            raise BookError(f"{file.path}: is for reading only and never joined with {quoted(said)}; use --as NAME")
        return said
    begun = book.begun_by(file.entries[0].mark) if file.entries else []
    same = [job for job in begun if not book.is_for_reading(job)]
    if name is None and same:
        return said if said in same else same[0]
    if said in here and said not in same and not _began_alike(book, said, file):
        raise BookError(
            f"{file.path}: another job {quoted(said)} is in this book already; import it under another name with "
            "--as NAME"
        )
    return said


def _name_told(file: JobFile) -> str:
    """The job's name in its file. A copy for reading says in its name that it is one."""
    job, kind = str(file.head["job"]), file.head.get("for_reading")
    return f"{job}, {kind}" if isinstance(kind, str) and not job.endswith(f", {kind}") else job


def _began_alike(book: Book, job: str, file: JobFile) -> bool:
    """Whether two crews began the same floor, each from the same job file."""
    here = book.first(job)
    there = entry_of(file.entries[0].row).facts if file.entries else None
    if here is None or book.is_for_reading(job):
        return False
    if not isinstance(here.facts, JobStarted) or not isinstance(there, JobStarted):
        return False
    try:
        return cached_site(here.facts.text) == cached_site(there.text)
    except ValueError:
        return False


@dataclass
class _Joining:
    """The entries of a file that this book lacks, in this book's numbers."""

    book: Book
    file: JobFile
    job: str
    first: int
    own: BookIdentity
    numbers: dict[int, int] = field(default_factory=dict)
    batches: dict[int, int] = field(default_factory=dict)

    def taken_over(self) -> list[tuple[Entry, str]]:
        """The new entries with their origins, once they are found to make one job with this book's entries."""
        try:
            rows = list(self.book.rows(self.job))
            entries = [entry_of(row) for row in rows]
            here = {_mark(row): row.number for row in rows}
            places = {place: mark for place, mark in (_place(row, self.own) for row in rows) if place}
            counted = batch_numbers(entries)
            new = list(self._new(here, places, {_mark(row): counted.get(row.number, 0) for row in rows}))
            fold(self.job, [*entries, *(self._as_read(entry, origin) for entry, origin in new)])
            return new
        except BookError:
            raise
        except WRONG_INSIDES as error:
            said = first_line(error)[:120]
            raise BookError(f"{self.file.path}: its entries make no job ({said}); nothing was imported") from error

    def _new(
        self, here: Mapping[str, int], places: Mapping[tuple[str, int], str], batch_of: Mapping[str, int]
    ) -> Iterator[tuple[Entry, str]]:
        begun, theirs, number = sum(1 for count in batch_of.values() if count), 0, self.first
        for sent in self.file.entries:
            entry = entry_of(sent.row)
            begins = begins_batch(entry)
            theirs += begins
            if sent.mark in here:
                self.numbers[sent.row.number] = here[sent.mark]
                if begins:
                    self.batches[theirs] = batch_of[sent.mark]
                continue
            self._refuse_altered(sent, places)
            if begins:
                begun += 1
                self.batches[theirs] = begun
            self.numbers[sent.row.number] = number
            facts = self._in_our_numbers(entry.facts)
            yield dataclasses.replace(entry, number=number, job=self.job, facts=facts), self._origin(sent, facts)
            number += 1

    def _refuse_altered(self, sent: SentEntry, places: Mapping[tuple[str, int], str]) -> None:
        home = sent.home
        if home is None:
            return
        here = places.get((home["book"], home["number"]), sent.mark)
        kept, told = entry_of(sent.row).facts, entry_of(sent.original).facts
        if here != sent.mark or _without_numbers(kept) != _without_numbers(told):
            raise BookError(
                f"{self.file.path}: entry {home['number']} of {home['van']} was altered: this book knows it otherwise; "
                "nothing was imported"
            )

    def _in_our_numbers(self, facts: Facts) -> Facts:
        """The same facts, but any number of another entry, a batch or an alert is this book's number."""
        if isinstance(facts, Withdrawn):
            return facts.but(entry=self.numbers[facts.entry])
        if isinstance(facts, Delivered):
            return facts.but(raised=self.numbers[facts.raised])
        if isinstance(facts, Settled) and facts.finding is not None:
            return facts.but(finding=self.numbers[facts.finding])
        if isinstance(facts, Heard):
            return facts.but(alerts=tuple(map(self._alert, facts.alerts)))
        if isinstance(facts, Raised):
            together = tuple(map(self._alert, facts.together_with))
            facts = facts.but(alert=self._alert(facts.alert), together_with=together)
        batch = getattr(facts, "batch", None)
        return facts.but(batch=self.batches.get(batch, batch)) if batch is not None else facts

    def _alert(self, name: str) -> str:
        return _BATCH_OF_ALERT.sub(lambda found: f"b{self.batches.get(int(found[1]), int(found[1]))}", name)

    def _origin(self, sent: SentEntry, facts: Facts) -> str:
        """Where the entry was written, with all that this book needs to check it by its own hash later."""
        if self.file.is_for_reading:
            number = sent.row.number
            told = {
                "book": FOR_READING,
                "van": "",
                "number": number,
                "before": None,
                "stamp": (sent.home or {})["stamp"],
            }
            return canonical({**told, "mark": sent.mark})
        if sent.home is None:
            return sent.mark
        original = sent.original
        told = {name: value for name, value in sent.home.items() if name not in ("facts", "job")}
        if original.facts != canonical(facts.as_stored()):
            told["facts"] = json.loads(original.facts)
        if original.job != self.job:
            told["job"] = original.job
        return canonical({**told, "mark": sent.mark})

    def _as_read(self, entry: Entry, origin: str) -> Entry:
        return dataclasses.replace(entry, origin=origin_in(origin), mark=mark_in(origin))


def _home_kept(row: Row) -> dict[str, Any] | None:
    """Where an imported entry was written, as its sender told it."""
    if not row.origin.startswith("{"):
        return None
    home: dict[str, Any] = json.loads(row.origin)
    home.pop("mark")
    told = {"facts": home.get("facts", json.loads(row.facts)), "job": home.get("job", row.job)}
    return {**home, **told}


def _mark(row: Row) -> str:
    return mark_in(row.origin) if row.origin else row.hash


def _place(row: Row, own: BookIdentity) -> tuple[tuple[str, int] | None, str]:
    """The book and the number under which a row was written, and its mark."""
    if is_own(row.origin):
        return (own.id, row.number), _mark(row)
    if not row.origin.startswith("{"):
        return None, row.origin
    told = json.loads(row.origin)
    return (told["book"], told["number"]), mark_in(row.origin)


def _without_numbers(facts: Facts) -> Facts:
    """The facts without the numbers that differ from book to book."""
    blank: dict[str, Any] = {
        "entry": 0,
        "raised": 0,
        "finding": None,
        "batch": None,
        "alert": "",
        "alerts": (),
        "together_with": (),
    }
    return facts.but(**{name: value for name, value in blank.items() if name in facts.fields})
