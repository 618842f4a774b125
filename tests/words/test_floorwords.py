"""The words of the floor: what a crew reads and hears says it as a crew does.

It walks all that is served: the texts in the program, the commands' own help, the page, and the documents.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from tests.test_house import ROOT

NEVER = {
    "feet": r"\bfeet (?:are |is )?allowed\b",
    "what a window has used": r"\bripeness\b|\bhow ripe\b",
    "a pail or a bucket": r"\bvessels?\b",
    "what the record shows or points to": r"\bconvict\w*|\bsuspected\b|\b(?:likely|probable) cause\b|\bculprit\b",
    "doesn't say": r"\b(?:does|do) not say\b",
    "poured; a dumped bucket is out too": r"\bbucket(?: that)? is out\b|\bmust be out\b|\bout on the floor\b",
    "minutes left": r"\b(?:min|mins|m) left\b",
    "no more flake": r"\bstop throwing\b",
}
"""What nobody says on a floor, by what is said instead."""

AS_TYPED = re.compile(r"`[^`]*`|\[\[vessels\]\]|--vessel\b|\bvessels\.\w+|<code>.*?</code>|```.*?```", re.DOTALL)
"""What is typed or stands in a file keeps its name."""


def served() -> Iterator[tuple[str, str]]:
    """Every text for people with where it stands."""
    for file in sorted((ROOT / "mixclock").rglob("*.py")):
        yield from _of_python(file)
    for file in sorted((ROOT / "mixclock" / "board" / "static").glob("*")):
        if file.suffix in (".js", ".html"):
            code = re.sub(r"^\s*(?://|\*|/\*).*$", "", file.read_text(encoding="utf-8"), flags=re.MULTILINE)
            for said in re.findall(r'"[^"\n]+"|`[^`]+`|>[^<>]+<', code):
                yield file.name, said.strip('"`<>')
    for name in ("README.md", "CHANGELOG.md"):
        yield name, AS_TYPED.sub(" ", (ROOT / name).read_text(encoding="utf-8"))


def _of_python(file: Path) -> Iterator[tuple[str, str]]:
    """The texts of a module: sentences, not keys; a docstring only where it is a command's help."""
    tree = ast.parse(file.read_text(encoding="utf-8"))
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    own = [node for node in ast.walk(tree) if isinstance(node, documented)]
    inner = {id(node.body[0].value) for node in own if node.body and isinstance(node.body[0], ast.Expr)}
    loose = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in own:
        if _is_help(file, node) and (told := ast.get_docstring(node)):
            yield f"{file.name}: {getattr(node, 'name', '')}", AS_TYPED.sub(" ", told)
    for node in ast.walk(tree):
        said = node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""
        if " " in said.strip() and id(node) not in inner | loose:
            yield f"{file.name}:{getattr(node, 'lineno', 0)}", AS_TYPED.sub(" ", said)


def _is_help(file: Path, node: ast.AST) -> bool:
    """Whether a docstring is shown as a command's help."""
    if isinstance(node, ast.ClassDef):
        return "statements" in file.parts
    return isinstance(node, ast.FunctionDef) and "cli" in file.parts and not node.name.startswith("_")


@cache
def all_served() -> tuple[tuple[str, str], ...]:
    """The same, walked once: no run that only looks which tests there are walks it."""
    return tuple(served())


def test_the_walk_meets_what_is_known_to_be_served() -> None:
    texts = [said for _, said in all_served()]
    assert len(texts) > 3000
    for known in ("Pour it out now", "May the next kit be opened?", "Who holds this phone?", "OK to walk on",
                  "Leave what grabs"):  # fmt: skip
        assert any(known in said for said in texts), known


@pytest.mark.parametrize("instead", NEVER)
def test_nothing_that_is_served_says_what_nobody_says_on_a_floor(instead: str) -> None:
    pattern = re.compile(NEVER[instead], re.IGNORECASE)
    assert [f"{where}: {said[:120]}" for where, said in all_served() if pattern.search(said)] == []


def test_the_words_that_were_asked_for_are_there() -> None:
    whole = "\n".join(said for _, said in all_served())
    for words in (" minutes left", "can't call it to the hour", "chances in 10", "first to go", "No more flake",
                  "Leave what grabs", "OK to walk on", "OK to park", "Poured", "the record points to",
                  "doesn't say"):  # fmt: skip
        assert words.strip() in whole or words.replace("chances", "chance") in whole, words
