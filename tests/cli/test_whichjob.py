"""Two crews at work from one laptop: which job is meant is never a guess."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from mixclock.cli import COMMANDS, GROUPS, STATING
from tests.cli.studio import STUDIO
from tests.running import Ran, Runner

Run = Callable[..., Ran]

SHED = "Boat shed"
POTTERY = "Pottery studio floor"
MIXING = ("mixing", "Slow epoxy base", "4 L", "--coat", "base")
NO_JOB_ASKED = {
    "ticks": "lists what can be ticked",
    "cup": "needs no job",
    "profile": "sheets of all jobs",
    "watch": "calls out every job",
    "rehearse": "makes its own",
    "selfcheck": "of this machine",
    "where": "of this machine",
    "jobs": "all of them",
    "manual": "explains commands",
    "settings": "of this home",
    "book": "of all jobs",
}


def ok(ran: Ran) -> Ran:
    assert ran.code == 0, ran.err
    return ran


@pytest.fixture
def two(studio: Run, home: Path) -> Run:
    """The pottery studio and the boat shed, both under way; the shed has a bay of its own."""
    shed = STUDIO.replace(POTTERY, SHED).replace('"bay 2"', '"slip"')
    (home / "shed.toml").write_text(shed)
    started = ok(studio("job", "start", str(home / "shed.toml")))
    assert f"Under way: '{POTTERY}' and '{SHED}'" in started.out
    return studio


def test_every_command_that_states_or_asks_takes_the_job() -> None:
    from importlib import import_module
    from inspect import signature

    for name, listed in COMMANDS.items():
        module = import_module(f"mixclock.cli.{listed.module}")
        command = module.command(name) if listed.module == STATING else getattr(module, name.replace("-", "_"))
        assert ("job" in signature(command).parameters) != (name in NO_JOB_ASKED), name
    assert set(NO_JOB_ASKED) <= {*COMMANDS, *GROUPS}


def test_a_statement_for_both_floors_is_asked_about_and_changes_nothing(two: Run) -> None:
    refused = two(*MIXING, "--on", "bay 1")
    assert refused.code == 2
    assert refused.err.count("\n") == 1
    assert "2 jobs can be meant, say which" in refused.err
    assert f"--job '{POTTERY}' (bay 1)" in refused.err
    assert f"--job '{SHED}' (bay 1)" in refused.err
    assert [job["entries"] for job in two("job", "list", "--json").json["jobs"]] == [1, 1]


def test_a_statement_that_only_one_floor_can_take_goes_there_and_says_so(two: Run) -> None:
    mixed = ok(two(*MIXING, "--on", "slip"))
    assert f"{SHED}: " in mixed.out
    poured = ok(two("poured", "--json")).json
    assert (poured["job"], poured["batch"]) == (SHED, 1)
    assert two("withdraw", str(poured["entry"]), "--json").json["job"] == SHED


def test_a_new_floor_does_not_take_the_next_words_of_another_crew(two: Run) -> None:
    ok(two(*MIXING, "--on", "bay 2", "--ago", "10 min"))
    ok(two(*MIXING, "--on", "slip", "--ago", "9 min"))
    asked = two("poured")
    assert asked.code == 2
    assert f"--job '{POTTERY}' (batch 1); --job '{SHED}' (batch 1)" in asked.err
    assert ok(two("poured", "--job", "boat shed", "--json")).json["job"] == SHED
    assert ok(two("poured", "--json")).json["job"] == POTTERY


def test_a_terminal_may_belong_to_a_job(two: Run, home: Path, run_as: Run) -> None:
    van = partial(run_as, Runner(home, {"MIXCLOCK_JOB": POTTERY}))
    assert ok(van(*MIXING, "--on", "bay 1", "--json")).json["job"] == POTTERY
    assert van("now", "--json").json["job"] == POTTERY
    assert van("now", "--job", SHED, "--json").json["job"] == SHED
    wrong = run_as(Runner(home, {"MIXCLOCK_JOB": "Barn"}), "now")
    assert wrong.code == 2
    assert "no job 'Barn' in the book" in wrong.err


def test_who_chose_a_job_is_taken_at_his_word_and_told_which_it_was(two: Run) -> None:
    ok(two("job", "use", POTTERY))
    told = ok(two("reading", "--slab", "16 °C"))
    assert told.out.startswith(f"{POTTERY}: ")
    assert f"This is job '{POTTERY}'; under way beside it: '{SHED}'" in two("now").out


def test_what_no_floor_can_take_says_which_floor_refused(two: Run) -> None:
    refused = two("poured")
    assert refused.code == 2
    assert "no batch was in a bucket" in refused.err
    assert "job '" in refused.err


def test_hearing_goes_to_the_floor_that_calls(two: Run) -> None:
    nothing = two("heard")
    assert nothing.code == 2
    assert "nothing is called out now" in nothing.err
    ok(two(*MIXING, "--on", "slip", "--ago", "50 min"))
    assert ok(two("heard", "--json")).json["job"] == SHED


def test_once_a_floor_is_finished_nobody_is_asked_any_more(two: Run) -> None:
    ok(two("job", "finish", "--job", SHED))
    told = ok(two(*MIXING, "--on", "bay 1"))
    assert f"{POTTERY}: " not in told.out
    assert two("now", "--json").json["job"] == POTTERY


def test_the_next_kit_of_each_floor_is_judged_by_its_own_sheets(two: Run) -> None:
    """What the chosen floor is coated with says nothing of the other's, also where a page shows the other one."""
    from mixclock.board.joining import JoinedHouse
    from mixclock.wiring import open_house

    ok(two("job", "use", POTTERY))
    with open_house() as house:
        asked: list[str] = []
        house.kits._shelf = lambda site: asked.append(site.name) or {}  # type: ignore[func-returns-value]
        JoinedHouse(house).of_job(SHED).next_kit(house.clock.now())
        assert asked == [SHED]


