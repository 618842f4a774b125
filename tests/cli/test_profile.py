"""The products that mixclock knows, at the terminal: checked, listed, shown, and typed in from a data sheet."""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from mixclock.cli import main

ROOT = Path(__file__).resolve().parents[2]
PROFILES = ROOT / "profiles"

ANSWERS = (
    "Shed base",
    "epoxy",
    "sheet 3, page 2",
    "2:1",
    "",
    "1.13 kg/L",
    "0.98 kg/L",
    "3 min",
    "20C = 40 min; 30C = 20 min",
    "1 kg",
    "gel",
)


def profile(*words: str, typed: str | None = None) -> tuple[int, str, str]:
    with CliRunner().isolation(input=typed) as (out, err, _):
        code = main(["profile", *words])
        return code, out.getvalue().decode(), err.getvalue().decode()


def lines(*typed: str) -> str:
    return "".join(f"{line}\n" for line in typed)


def files(home: Path) -> set[str]:
    return {str(path.relative_to(home)) for path in home.rglob("*") if path.is_file()}


def test_check_says_that_a_profile_is_right_and_what_it_leaves_out(home: Path, tmp_path: Path) -> None:
    path = tmp_path / "base.toml"
    path.write_text(
        "name='x'\nfamily='epoxy'\n[mix]\nratio_by_volume=[2,1]\n[pot-life]\nat='40 min'\n", encoding="utf-8"
    )
    code, out, err = profile("check", str(path))
    assert (code, err) == (0, "")
    assert "no mistakes" in out
    assert "150 g" in out
    assert "Not answered:" in out


def test_check_says_every_mistake_in_a_line_of_its_own_and_ends_with_two(home: Path, tmp_path: Path) -> None:
    path = tmp_path / "base.toml"
    path.write_text("name='x'\nfamily='epoxi'\n[mix]\nratio_by_volume=[2,1,3]\n[pot-life]\nat=40\n", encoding="utf-8")
    code, out, err = profile("check", str(path))
    assert (code, out) == (2, "")
    assert len(err.splitlines()) == 3
    assert err.splitlines()[0] == f"{path}: at 'family': 'epoxi' is unknown; did you mean 'epoxy'?"


@pytest.mark.parametrize("missing", ["nowhere.toml", "."])
def test_check_of_what_is_no_file_is_one_line_and_two(home: Path, missing: str) -> None:
    code, out, err = profile("check", missing)
    assert (code, out, len(err.splitlines())) == (2, "", 1)


def test_check_answers_as_json_too(home: Path, tmp_path: Path) -> None:
    code, out, _ = profile("check", str(PROFILES / "slow-epoxy-base.toml"), "--json")
    assert code == 0
    assert json.loads(out)["ok"] is True
    path = tmp_path / "base.toml"
    path.write_text("name=", encoding="utf-8")
    code, out, err = profile("check", str(path), "--json")
    assert code == 2
    assert json.loads(out)["mistakes"] == json.loads(err)["errors"]


def test_list_shows_what_comes_with_mixclock_and_marks_what_is_yours(home: Path) -> None:
    (home / "profiles").mkdir()
    (home / "profiles" / "mine.toml").write_text("name='Shed base'\nfamily='epoxi'\n", encoding="utf-8")
    code, out, _ = profile("list")
    assert code == 0
    assert any("Shed base" in line and "profile check" in line and "(yours)" in line for line in out.splitlines())
    rows = json.loads(profile("list", "--json")[1])
    assert {"Slow epoxy base", "Polyaspartic top coat", "Shed base"} <= {row["name"] for row in rows}
    assert next(row for row in rows if row["own"])["mistakes"] > 0


def test_show_gives_the_sheets_figures_and_the_windows_by_temperature(home: Path) -> None:
    code, out, _ = profile("show", "slow epoxy base")
    assert code == 0
    assert "2 to 1" in out
    assert "invented figures" in out
    assert any("recoat from" in line for line in out.splitlines())
    shown = json.loads(profile("show", "Slow epoxy base", "--json")[1])
    recoat = next(row for row in shown["windows"] if (row["name"], row["edge"]) == ("recoat", "opens"))
    assert next(at for at in recoat["at"] if at["slab_c"] == 20.0)["likely_s"] == 43200.0


def test_show_of_a_misspelt_product_suggests_the_right_one(home: Path) -> None:
    code, out, err = profile("show", "Slow epoxi base")
    assert (code, out) == (2, "")
    assert err == "no product is named 'Slow epoxi base'; did you mean 'Slow epoxy base'?\n"


def test_a_sheet_typed_in_becomes_a_product_and_its_draft_is_gone(home: Path) -> None:
    code, out, _ = profile("write", typed=lines(*ANSWERS, *[""] * 25, "yes"))
    assert code == 0
    assert "understood: 40 min at 20 °C, 20 min at 30 °C" in out
    assert files(home) == {"profiles/shed-base.toml"}
    assert profile("show", "Shed base")[0] == 0


def test_write_can_be_left_and_gone_on_with_by_name_or_without(home: Path) -> None:
    code, out, _ = profile("write", typed=lines(*ANSWERS[:5], "later"))
    assert code == 0
    assert 'profile write "Shed base"` goes on' in out
    assert files(home) == {"profiles/drafts/shed-base.json"}
    code, out, _ = profile("write", "shed base", typed=lines("1.13 kg/L", "later"))
    assert "Going on with Shed base, 4 answers so far." in out
    assert "Density of part A" in out
    code, out, _ = profile("write", typed=lines(*ANSWERS[6:], *[""] * 25, "yes"))
    assert "Going on with Shed base, 5 answers so far." in out
    assert files(home) == {"profiles/shed-base.toml"}


