"""The session in README.md is what the commands print, to the letter.

`python -m tests.test_readme` runs it anew and writes what it printed into the page. The prompt of each command tells
the time that the clock shows then.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest.mock import patch

from mixclock.cli import COMMANDS, GROUPS, main
from mixclock.job.sitereading import read_site
from tests.frozen import machine_at

ROOT = Path(__file__).resolve().parent.parent
README = ROOT / "README.md"
SESSION = re.compile(r"```console\n(.*?)```", re.DOTALL)
JOB_FILE = re.compile(r"```toml\n(.*?)```", re.DOTALL)
PROMPT = re.compile(r"^(Mon|Tue) (\d\d):(\d\d) \$ mixclock (.*)$")
MONDAY = datetime(2026, 4, 12, 23, 0, tzinfo=UTC)  # midnight of Monday 13 April in Lisbon
DAYS = {"Mon": 0, "Tue": 1}


def front_page() -> str:
    """The page's text."""
    return README.read_text(encoding="utf-8")


def part(pattern: re.Pattern[str]) -> str:
    """A block of the page."""
    found = pattern.search(front_page())
    assert found is not None, f"README.md has no block {pattern.pattern}"
    return found.group(1)


def typed(session: str) -> Iterator[tuple[str, datetime, list[str]]]:
    """Each line that a person types, with the time at which, and its words."""
    for line in session.splitlines():
        found = PROMPT.match(line)
        if found is not None:
            day, hour, minute, words = found.groups()
            at = MONDAY + timedelta(days=DAYS[day], hours=int(hour), minutes=int(minute))
            yield line, at, shlex.split(words)


def played(session: str, folder: Path) -> str:
    """What a terminal shows of the session."""
    (folder / "shed.toml").write_text(part(JOB_FILE), encoding="utf-8")
    out = io.StringIO()
    here = {"MIXCLOCK_HOME": str(folder / "home"), "COLUMNS": "100"}
    with contextlib.chdir(folder), patch.dict(os.environ, here), machine_at(MONDAY) as machine:
        for line, at, words in typed(session):
            out.write(f"{line}\n")
            machine.pass_until(at)
            with (
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(out),
                contextlib.suppress(SystemExit),
            ):
                main(words)
    return out.getvalue()


def test_the_session_on_the_front_page_is_what_the_commands_print(tmp_path: Path) -> None:
    session = part(SESSION)
    assert played(session, tmp_path) == session


def test_every_job_file_on_the_front_page_can_be_read() -> None:
    shed, studio, etch = JOB_FILE.findall(front_page())
    assert [read_site(text).name for text in (shed, studio)] == ["Boat shed", "Pottery studio floor"]
    etched = read_site(studio + etch)
    assert [coat.name for coat in etched.coats] == ["base", "top", "etch", "neutralise"]


def test_the_front_page_names_only_commands_that_there_are() -> None:
    named = set(re.findall(r"`mixclock ([a-z]+)", front_page()))
    assert named - set(COMMANDS) - set(GROUPS) == set()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        fresh = played(part(SESSION), Path(scratch))
    README.write_text(SESSION.sub(lambda _: f"```console\n{fresh}```", front_page(), count=1), encoding="utf-8")
