"""A home of the tool's own, in which a telling is stated through the real commands and the question is asked."""

from __future__ import annotations

import io
import json
import os
import tempfile
from collections.abc import Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import mixclock.wiring
from mixclock.cli import main
from mixclock.outside.clock import SystemClock
from tests.witness.crew import Telling

MEMORY = Path("/dev/shm")
NO_ANSWER = '{"at": "", "verdict": "none", "causes": []}'
BEGINNING = datetime(2026, 1, 1, tzinfo=UTC)


class HeldClock(SystemClock):
    """The clocks of the story: a laptop that is never switched off."""

    at = BEGINNING

    def now(self) -> datetime:
        """The instant at which somebody types."""
        return HeldClock.at

    def boot_s(self) -> float:
        """Seconds since the story's laptop was switched on."""
        return (HeldClock.at - BEGINNING).total_seconds()

    def monotonic_s(self) -> float:
        """The same: it never sleeps."""
        return self.boot_s()

    def boot_id(self) -> str:
        """One boot for the whole story."""
        return "a-laptop-that-stays-on"


@dataclass(frozen=True)
class Answered:
    """What the tool answered: the text that a person reads, its JSON, and how many statements it took and refused."""

    text: str
    json: Any
    stated: int
    refused: Sequence[str]


def asked(telling: Telling) -> Answered:
    """State everything, then ask why."""
    kept_home, kept_clock = os.environ.get("MIXCLOCK_HOME"), mixclock.wiring.SystemClock
    with tempfile.TemporaryDirectory(dir=MEMORY if MEMORY.is_dir() else None) as place:
        os.environ["MIXCLOCK_HOME"] = place
        mixclock.wiring.SystemClock = HeldClock  # type: ignore[misc]
        try:
            return _asked(telling, Path(place))
        finally:
            mixclock.wiring.SystemClock = kept_clock  # type: ignore[misc]
            os.environ.pop("MIXCLOCK_HOME")
            if kept_home is not None:
                os.environ["MIXCLOCK_HOME"] = kept_home


def _asked(telling: Telling, home: Path) -> Answered:
    (home / "profiles").mkdir()
    for name, text in telling.profiles.items():
        (home / "profiles" / f"{name.lower().replace(' ', '-')}.toml").write_text(text, encoding="utf-8")
    (home / "job.toml").write_text(telling.job_file, encoding="utf-8")
    HeldClock.at = telling.instant(60.0)
    code, _, complaint = ran(("job", "start", str(home / "job.toml")))
    assert code == 0, complaint
    refused, taken = [], False
    for saying in telling.sayings:
        if saying.mends and not taken:
            continue
        HeldClock.at = telling.instant(saying.at)
        code, _, complaint = ran(saying.words)
        if code != 0 and saying.otherwise:
            code, _, complaint = ran(saying.otherwise)
        taken = code == 0
        if not taken:
            refused.append(f"{' '.join(saying.words)}: {complaint.strip()}")
    HeldClock.at = telling.instant(telling.asked_at)
    _, text, wrong = ran(("why", telling.area))
    _, said, _ = ran(("why", telling.area, "--json"))
    if not text or not said:
        text, said = f"{telling.area}: the record does not show why.\nNo answer: {wrong}", NO_ANSWER
    return Answered(text, json.loads(said), len(telling.sayings), tuple(refused))


def ran(words: Sequence[str]) -> tuple[int, str, str]:
    """Run one command; its exit code and what it printed."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            code = main(list(words))
        except Exception as defect:  # what a user would see as a traceback: no answer, and counted as such
            return 70, "", f"{type(defect).__name__}: {defect}"
    return code, out.getvalue(), err.getvalue()