@pytest.mark.parametrize(
    "words",
    [
        ("record", "--to", "x.html"), ("calendar", "--to", "x.ics"), ("plan",), ("ready",), ("evening",), ("morning",),
        ("job", "export", "x.mixclock"), ("job", "learned"), ("job", "drop-learned"), ("job", "take-over"),
        ("why", "bay 1"), ("next",),
    ],
    ids=lambda words: " ".join(words[:2]),
)  # fmt: skip
def test_what_leaves_the_screen_is_of_no_floor_that_was_guessed(two: Run, home: Path, words: tuple[str, ...]) -> None:
    refused = two(*words)
    assert refused.code == 2
    assert f"2 jobs can be meant, say which: --job '{POTTERY}'; --job '{SHED}'" in refused.err
    assert not [each for each in home.iterdir() if each.name.startswith("x.")]


def test_a_question_about_an_area_goes_to_the_only_floor_that_has_it(two: Run) -> None:
    assert f"This is job '{POTTERY}'" in ok(two("why", "bay 2")).out
    assert f"This is job '{SHED}'" in ok(two("why", "SLIP")).out


def test_a_mended_file_goes_to_the_floor_that_it_names(two: Run, home: Path) -> None:
    for file, name in (("shed.toml", SHED), ("studio.toml", POTTERY)):
        (home / file).write_text((home / file).read_text().replace("12 m2", "13 m2"))
        assert f"Job '{name}' goes by" in ok(two("job", "mend", str(home / file))).out


def test_a_paper_says_which_floor_it_is_of_and_a_name_counts_without_case_and_spaces(
    two: Run, home: Path, run_as: Run
) -> None:
    told = ok(two("record", "--to", str(home / "r.html"), "--job", " boat   SHED ")).out
    assert f"This is job '{SHED}'; under way beside it: '{POTTERY}'" in told
    assert SHED in (home / "r.html").read_text()
    blank = run_as(Runner(home, {"MIXCLOCK_JOB": "  "}), "noted", "door open")
    assert "2 jobs can be meant" in blank.err
