"""Whole days through the real commands and the real clock door, on a machine whose clocks are held by freezegun.

The other days run on the fake clock, for they need what no command does: sleep, a reboot, channels that fail.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.boatshed import PAIR_WITH_RATES, shed_base, shed_job, shed_top
from tests.frozen import Machine, machine_at
from tests.running import Ran

Run = Callable[..., Ran]
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
EIGHT_IN_LISBON = datetime(2026, 4, 13, 7, 0, tzinfo=UTC)


@pytest.fixture
def machine() -> Iterator[Machine]:
    """A laptop in the shed at eight in the morning."""
    with machine_at(EIGHT_IN_LISBON) as held:
        yield held


@pytest.fixture
def shed(home: Path, run: Run, machine: Machine) -> Run:
    """The shed's job, started, with the slab at 20 °C, where the sheet states its times."""
    (home / "profiles").mkdir()
    (home / "profiles" / "base.toml").write_text(shed_base(limits=True), encoding="utf-8")
    (home / "profiles" / "top.toml").write_text(shed_top(), encoding="utf-8")
    (home / "shed.toml").write_text(shed_job(bays=2, joined=True, crew=PAIR_WITH_RATES), encoding="utf-8")
    told(run, "job", "start", str(home / "shed.toml"))
    told(run, "reading", "--air", "20 °C", "--rh", "50 %", "--slab", "20 °C")
    return run


def told(run: Run, *words: str) -> Ran:
    """A command that is taken."""
    ran = run(*words)
    assert (ran.code, ran.err) == (0, ""), (words, ran)
    return ran


def window(run: Run, name: str, batch: int = 1, code: int = 0) -> Any:
    """A window as `now --json` tells it."""
    ran = run("now", "--json")
    assert ran.code == code, ran.err
    (found,) = [one for one in ran.json["batches"][batch - 1]["windows"] if one["name"] == name]
    return found


def at(said: str) -> datetime:
    """An instant of the JSON."""
    return datetime.fromisoformat(said)


def pour_bay_1(shed: Run, machine: Machine) -> datetime:
    """Mixed for three minutes and poured a minute later; the instant of the pour."""
    told(shed, "mixing", "Shed base", "3.45 L", "--on", "bay 1", "--by", "mixer")
    machine.wait(3 * MINUTE)
    told(shed, "mixed")
    machine.wait(MINUTE)
    told(shed, "poured", "--by", "mixer")
    return machine.now()


def test_a_bay_goes_from_the_bucket_to_the_next_coat_by_what_is_typed(shed: Run, machine: Machine) -> None:
    assert shed("now").code == 1, "nothing is live before the first bucket"
    told(shed, "mixing", "Shed base", "3.45 L", "--on", "bay 1", "--by", "mixer")
    first = window(shed, "pour-out")
    assert first["state"] == "open"
    machine.wait(3 * MINUTE)
    told(shed, "mixed")
    machine.pass_until(at(first["closes"]["early"]) - 10 * timedelta(seconds=1))
    assert window(shed, "pour-out")["state"] == "closing", "the heads-up comes at least 30 s before the early edge"
    assert window(shed, "pour-out")["closes"] == first["closes"], "that time passes moves no deadline"
    told(shed, "poured", "--by", "mixer")
    poured = machine.now()
    assert window(shed, "pour-out")["state"] == "done"
    machine.wait(9 * MINUTE)
    told(shed, "rolled", "--by", "roller")
    machine.wait(6 * MINUTE)
    told(shed, "flaked", "--by", "roller")
    assert [window(shed, name)["state"] for name in ("back-roll", "broadcast")] == ["done", "done"]
    recoat = window(shed, "recoat")
    # the sheet: 12 h at 20 °C, to be closed at 48 h
    assert at(recoat["opens"]["likely"]) - poured == 12 * HOUR
    assert at(recoat["closes"]["likely"]) - poured == 48 * HOUR
    for _ in range(6):
        machine.wait(2 * HOUR)
        told(shed, "reading", "--slab", "20 °C")
    recoat = window(shed, "recoat")
    machine.pass_until(at(recoat["opens"]["late"]) - MINUTE)
    assert window(shed, "recoat")["state"] == "waiting"
    machine.wait(2 * MINUTE)
    assert machine.now() < at(recoat["closes"]["early"])
    assert window(shed, "recoat")["state"] in ("open", "closing"), "an evening before it shuts it is said to close"
    told(shed, "mixing", "Shed top", "1.5 L", "--on", "bay 1")
    machine.wait(2 * MINUTE)
    told(shed, "poured")
    assert window(shed, "recoat")["state"] == "done", "the next coat answers the question"
    told(shed, "job", "finish")
    assert "finished" in told(shed, "job", "list").out


