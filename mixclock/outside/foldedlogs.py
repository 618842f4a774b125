"""Where lies what was worked out of a long job's log: beside the book, a file for each job; it may be deleted."""

from __future__ import annotations

import contextlib
from hashlib import sha256
from pathlib import Path


def folds_folder(book: Path) -> Path:
    """Where the files of all jobs of a book lie."""
    return book.with_name(f"{book.name}.folds")


def folded_file(book: Path, job: str) -> Path:
    """The file of a job."""
    return folds_folder(book) / f"{sha256(job.encode()).hexdigest()[:24]}.json"


def forget_long_log(book: Path, job: str) -> None:
    """Keep nothing of a job, so that whoever asks next reads its whole log and names what cannot be read."""
    with contextlib.suppress(OSError):
        folded_file(book, job).unlink(missing_ok=True)


def forget_long_logs(book: Path) -> None:
    """Keep nothing of any job: the book was made anew."""
    with contextlib.suppress(OSError):
        for file in folds_folder(book).iterdir():
            file.unlink(missing_ok=True)
