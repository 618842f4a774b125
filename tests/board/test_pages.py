"""The board's page comes in few files, and joining its parts changes nothing of what they say."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any

import mixclock.board
from mixclock.board.pages import load_pages

STATIC = Path(mixclock.board.__file__).parent / "static"
TOP = re.compile(r"^(?:export )?(?:async )?(?:function|const|let|class) (\w+)", re.MULTILINE)


def parts(kind: str) -> dict[str, str]:
    return {each.name: each.read_text(encoding="utf-8") for each in STATIC.glob(f"*.{kind}")}


def names() -> list[str]:
    """What stands at the top of the parts of the board's script."""
    return [name for part, text in parts("js").items() if part != "office.js" for name in TOP.findall(text)]


def test_every_part_is_sent_once_and_none_has_to_be_asked_for() -> None:
    pages = load_pages()
    assert len(parts("js")) > 20
    for whole, kind in (("main.js", "js"), ("page.css", "css")):
        sent = pages[whole][0].decode()
        assert not re.search(r"^(import|@import)\b", sent, re.MULTILINE)
        heads = [text.partition("\n")[0] for part, text in parts(kind).items() if part not in pages]
        assert [head for head in heads if sent.count(head + "\n") != 1] == []


def test_no_name_stands_at_the_top_of_two_parts() -> None:
    told = Counter(names())
    assert len(told) > 150
    assert [name for name, count in told.items() if count > 1] == []


def test_no_part_hides_a_name_that_another_has_from_the_browser(paper: Any) -> None:
    known = paper().evaluate("(names) => names.filter((name) => name in window)", ["document", *names()])
    assert known == ["document"]