def test_the_night_on_which_the_clocks_go_back_has_an_hour_more(home: Path, run: Run) -> None:
    # Lisbon, 25 October 2026: at 2:00 summer time it is 1:00 again (the last Sunday of October, Directive 2000/84/EC)
    with machine_at(datetime(2026, 10, 24, 17, 0, tzinfo=UTC)) as machine:
        (home / "profiles").mkdir()
        (home / "profiles" / "base.toml").write_text(shed_base(limits=True), encoding="utf-8")
        (home / "profiles" / "top.toml").write_text(shed_top(), encoding="utf-8")
        (home / "shed.toml").write_text(shed_job(days=("2026-10-24", "2026-10-25")), encoding="utf-8")
        told(run, "job", "start", str(home / "shed.toml"))
        told(run, "reading", "--air", "20 °C", "--rh", "50 %", "--slab", "20 °C")
        poured = pour_bay_1(run, machine)
        assert poured == datetime(2026, 10, 24, 17, 4, tzinfo=UTC)  # 18:04 on the wall
        assert window(run, "recoat")["opens"]["likely"] == "2026-10-25T05:04:00Z"  # 5:04 on the wall, not 6:04
        machine.pass_until(datetime(2026, 10, 25, 7, 30, tzinfo=UTC))
        told(run, "reading", "--slab", "20 °C", "--at", "7:20")
        assert "7:30" in told(run, "now").out.splitlines()[0]


@pytest.mark.parametrize("set_by", [-HOUR, 2 * HOUR], ids=["an hour back", "two hours ahead"])
def test_a_laptop_whose_clock_is_set_gives_no_bucket_more_time(shed: Run, machine: Machine, set_by: timedelta) -> None:
    told(shed, "mixing", "Shed base", "3.45 L", "--on", "bay 1")
    left = at(window(shed, "pour-out")["closes"]["early"]) - machine.now()
    machine.wait(2 * MINUTE)
    machine.set_clock(machine.now() + set_by)
    told(shed, "reading", "--air", "20 °C")  # what is written after the step shows that there was one
    assert at(window(shed, "pour-out")["closes"]["early"]) - machine.now() == left - 2 * MINUTE


def test_a_time_typed_after_midnight_is_of_the_evening_before(shed: Run, machine: Machine) -> None:
    machine.pass_until(datetime(2026, 4, 13, 22, 50, tzinfo=UTC))  # 23:50 on the wall
    told(shed, "mixing", "Shed base", "3.45 L", "--on", "bay 1")
    machine.pass_until(datetime(2026, 4, 13, 23, 5, tzinfo=UTC))  # 0:05
    told(shed, "poured", "--at", "23:56")
    (batch,) = shed("now", "--json").json["batches"]
    assert batch["stage"] == "poured"
    opens = at(window(shed, "recoat")["opens"]["likely"])
    assert opens == datetime(2026, 4, 13, 22, 56, tzinfo=UTC) + 12 * HOUR


def test_what_was_asked_at_an_earlier_hour_is_answered_as_it_was_then(shed: Run, machine: Machine) -> None:
    told(shed, "mixing", "Shed base", "3.45 L", "--on", "bay 1")
    machine.wait(5 * MINUTE)
    then = shed("now", "--json").json
    asked = machine.now().isoformat()
    machine.wait(MINUTE)
    told(shed, "poured")
    machine.wait(20 * HOUR)
    assert shed("now", "--json", "--at", asked, "--known").json == then
