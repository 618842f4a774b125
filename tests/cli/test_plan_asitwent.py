"""A crew's past jobs stand beside its stated rates."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from tests.running import Ran

Run = Callable[..., Ran]

SHED = """
name = "{name}"
zone = "UTC"
[[areas]]
name = "bay 1"
size = "10 m2"
edge = "4 m"
[[areas]]
name = "bay 2"
size = "10 m2"
edge = "4 m"
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
waste = "5 %"
wet_edge = false
kit = "9 L"
split = true
"""


def shed(home: Path, name: str) -> str:
    """The job file of a small shed."""
    path = home / f"{name}.toml"
    path.write_text(SHED.format(name=name))
    return str(path)


def first_bay(run: Run, litres: str, rolled: str) -> None:
    """The first bay, with so much in its bucket, rolled by then."""
    assert run("mixing", "Slow epoxy base", litres, "--on", "bay 1", "--at", "2026-03-02 09:00").code == 0
    assert run("mixed", "--at", "2026-03-02 09:03").code == 0
    assert run("poured", "--on", "bay 1", "--covered", "10 m2", "--at", "2026-03-02 09:05").code == 0
    assert run("rolled", "--at", rolled).code == 0


def test_past_jobs_of_the_same_crew_stand_beside_its_stated_rates(run: Run, home: Path) -> None:
    for name in ("One", "Two", "Three"):
        assert run("job", "start", shed(home, name)).code == 0
        first_bay(run, "3.2 L", "2026-03-02 09:27")
        assert run("job", "finish").code == 0
    plan = run("plan", shed(home, "Four"), "--begin", "2026-03-03 09:00", "--json").json
    assert any("on its past jobs this crew took" in line for line in plan["warnings"])
    other = SHED.format(name="Five").replace('"roller"', '"somebody new"')
    (home / "five.toml").write_text(other)
    new = run("plan", str(home / "five.toml"), "--begin", "2026-03-03 09:00", "--json").json
    assert not any("past jobs" in line for line in new["warnings"])
