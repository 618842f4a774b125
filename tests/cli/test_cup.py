"""A test cup through the real command: begun the evening before, read, ended, used by its lot's batch, dropped."""

from __future__ import annotations

from pathlib import Path

from tests.cli.test_interface import Run, ok


def test_a_cup_is_begun_without_a_job_and_says_how_it_is_made(run: Run) -> None:
    said = ok(run("cup", "Slow epoxy base", "150 g", "--lot", "7A", "--material", "21 °C")).out
    assert "Cup of 150 g of Slow epoxy base begun." in said
    for words in ("never in a kitchen or a van", "no foam, no glass, no lid", "Stay with it", "weigh to 1 g"):
        assert words in said


def test_a_cup_is_read_and_ended_and_stands_beside_its_sheet(run: Run) -> None:
    ok(run("cup", "Slow epoxy base", "150 g", "--lot", "7A", "--material", "21 °C", "--ago", "50 min"))
    assert "31 °C after 30 min" in ok(run("cup", "reading", "31C", "--ago", "20 min")).out
    said = ok(run("cup", "gel", "--ago", "12 min")).out
    assert "gel after 38 min" in said
    assert "faster than the sheet" in said
    told = ok(run("cup", "--json")).json["cups"]
    assert [(each["lot"], each["end"], round(each["end_s"] / 60.0)) for each in told] == [("7A", "gel", 38)]
    assert "dropped" in ok(run("cup", "drop")).out
    assert ok(run("cup")).out == "No test cup yet.\n"


def test_a_cup_that_tells_nothing_is_refused_in_one_line(run: Run) -> None:
    for words in (("Slow epoxy base", "2 kg"), ("Waterborne epoxy primer", "150 g"), ("reading", "31C"), ("gel",)):
        ran = run("cup", *words)
        assert ran.code == 2
        assert ran.err.count("\n") == 1


def test_the_picture_of_a_product_draws_a_cup_beside_its_sheet_once_it_ended(run: Run, tmp_path: Path) -> None:
    drawn = tmp_path / "base.svg"
    ok_to_draw = ("profile", "show", "Slow epoxy base", "--picture", str(drawn))
    ok(run("cup", "Slow epoxy base", "150 g", "--lot", "7A", "--material", "21 °C", "--ago", "50 min"))
    assert run(*ok_to_draw).code == 0
    assert "cup of lot" not in drawn.read_text(encoding="utf-8")  # it has not ended yet
    ok(run("cup", "gel", "--ago", "12 min"))
    assert run(*ok_to_draw).code == 0
    picture = drawn.read_text(encoding="utf-8")
    assert "cup of lot 7A, all at 21 °C" in picture
    assert picture.count('class="cup"') == 1
    assert "Test cup of lot 7A, 150 g at 21 °C: gel after 38 min." in picture


def test_with_two_cups_running_a_reading_says_which_by_its_lot_or_its_number(run: Run) -> None:
    for lot, ago in (("7A", "30 min"), ("8B", "29 min")):
        ok(run("cup", "Slow epoxy base", "150 g", "--lot", lot, "--material", "21 °C", "--ago", ago))
    refused = run("cup", "reading", "31C")
    assert (refused.code, refused.err.count("\n")) == (2, 1)
    assert "--cup 1 (Slow epoxy base, lot 7A) or --cup 2 (Slow epoxy base, lot 8B)" in refused.err
    ok(run("cup", "reading", "31C", "--lot", "7a"))
    ok(run("cup", "gel", "--cup", "2"))
    first, second = ok(run("cup", "--json")).json["cups"]
    assert [len(first["readings"]), first["end"]] == [1, None]
    assert [len(second["readings"]), second["end"]] == [0, "gel"]
    assert "38 °C after 30 min" in ok(run("cup", "reading", "38C")).out  # only one is running now
    assert ok(run("cup")).out.startswith("1  Slow epoxy base, lot 7A")
    assert run("cup", "gel", "--cup", "3").code == 2


def test_a_hot_cup_is_answered_with_what_to_do_and_a_temperature_needs_its_letter(run: Run) -> None:
    ok(run("cup", "Slow epoxy base", "150 g", "--lot", "7A", "--material", "21 °C", "--ago", "50 min"))
    assert "It is hot: outside" in ok(run("cup", "reading", "70C")).out
    assert run("cup", "reading", "70").code == 2
    assert run("cup", "reading", "900C").code == 2
    assert len(ok(run("cup", "--json")).json["cups"][0]["readings"]) == 1
