"""`mixclock plan` as it is typed: before a job is started, while it is under way, and with what is typed wrong."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.outside.clock import SystemClock
from tests.boatshed import PAIL, PAIR_WITH_RATES, shed_base, shed_job
from tests.cli.studio import CORNER
from tests.running import Ran, Runner

Run = Callable[..., Ran]

MONDAY = ("--begin", "2026-04-13 8:00")

WRONG = """
name = "Everything wrong"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "30 m2"
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "30 m2"
[[areas]]
name = "bay 3"
size = "30 m2"
[[areas]]
name = "bay 4"
size = "30 m2"
next_to = ["bay 5"]
[[areas]]
name = "bay 5"
size = "30 m2"
[[crew]]
name = "roller"
roll = "0 m2/h"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
wet_edge = true
kit = "0.5 L"
[[coats]]
name = "top"
product = "No such top"
wet_film = "100 um"
after = "base"
[hours]
days = ["2026-12-01", "2026-12-02"]
start = "{start}"
end = "{end}"
[[forecast]]
at = "2026-12-01 08:00"
air = "16 °C"
[[forecast]]
at = "2026-12-01 17:00"
air = "16 °C"
"""


def zone_where_it_is_noon() -> str:
    """A zone in which the crew is at work whenever this is run."""
    west_h = SystemClock().now().hour - 12
    return f"Etc/GMT{west_h:+d}" if west_h else "Etc/GMT"


@pytest.fixture
def corner(home: Path) -> str:
    """The file of a small job."""
    path = home / "corner.toml"
    path.write_text(CORNER)
    return str(path)


def test_a_plan_says_what_the_flake_costs(run: Run, corner: str) -> None:
    """By hand: 9 m² at 0.4 kg/m² stick, half as much again is thrown: 5.4 kg at 7.50 are 40.50. The base: 9 m² at
    300 µm are 2.7 L, with 5 % of waste 2.842 L, one kit of 9 L at 95. Together 135.50."""
    Path(corner).write_text(CORNER + 'flake_price = "7.50"\n')
    told = run("plan", corner, *MONDAY, "--json").json
    assert told["take_off"]["coats"][0]["flake_cost"] == 40.5
    assert told["take_off"]["cost"] == 135.5
    assert "135.50" in run("plan", corner, *MONDAY).out


def test_a_job_file_is_planned_before_the_job_is_started_and_no_book_is_made(run: Run, corner: str, home: Path) -> None:
    ran = run("plan", corner, *MONDAY)
    assert ran.code == 0, ran.err
    assert ran.out.startswith("Pottery corner: it fits. 1 batch of base; done Mon 13 Apr 8:")
    for heading in ("TO BUY", "AREA BY AREA", "MIX SHEETS", "MIXER", "ROLLER", "TIGHTEST STEPS", "ASSUMED"):
        assert heading in ran.out
    assert all(len(line) <= 80 for line in ran.out.splitlines())
    assert not (home / "book.sqlite3").exists()


def test_the_json_is_planned_from_the_hour_that_was_typed(run: Run, corner: str) -> None:
    answer = run("plan", corner, *MONDAY, "--json").json
    assert answer["begins"] == "2026-04-13T07:00:00Z"
    assert answer["feasible"] is True
    assert answer["take_off"]["cost"] == 95.0
    assert 0.0 <= answer["chance"]["holds_pct"] <= 100.0
    assert {step["who"] for step in answer["steps"]} <= {"mixer", "roller"}


def test_the_same_plan_comes_out_twice(run: Run, corner: str) -> None:
    first, second = (run("plan", corner, *MONDAY, "--seed", "3").out for _ in range(2))
    assert first == second


def test_a_page_and_a_picture_are_written_and_the_answer_is_said_in_short(run: Run, corner: str, home: Path) -> None:
    for name, begins in (("plan.html", "<!DOCTYPE html>"), ("plan.svg", "<svg ")):
        ran = run("plan", corner, *MONDAY, "--out", str(home / name))
        assert ran.code == 0, ran.err
        assert (home / name).read_text().startswith(begins)
        assert "it fits" in ran.out
        assert "MIX SHEETS" not in ran.out


def test_one_product_is_compared_with_another_on_the_same_floor(run: Run, corner: str) -> None:
    words = ("--instead", "slow epoxy base=Fast epoxy base", "--instead-kit", "9 L", "--instead-price", "120")
    ran = run("plan", corner, *MONDAY, *words)
    assert ran.code == 0, ran.err
    told = ran.out.partition("ONE PRODUCT FOR ANOTHER")[2]
    assert "the same 300 µm dry" in told
    assert "120.00 EUR" in told
    assert "least slack" in told
    assert "Fast epoxy base would leave out:" in told


def test_what_cannot_be_done_is_code_1_with_the_constraint(run: Run, home: Path) -> None:
    short = CORNER + '[hours]\ndays = ["2026-04-13"]\nstart = "08:00"\nend = "08:15"\n'
    (home / "short.toml").write_text(short)
    ran = run("plan", str(home / "short.toml"), *MONDAY)
    assert ran.code == 1
    assert "no plan fits" in ran.out
    assert "In the way:" in ran.out


def test_a_started_job_is_planned_again_from_where_it_stands_and_says_what_changed(run: Run, home: Path) -> None:
    two = CORNER.replace('"4 m2"', '"8 m2"').replace("split = true", 'split = true\nbatch = "3 L"')
    (home / "corner.toml").write_text(two.replace("Europe/Lisbon", zone_where_it_is_noon()))
    assert run("job", "start", str(home / "corner.toml")).code == 0
    first = run("plan", "--json").json
    assert first["changed"] == []
    assert first["batches_in_all"] == 2
    assert run("mixed", "Slow epoxy base", "3 L", "--on", "bay 1", "--ago", "20 min").code == 0
    assert run("poured", "--ago", "14 min").code == 0
    second = run("plan", "--json").json
    assert second["kept"] == [1]
    assert second["changed"] != []
    assert [batch["areas"] for batch in second["batches"]] == [["bay 2"]]
    assert [coat["areas"][0]["area"] for coat in second["take_off"]["coats"]] == ["bay 2"]
    back_roll = [step for step in second["steps"] if step["step"] == "roll" and step["batch"] == 1]
    assert len(back_roll) == 1, "what the live batch still needs stands in the plan"
    wrong = run("plan", "--begin", "2026-04-13 8:00")
    assert wrong.code == 2
    assert "that time is past, and buckets are under way" in wrong.err


def test_every_mistake_of_a_job_file_is_said_at_once_in_one_line_each(run: Run, home: Path) -> None:
    (home / "wrong.toml").write_text(WRONG.format(start="07:00", end="18:00"))
    ran = run("plan", str(home / "wrong.toml"))
    assert ran.code == 2
    assert ran.out == ""
    lines = ran.err.splitlines()
    wanted = (
        ("crew[roller].roll", "0 m2/h"),
        ("areas[bay 3].next_to", "no neighbours, but coats[base] asks for a wet edge"),
        ("coats[base].wet_edge", "the floor is cut in two"),
        ("coats[base].kit", "is smaller than a batch"),
        ("forecast", "more than 6 working hours"),
        ("No such top", "no product is named"),
    )
    for where, what in wanted:
        assert sum(where in line and what in line for line in lines) == 1, (where, ran.err)
    assert len(lines) == len(wanted)
    (home / "wrong.toml").write_text(WRONG.format(start="17:30", end="07:30"))
    assert "the working day ends before it begins" in run("plan", str(home / "wrong.toml")).err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--out", "plan.pdf"), "neither a page nor a picture"),
        (("--sure", "200"), "--sure: 200 is no chance"),
        (("--sure", "often"), "--sure"),
        (("--instead", "Slow epoxy base"), "does not name two products"),
        (("--instead", "Oak=Slow epoxy base"), "no coat of this job has 'Oak'"),
        (("--instead", "Slow epoxy base=Oak"), "no product is named 'Oak'"),
        (("--instead-price", "9"), "go with --instead"),
        (("--begin", "soon"), "--begin"),
        (("--job", "other"), "FILE and --job"),
    ],
)
def test_a_wrong_option_is_one_line_that_names_it(run: Run, corner: str, words: tuple[str, ...], said: str) -> None:
    ran = run("plan", corner, *words)
    assert ran.code == 2, ran
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1
    assert ran.out == ""


def test_days_that_are_over_are_said_so_instead_of_no_hours_left(run: Run, home: Path) -> None:
    (home / "old.toml").write_text(CORNER + '[hours]\ndays = ["2020-04-13"]\nstart = "06:30"\nend = "15:00"\n')
    ran = run("plan", str(home / "old.toml"))
    assert ran.code == 2
    assert "the last of them, 2020-04-13, is over" in ran.err
    assert "--begin '2020-04-13 06:30'" in " ".join(ran.err.split())


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent as a signal")
def test_ctrl_c_gives_the_best_so_far_and_progress_goes_to_stderr(home: Path) -> None:
    bays = "".join(f'[[areas]]\nname = "bay {number}"\nsize = "12 m2"\norder = {number}\n' for number in range(1, 151))
    tail = CORNER[CORNER.index("[[crew]]") :]
    (home / "hall.toml").write_text(f'name = "Hall"\nzone = "UTC"\n{bays}{tail}')
    running = subprocess.Popen(
        [sys.executable, "-m", "mixclock.cli", "plan", str(home / "hall.toml"), "--begin", "2026-04-13 8:00"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=Runner(home).environment(),
        cwd=home,
    )
    assert running.stderr is not None
    try:
        first = running.stderr.readline()
        assert first.startswith("planning, ")
        running.send_signal(signal.SIGINT)
        out, err = running.communicate(timeout=60)
    finally:
        running.kill()
    assert "Traceback" not in err
    assert running.returncode in (0, 1)
    assert "Stopped before the search was done" in " ".join(out.split())


def test_conditions_that_nobody_gave_stand_first_among_what_was_assumed(run: Run, corner: str) -> None:
    told = run("plan", corner, *MONDAY).out.partition("ASSUMED")[2]
    assert "no air reading: taken as 20 °C" in " ".join(told.splitlines()[1].split())
    assert "to mend that, take a reading or put a forecast into the job file" in " ".join(told.split())


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('zone = "Europe/Lisbn"', "'Europe/Lisbn' is no time zone; did you mean 'Europe/Lisbon'?"),
        ('zone = "UTC+2"', "'UTC+2' is no time zone; expected a name such as Europe/Lisbon"),
        ("", "'zone': is missing"),
        ('zone = ""', "'zone'"),
    ],
)
def test_a_zone_that_is_missing_or_wrong_is_one_line_and_no_trace(run: Run, home: Path, line: str, said: str) -> None:
    forecast = '[hours]\ndays = ["2026-12-01"]\n[[forecast]]\nat = "2026-12-01 08:00"\nair = "16 °C"\n'
    (home / "lost.toml").write_text(CORNER.replace('zone = "Europe/Lisbon"', line) + forecast)
    ran = run("plan", str(home / "lost.toml"))
    assert ran.code == 2
    assert said in ran.err
    assert "Traceback" not in ran.err
    assert len(ran.err.splitlines()) == 1


PRIMED = """
name = "Boat shed"
zone = "Europe/Lisbon"
door = "bay 1"
[[coats]]
name = "base"
product = "Waterborne epoxy primer"
wet_film = "150 um"
flake = "0.4 kg/m2"
kit = "4.5 L"
split = true
[hours]
days = ["2026-12-07", "2026-12-08", "2026-12-09"]
start = "07:30"
end = "12:30"
"""


@pytest.mark.long
def test_whoever_fetches_the_people_that_a_refused_plan_asked_for_gets_a_plan(run: Run, home: Path) -> None:
    """Of four people in strips the long search passed a plan by that a quick look had found and told."""
    sizes, hours = (19.9, 15.3, 9.9, 10.5, 12.8), ((0, 19.4), (6, 18.4), (9, 21.4), (13, 24.4), (16, 25.4), (20, 21.9))
    areas = [f'[[areas]]\nname = "bay {n}"\nsize = "{size} m2"' for n, size in enumerate(sizes, 1)]
    areas = [f'{area}\nnext_to = ["bay {n}"]' if n <= len(sizes) else area for n, area in enumerate(areas, 2)]
    air = [
        f'[[forecast]]\nat = "2026-12-0{day} {hour:02d}:00"\nair = "{air} °C"\nhumidity = "55 %"'
        f'\nslab = "{air / 2 + 11.2:.1f} °C"'
        for day in (7, 8, 9)
        for hour, air in hours
    ]
    hands = [f'[[crew]]\nname = "hand {n}"' for n in range(1, 5)]
    begins = ("--begin", "2026-12-07 6:00", "--json")
    job = home / "shed.toml"
    job.write_text("\n".join((PRIMED, *areas, *air, hands[0])), encoding="utf-8")
    alone = run("plan", str(job), *begins)
    assert alone.code == 1
    people = [change["change"] for change in alone.json["changes"] if "people more" in change["change"]]
    assert people == ["3 people more"]
    job.write_text("\n".join((PRIMED, *areas, *air, *hands)), encoding="utf-8")
    together = run("plan", str(job), *begins)
    assert together.code == 0, together.err
    assert together.json["feasible"]
    assert len(together.json["batches"]) > 1


@pytest.mark.parametrize(("film", "bucket_units"), [("300 um", {"L", "kg"}), ("60 um", {"mL", "g"})])
def test_amounts_of_one_list_stand_in_one_unit(run: Run, home: Path, film: str, bucket_units: set[str]) -> None:
    """Three bays of 12 m² without flake. At 60 µm a bay takes 0.76 L, all of them go onto scales; at 300 µm 3.79 L."""
    site = shed_job(bays=3, size="12 m2", crew=PAIR_WITH_RATES, vessel=PAIL)
    site = re.sub(r"flake = .*\n", "", site).replace('"300 um"', f'"{film}"')
    site = site[: site.index('[[coats]]\nname = "top"')] + site[site.index("[hours]") :]
    (home / "profiles").mkdir(exist_ok=True)
    (home / "profiles" / "base.toml").write_text(shed_base())
    (home / "shed.toml").write_text(site)
    told = run("plan", str(home / "shed.toml"), *MONDAY).out
    list_, mixed = told[: told.index("MIX SHEETS")], told[told.index("MIX SHEETS") : told.index("ASSUMED")]
    assert set(re.findall(r"\d (mL|L|g|kg)\b", mixed)) == bucket_units, mixed
    assert set(re.findall(r"\d (mL|L|g|kg)\b", list_)) == {"L", "kg"}, list_
