"""A crew's past jobs stand beside its stated rates."""

from __future__ import annotations

import re
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


def three_jobs(run: Run, home: Path) -> None:
    """Three finished jobs of the same crew, each a quarter slower than its rates, and a fourth under way."""
    for name in ("One", "Two", "Three"):
        assert run("job", "start", shed(home, name)).code == 0
        first_bay(run, "3.2 L", "2026-03-02 09:27")
        assert run("job", "finish").code == 0
    assert run("job", "start", shed(home, "Four")).code == 0


def test_what_past_jobs_told_of_a_crew_stands_beside_its_rates_and_can_be_dropped(run: Run, home: Path) -> None:
    three_jobs(run, home)
    known = run("job", "learned", "--json").json
    assert [each["job"] for each in known["jobs"]] == ["One", "Two", "Three"]
    assert known["factor"] > 1.0
    mixer = known["crew"][0]
    assert mixer["stated"]["roll_m2_h"] is None
    assert mixer["planned"]["roll_m2_h"] < 75.0
    assert "as is usual, planned with" in run("job", "learned").out
    assert "Two told of this crew's pace" in run("job", "drop-learned", "two").out
    assert [each["dropped"] for each in run("job", "learned", "--json").json["jobs"]] == [False, True, False]
    assert run("job", "drop-learned", "--json").json == {"dropped": ["One", "Three"]}
    shown = run("job", "learned").out
    assert shown.count("(dropped)") == 3
    assert "the stated rates count" in shown
    plan = run("plan", shed(home, "Five"), "--begin", "2026-03-03 09:00", "--json").json
    assert not any("past jobs" in line for line in plan["warnings"])


def test_a_pace_that_was_dropped_by_mistake_counts_again_once_that_is_withdrawn(run: Run, home: Path) -> None:
    three_jobs(run, home)
    assert run("job", "drop-learned", "Two").code == 0
    named = re.search(r"`withdraw (\d+)` takes it", run("withdraw", "--job", "Two").err)
    assert named is not None
    assert run("withdraw", named[1], "--job", "Two").code == 0, "a drop is a statement as any other"
    assert not any(each["dropped"] for each in run("job", "learned", "--json").json["jobs"])


def test_what_was_never_told_can_t_be_dropped_and_a_wrong_name_is_told_the_right_ones(run: Run, home: Path) -> None:
    assert run("job", "start", shed(home, "First")).code == 0
    ran = run("job", "drop-learned")
    assert (ran.code, ran.err.count("\n")) == (2, 1)
    assert "nothing to drop" in ran.err
    assert "its stated rates count" in run("job", "learned").out
    assert run("job", "finish").code == 0
    three_jobs(run, home)
    ran = run("job", "drop-learned", "Seven")
    assert ran.code == 2
    assert "'One'" in ran.err or "One" in ran.err
