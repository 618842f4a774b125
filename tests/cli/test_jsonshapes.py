"""Other programs may rely on the answers in JSON: each key is written down, and what was written down is there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from mixclock.cli.bytyper import all_commands
from mixclock.cli.manual import manual_pages
from tests.cli.jsonshapes import gathered, kept
from tests.running import Ran

Run = Callable[..., Ran]
AGAIN = "`python -m tests.cli.jsonshapes` writes them down anew, and raises the version where something went"


def test_every_key_of_every_answer_is_written_down_and_the_other_way_round(run: Run, tmp_path: Path) -> None:
    found, written = gathered(tmp_path, run), kept()["shapes"]
    assert len(found) > 50
    assert found.keys() == written.keys(), AGAIN
    for path, shape in found.items():
        assert shape.keys() == written[path].keys(), f"mixclock {path}: {AGAIN}"
        for place, kinds in shape.items():
            known = set(written[path][place].split(" or "))
            assert set(kinds.split(" or ")) <= known, f"mixclock {path}, {place} is {kinds}: {AGAIN}"


def test_every_command_that_answers_in_json_is_asked() -> None:
    assert all_commands()
    answering = {page.name for page in manual_pages() if any(name.startswith("--json") for name, _ in page.options)}
    assert len(answering) > 50
    assert answering <= kept()["shapes"].keys()


def test_the_manual_shows_them(run: Run) -> None:
    shown = run("manual", "json")
    assert shown.out.startswith("Version ")
    assert "\n  batches[].windows[].closes.late: instant" in shown.out
