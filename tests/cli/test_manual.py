"""The manual: a page for each command, and one that `man` can set."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from mixclock.cli.manual import as_man, as_markdown, manual_pages
from tests.realparts.parts import missing
from tests.running import Ran

Run = Callable[..., Ran]


def test_every_command_has_a_page_that_says_all_its_words(run: Run, tmp_path: Path) -> None:
    ran = run("manual", "--to", str(tmp_path / "pages"))
    assert ran.code == 0, ran.err
    pages = manual_pages()
    assert len(pages) > 40
    for page in pages:
        text = (tmp_path / "pages" / f"{page.name.replace(' ', '-')}.md").read_text()
        assert text == as_markdown(page) + "\n"
        assert page.says, page.name
        for name, says in (*page.arguments, *page.options):
            assert f"`{name}`" in text
            assert says, f"mixclock {page.name}: nothing is said of {name}"


def test_one_page_is_shown_and_a_wrong_name_is_one_line(run: Run) -> None:
    shown = run("manual", "job", "start")
    assert shown.out.startswith("# mixclock job start\n")
    assert "[--json]" in shown.out or "--json" in shown.out
    wrong = run("manual", "plam")
    assert wrong.code == 2
    assert "did you mean 'plan'?" in wrong.err


def test_man_sets_the_page_without_a_warning() -> None:
    if absent := missing("groff"):
        pytest.skip(absent)
    groff = shutil.which("groff")
    assert groff is not None
    text = as_man(manual_pages(), "0.1.0")
    done = subprocess.run(
        [groff, "-man", "-Tutf8", "-ww", "-Wbreak", "-k"], input=text.encode(), capture_output=True, check=True
    )
    assert done.stderr == b""
    set_page = re.sub(".\x08", "", done.stdout.decode())  # a terminal's bold is a letter printed twice
    assert "COMMANDS" in set_page
    assert "mixclock watch" in set_page