def test_an_end_of_input_keeps_what_was_typed(home: Path) -> None:
    code, out, _ = profile("write", typed=lines(*ANSWERS[:4]))
    assert code == 0
    assert "4 answers are kept" in out


def test_leaving_before_the_first_answer_keeps_nothing(home: Path) -> None:
    code, out, _ = profile("write", typed=lines("later"))
    assert (code, files(home)) == (0, set())
    assert "nothing is kept" in out


def test_several_drafts_are_named_and_a_new_one_begins(home: Path) -> None:
    profile("write", "Shed base", typed=lines("epoxy", "later"))
    profile("write", "Boat base", typed=lines("epoxy", "later"))
    _, out, _ = profile("write", typed=lines("later"))
    assert "Drafts: " in out
    assert "1 of" in out


def test_a_product_of_the_same_name_is_not_overwritten_by_accident(home: Path) -> None:
    profile("write", typed=lines(*ANSWERS, *[""] * 25, "yes"))
    before = (home / "profiles" / "shed-base.toml").read_text(encoding="utf-8")
    other = (*ANSWERS[:2], "sheet 4", *ANSWERS[3:])
    profile("write", typed=lines(*other, *[""] * 25, "yes", "no"))
    assert (home / "profiles" / "shed-base.toml").read_text(encoding="utf-8") == before
    profile("write", typed=lines("yes", "replace"))
    assert "sheet 4" in (home / "profiles" / "shed-base.toml").read_text(encoding="utf-8")
    assert files(home) == {"profiles/shed-base.toml"}


def test_a_damaged_draft_is_one_line_and_two_and_changes_nothing(home: Path) -> None:
    path = home / "profiles" / "drafts" / "shed-base.json"
    path.parent.mkdir(parents=True)
    path.write_text("{", encoding="utf-8")
    code, _, err = profile("write", typed=lines("later"))
    assert (code, len(err.splitlines())) == (2, 1)
    assert path.read_text(encoding="utf-8") == "{"


def test_a_home_that_can_not_be_written_to_is_one_line_and_two(home: Path) -> None:
    (home / "profiles").write_text("in the way", encoding="utf-8")
    code, _, err = profile("write", typed=lines("Shed base"))
    assert code == 2
    assert "set MIXCLOCK_HOME" in err


@pytest.mark.skipif(sys.platform == "win32", reason="signals of a terminal are another matter on Windows")
def test_ctrl_c_leaves_and_keeps_what_was_typed(home: Path) -> None:
    talking = subprocess.Popen(
        [sys.executable, "-c", "from mixclock.cli.profile import app; app()", "write"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
    )
    assert talking.stdin is not None
    talking.stdin.write(lines("Shed base", "epoxy").encode())
    talking.stdin.flush()
    out = read_until(talking, b"Which data sheet?")
    if not out.endswith(b"> "):
        out += read_until(talking, b"> ")
    talking.send_signal(signal.SIGINT)
    rest, _ = talking.communicate(timeout=20)
    assert talking.returncode == 0, out + rest
    assert b"2 answers are kept" in rest
    assert files(home) == {"profiles/drafts/shed-base.json"}


def read_until(process: subprocess.Popen[bytes], wanted: bytes) -> bytes:
    assert process.stdout is not None
    out = b""
    while wanted not in out:
        ready, _, _ = select.select([process.stdout], [], [], 20)
        assert ready, f"nothing more was said after {out!r}"
        out += os.read(process.stdout.fileno(), 4096)
    return out


MINE = """# the tin under the bench, read in March
name = "Boat base"
family = "epoxy"
source = "sheet 4, page 1"

[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]  # weighed

[pot-life]
at = { "20 °C" = "40 min" }

[windows.recoat]
after = "poured"
opens = { "20 °C" = "12 h" }          # the sheet says 12
closes = { "20 °C" = "48 h" }
"""


def test_a_finished_product_is_opened_again_for_one_figure_and_keeps_every_other_line(home: Path) -> None:
    path = home / "profiles" / "mine.toml"
    path.parent.mkdir(parents=True)
    path.write_text(MINE, encoding="utf-8")
    code, out, _ = profile("write", "boat base", typed=lines("recoat latest", "20 °C = 10 h", "20 °C = 36 h", ""))
    assert code == 0
    assert "now: 20 °C = 48 h" in out
    assert "it shuts after 10 h, but opens only after 12 h" in out
    after = path.read_text(encoding="utf-8")
    assert after == MINE.replace('"48 h"', '"36 h"')
    assert files(home) == {"profiles/mine.toml"}


def test_a_product_that_came_with_mixclock_is_mended_in_a_copy_of_ones_own(home: Path) -> None:
    code, out, _ = profile("write", "Slow epoxy base", typed=lines("fully cured", "20 °C = 14 d", ""))
    assert code == 0
    assert "makes a product of your own" in out
    assert files(home) == {"profiles/slow-epoxy-base.toml"}
    shown = json.loads(profile("show", "Slow epoxy base", "--json")[1])
    cured = next(row for row in shown["windows"] if row["name"] == "full-cure")
    assert next(at for at in cured["at"] if at["slab_c"] == 20.0)["likely_s"] == 14 * 86400.0


def test_a_product_that_is_opened_and_left_stays_as_it_was(home: Path) -> None:
    for typed in (("later",), ("recoat", "1", "20 °C = 6 h", "later"), ("wheels", "", "")):
        code, out, _ = profile("write", "Slow epoxy base", typed=lines(*typed))
        assert (code, files(home)) == (0, set())
        assert "Left as it was." in out
