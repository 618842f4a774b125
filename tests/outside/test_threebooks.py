"""Three homes that exchange files, with real processes that are killed, end with three equal books."""

from __future__ import annotations

import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mixclock.outside.clock import SystemClock
from tests.cli.studio import STUDIO
from tests.running import THE_MACHINES, Ran, Runner

JOB = "Pottery studio floor"
MIXING = ("mixing", "Slow epoxy base", "4 L", "--coat", "base")
RunAs = Callable[..., Ran]


def ok(ran: Ran) -> Ran:
    assert ran.code == 0, ran.err
    return ran


def killed_within(van: Runner, dice: random.Random, *words: str) -> None:
    """A command that is killed at some moment of its life, perhaps after its end."""
    command = [sys.executable, "-m", "mixclock.cli", *words]
    with subprocess.Popen(command, env=van.environment(), cwd=van.home, stdout=-3, stderr=-3) as process:
        try:
            process.wait(timeout=dice.uniform(0.05, 0.6))
        except subprocess.TimeoutExpired:
            process.kill()


def spoken(run_as: RunAs, van: Runner, own: str) -> list[Any]:
    """The batches as they are called in every book: by their van and its number there, with their windows."""
    told = run_as(van, "now", "--json").json
    batches = [{**batch, "id": None, "van": batch["van"] or own} for batch in told["batches"]]
    for batch in batches:
        for window in batch["windows"]:
            for key in ("ripeness_opens", "ripeness_closes", "state", "latest_start", "who"):
                window.pop(key, None)
        batch.pop("stage")
    return sorted(batches, key=lambda batch: (batch["van"], batch["number"]))


@pytest.mark.parametrize(
    "rounds", [pytest.param(1, id="a round"), pytest.param(6, id="six rounds", marks=pytest.mark.long)]
)
def test_three_homes_of_which_commands_are_killed_end_with_equal_books(
    tmp_path: Path, rounds: int, run_as: RunAs, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SystemClock, "now", THE_MACHINES)  # as the processes that are killed go by
    dice = random.Random(17)
    names = ("office", "van 1", "van 2")
    homes = []
    for name in names:
        home = tmp_path / name.replace(" ", "-")
        home.mkdir(mode=0o700)
        homes.append(Runner(home))
        ok(run_as(homes[-1], "book", "name", name))
    office, *vans = homes
    (tmp_path / "studio.toml").write_text(STUDIO)
    ok(run_as(office, "job", "start", str(tmp_path / "studio.toml")))
    began = tmp_path / "began.mixclock"
    ok(run_as(office, "job", "export", str(began)))
    for van in vans:
        ok(run_as(van, "job", "import", str(began)))
        ok(run_as(van, "job", "use", JOB))
    for turn in range(rounds):
        for place, van in enumerate(vans):
            where = ("bay 1", "bay 2")[(turn + place) % 2]
            ok(run_as(van, *MIXING, "--on", where, "--ago", "3 min"))
            wrong = ok(run_as(van, *MIXING, "--on", where, "--json")).json
            ok(run_as(van, "withdraw", str(wrong["entry"])))
            killed_within(van, dice, "poured")
            killed_within(van, dice, "noted", f"round {turn}")
            file = tmp_path / f"{turn}-{place}.mixclock"
            killed_within(van, dice, "job", "export", str(file))
            for receiver in homes:
                if file.exists() and receiver is not van:
                    killed_within(receiver, dice, "job", "import", str(file))
    _exchange(run_as, homes, tmp_path)
    last = ("job", "export", str(tmp_path / "last.mixclock"), "--replace", "--json")
    states = [ok(run_as(home, *last)).json for home in homes]
    assert len({told["state"] for told in states}) == 1
    assert len({told["entries"] for told in states}) == 1
    said = [spoken(run_as, home, name) for home, name in zip(homes, names, strict=True)]
    assert said[0] == said[1] == said[2]
    assert {batch["van"] for batch in said[0]} == {"van 1", "van 2"}
    for home in homes:
        assert ok(run_as(home, "book", "check")).out.count("all as they were written") == 1
    assert not [path for path in tmp_path.iterdir() if path.name.endswith(".half") and path.stat().st_mode & 0o077]


def _exchange(run_as: RunAs, homes: list[Runner], folder: Path) -> None:
    """The vans send to the office alone, and hear of each other from it."""
    for turn, (sender, receiver) in enumerate(((1, 0), (0, 2), (2, 0), (0, 1))):
        file = folder / f"all-{turn}.mixclock"
        ok(run_as(homes[sender], "job", "export", str(file)))
        ok(run_as(homes[receiver], "job", "import", str(file)))
