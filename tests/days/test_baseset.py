"""A whole day on a laptop that has the base set alone: what it tells is what is told where numpy is installed."""

from __future__ import annotations

import shlex
import shutil
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

from tests.boatshed import PAIR_WITH_RATES, shed_base, shed_job, shed_top
from tests.days.test_commands import EIGHT_IN_LISBON, MINUTE
from tests.frozen import machine_at
from tests.lacking import without_numpy
from tests.running import Ran

DAY = """
0 job start {home}/shed.toml
0 reading --air '20 °C' --rh '50 %' --slab '20 °C'
1 cup 'Shed base' '150 g' --lot 7A --material '21 °C' --ago '50 min'
2 mixing 'Shed base' '3.45 L' --on 'bay 1' --lot 7A --by mixer
3 mixed
0 now --json
1 reading --bucket '27 °C' --batch 1
0 now --json
1 poured --by mixer
2 began back-roll
4 rolled
3 mixed 'Shed base' '3.3 L' --on 'bay 2' --by mixer
2 poured
6 rolled
1 saw 2 'tack free'
0 job learned
60 found 'bay 1' dull
0 why 'bay 1' --json
0 record --json
"""
"""Minutes that pass, and then a command."""


def test_a_day_without_numpy_is_told_as_a_day_with_it(home: Path, run: Callable[..., Ran], tmp_path: Path) -> None:
    with_it = told(home, run, hidden=False)
    shutil.rmtree(home)
    home.mkdir()
    assert told(home, run, hidden=True) == with_it
    assert len(with_it) == len(DAY.strip().splitlines())
    assert any("pour" in each for each in with_it)


def told(home: Path, run: Callable[..., Ran], *, hidden: bool) -> list[str]:
    """What the day's commands print, in a home of its own."""
    (home / "profiles").mkdir()
    (home / "profiles" / "base.toml").write_text(shed_base(limits=True), encoding="utf-8")
    (home / "profiles" / "top.toml").write_text(shed_top(), encoding="utf-8")
    (home / "shed.toml").write_text(shed_job(bays=2, joined=True, crew=PAIR_WITH_RATES), encoding="utf-8")
    said = []
    with machine_at(EIGHT_IN_LISBON) as machine, without_numpy() if hidden else nullcontext():
        for line in DAY.strip().splitlines():
            minutes, *words = shlex.split(line.format(home=home))
            machine.wait(int(minutes) * MINUTE)
            ran = run(*words)
            assert ran.code in (0, 1), (words, ran.err)
            said.append(ran.out)
    return said
