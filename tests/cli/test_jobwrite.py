"""`mixclock job write`: question by question, left and gone on with, and opened again for one answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from mixclock.job.jobquestions import TAIL, answers_of, job_text, questions, with_answer
from mixclock.job.sitereading import read_site
from tests.running import Ran

Run = Callable[..., Ran]
HEAD = ["Shed floor", "Europe/Lisbon", "metric", ""]
FLOOR = ["bay 1", "5 m x 4 m - 1 m x 1 m", "", "bay 2", "bay 2", "12 m2", "", "", "", "bay 2", ""]
CREW = ["mixer", "", "", "", "", "", "roller", "roll; flake", "cut-in", "", "", "", "", ""]
PAILS = ["pail", "20 L", ""]
COATS = ["base", "Slow epoxy base", "300 um", "", "9 L", "yes", "95", ""]
HOURS = ["2026-04-13; 2026-04-14", "", "", "20 min", "15 min", "12:30 for 30 min"]


@pytest.fixture
def typing(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Callable[[list[str]], None]:
    """Type these lines, and then close the terminal."""
    monkeypatch.chdir(tmp_path)

    def typed(lines: list[str]) -> None:
        rest: Iterator[str] = iter(lines)

        def line(_: str = "") -> str:
            try:
                return next(rest)
            except StopIteration:
                raise EOFError from None

        monkeypatch.setattr("builtins.input", line)

    return typed


def test_a_job_file_is_written_question_by_question_and_ends_with_what_to_do_next(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *COATS, *HOURS, "yes"])
    ran = run("job", "write")
    assert ran.code == 0
    site = read_site((tmp_path / "shed-floor.toml").read_text())
    assert [area.size_m2 for area in site.areas] == [19.0, 12.0]
    assert site.hours is not None
    assert (site.hours.set_up_s, site.hours.clean_up_s) == (1200.0, 900.0)
    assert "mixclock plan shed-floor.toml" in ran.out
    assert "mixclock job start shed-floor.toml" in ran.out


def test_who_helps_by_which_door_and_how_fast_are_asked_where_they_matter(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *COATS, *HOURS, "yes"])
    out = run("job", "write").out
    site = read_site((tmp_path / "shed-floor.toml").read_text())
    assert site.door == "bay 2"
    assert [(person.does, person.helps) for person in site.crew] == [((), ()), (("roll", "broadcast"), ("cut-in",))]
    assert "With what does roller help" in out
    assert "With what does mixer help" not in out, "who does everything is no second for anything"
    assert "How fast does mixer throw flake?" in out
    alone = {"areas.1.name": "bay 1"}
    assert "door" not in [each.path for each in questions(alone)], "one area has no last one"


def test_a_wrong_answer_is_asked_again_with_what_mends_it(run: Run, typing: Callable[[list[str]], None]) -> None:
    typing(["Shed", "Europe/Lisbn", "Europe/Lisbon", "", "", "bay 1", "20 x"])
    out = run("job", "write").out
    assert "did you mean 'Europe/Lisbon'" in out
    assert "no unit for an area" in out


def test_a_terminal_that_closes_loses_nothing_and_the_talk_goes_on_where_it_was(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    typing([*HEAD, *FLOOR])
    left = run("job", "write")
    assert "answers are kept" in left.out
    typing([*CREW, *PAILS, *COATS, *HOURS, "yes"])
    assert "Going on with Shed floor" in run("job", "write").out
    assert len(read_site((tmp_path / "shed-floor.toml").read_text()).areas) == 2


def test_one_answer_is_kept_as_one(run: Run, typing: Callable[[list[str]], None]) -> None:
    typing(["Shed floor"])
    assert "1 answer is kept" in run("job", "write").out
    typing([])
    assert "Going on with Shed floor, 1 answer so far" in run("job", "write").out


def test_a_written_file_is_opened_for_one_answer_and_all_else_stays(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *COATS, *HOURS, "yes"])
    run("job", "write", "floor.toml")
    before = (tmp_path / "floor.toml").read_text().replace("# Typed", "# my own remark\n# Typed")
    (tmp_path / "floor.toml").write_text(before)
    typing(["6", "nonsense", "6 m x 4 m", ""])
    out = run("job", "write", "floor.toml").out
    after = (tmp_path / "floor.toml").read_text()
    assert "Changed: How large is " in out
    assert "6 m x 4 m (before: 5 m x 4 m - 1 m x 1 m)" in out
    assert len(out.splitlines()) < 20, "the list of all questions is shown only to whoever asks"
    assert "mixclock job mend floor.toml" in out
    assert after == before.replace('"5 m x 4 m - 1 m x 1 m"', '"6 m x 4 m"')


def test_a_written_file_takes_one_more_area_and_one_more_person(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *COATS, *HOURS, "yes"])
    run("job", "write", "floor.toml")
    before = (tmp_path / "floor.toml").read_text()
    told = answers_of(before)
    rows = questions(told)
    areas = sum(each.table == "areas" and each.key == "name" for each in rows) - 1
    number = next(place for place, each in enumerate(rows, 1) if each.path == f"areas.{areas + 1}.name")
    typing([str(number), "porch", "", "nonsense", "6 m2", "", "", ""])
    out = run("job", "write", "floor.toml").out
    assert "This is needed, for example:" in out, "the size is asked for until there is one"
    assert "Added: porch." in out
    after = (tmp_path / "floor.toml").read_text()
    assert [area.name for area in read_site(after).areas][-1] == "porch"
    assert len(read_site(after).areas) == areas + 1
    assert after.replace('[[areas]]\nname = "porch"\nsize = "6 m2"\n', "") == before
    typing([str(number), "porch", "later", ""])
    run("job", "write", "floor.toml")
    assert (tmp_path / "floor.toml").read_text() == after, "left half way, nothing is written"


def test_a_question_of_a_written_file_is_found_by_a_word_and_the_list_is_shown_on_request(
    run: Run, typing: Callable[[list[str]], None]
) -> None:
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *COATS, *HOURS, "yes"])
    run("job", "write", "floor.toml")
    for word in ("list", "Show all", "?"):
        typing([word, ""])
        assert "  1  What is the job called?" in run("job", "write", "floor.toml").out
    typing(["time zone", "", "how large", "porridge", ""])
    out = run("job", "write", "floor.toml").out
    assert "now: " in out.split("In which time zone is it?")[1], "one question goes by it, so it is asked"
    assert out.count("How large is ") == 2, "two go by it, so both are shown by their numbers"
    assert "Nothing here goes by 'porridge'; list shows all." in out
    typing(["left", ""])
    shown = [
        line
        for line in run("job", "write", "floor.toml").out.splitlines()
        if line[:3].strip().isdecimal() and line[3:5] == "  "
    ]
    open_ones = [line for line in shown if line.endswith("  -")]
    assert open_ones
    assert len(open_ones) == len(shown)
    assert f"{len(open_ones)} of them not answered" in " ".join(run("job", "write", "floor.toml").out.split())


def test_answers_come_back_from_a_file_and_a_list_over_several_lines_is_replaced_whole() -> None:
    text = 'name = "shed"\nzone = "UTC"\n[hours]\ndays = [\n  "2026-04-13",\n  "2026-04-14",\n]\nstart = "08:00"\n'
    answers = answers_of(text)
    assert answers["hours.days"] == "2026-04-13; 2026-04-14"
    question = TAIL[0]
    changed = with_answer(text, question, "2026-05-01")
    assert 'days = ["2026-05-01"]\nstart = "08:00"' in changed
    assert "days" not in with_answer(text, question, "-")
    assert 'name = "shed"' in job_text(answers)


def test_a_product_that_nobody_has_a_sheet_of_is_told_as_it_is_typed(
    run: Run, typing: Callable[[list[str]], None], tmp_path: Path
) -> None:
    misspelt = ["base", "Slow epoxy bas", *COATS[2:]]
    typing([*HEAD, *FLOOR, *CREW, *PAILS, *misspelt, *HOURS, "yes"])
    out = run("job", "write").out
    told, _, after = out.partition("How thick is base, wet?")
    assert "Look out: " in told
    assert "Slow epoxy base" in told, "the nearest name is offered"
    assert "Kept as" in after, "the answer stands: its sheet may be typed in later"
