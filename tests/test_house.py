"""The house itself: its floors, its types, its style, and that its pages say what is true of it."""

from __future__ import annotations

import ast
import re
import shlex
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Iterator
from fnmatch import fnmatch
from functools import cache
from itertools import chain
from pathlib import Path

import pytest
import yaml

from mixclock.cli import COMMANDS
from tests.housechecks import CHECKS

ROOT = Path(__file__).resolve().parent.parent


@cache
def texts() -> dict[Path, str]:
    """Every module of the product, read once."""
    return {path: path.read_text(encoding="utf-8") for path in sorted((ROOT / "mixclock").rglob("*.py"))}


@cache
def nodes() -> dict[Path, list[ast.AST]]:
    """What stands in each, parsed and walked once."""
    return {path: list(ast.walk(ast.parse(text))) for path, text in texts().items()}


@pytest.fixture(scope="module", autouse=True)
def forgotten() -> Iterator[None]:
    """Every module as a tree is 900,000 objects: left lying, each later search for garbage walks them for a second."""
    yield
    texts.cache_clear()
    nodes.cache_clear()


SAYS = {
    "floors": "each floor imports only from the floors below",
    "style": "the style checker finds nothing",
    "layout": "the code is laid out alike",
    "types": "the types hold",
    "reached": "nothing stands in the house that nobody reaches",
}


LONG = ("types",)
"""The gate asks for the types before any test, and whoever commits is asked for them too."""


@pytest.mark.parametrize(
    "check",
    [
        pytest.param(check, id=SAYS[check].replace(" ", "_"), marks=[pytest.mark.long] if check in LONG else [])
        for check in CHECKS
    ],
)
def test_a_check_of_the_house_finds_nothing(check: str) -> None:
    done = subprocess.run([sys.executable, *CHECKS[check]], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]


def test_who_commits_is_told_the_same_as_by_the_tests() -> None:
    hooks = yaml.safe_load((ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8"))["repos"][0]["hooks"]
    assert {hook["id"]: hook["name"] for hook in hooks} == SAYS
    assert {hook["id"]: tuple(shlex.split(hook["entry"])) for hook in hooks} == {
        check: ("python", *words) for check, words in CHECKS.items()
    }


def test_a_hosted_run_covers_the_systems_and_the_pythons_that_are_promised() -> None:
    text = (ROOT / ".github" / "workflows" / "tests.yml").read_text(encoding="utf-8")
    matrix = yaml.safe_load(text)["jobs"]["tests"]["strategy"]["matrix"]
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    promised = [each.rpartition(" ")[2] for each in project["classifiers"] if "Python :: 3." in each]
    assert matrix["python"] == promised
    assert [system.partition("-")[0] for system in matrix["os"]] == ["ubuntu", "macos", "windows"]
    assert text.startswith("# Not run by us")


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE"])
def test_the_pages_of_the_house_are_there(page: str) -> None:
    assert (ROOT / page).read_text(encoding="utf-8").strip()


def test_no_function_is_longer_than_sixty_lines_and_no_file_beyond_reason() -> None:
    found = []
    for path, text in texts().items():
        if len(text.splitlines()) > 400:
            found.append(f"{path.relative_to(ROOT)}: {len(text.splitlines())} lines")
        for node in nodes()[path]:
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                doc = ast.get_docstring(node, clean=False) or ""
                length = (node.end_lineno or node.lineno) - node.lineno + 1 - len(doc.splitlines())
                if length > 60:
                    found.append(f"{path.relative_to(ROOT)}: {node.name} has {length} lines")
    assert not found, "\n".join(found)


def test_every_folder_of_modules_is_a_package_that_gets_installed() -> None:
    """A folder without `__init__.py` works from a checkout and is left out of what pip installs."""
    folders = {path.parent for path in (ROOT / "mixclock").rglob("*.py")}
    assert sorted(str(folder.relative_to(ROOT)) for folder in folders if not (folder / "__init__.py").exists()) == []


def test_each_class_has_a_name_of_its_own_and_is_called_by_a_noun() -> None:
    from mixclock.job.entry import KINDS

    defined = [(node.name, path) for path, found in nodes().items() for node in found if isinstance(node, ast.ClassDef)]
    assert len(defined) > 300
    count = Counter(name for name, _ in defined)
    assert [name for name, times in count.items() if times > 1] == []
    # what the log holds is called by what happened, as a log is read: poured, noted, withdrawn
    happened = {facts.__name__ for facts in KINDS.values()}
    assert [name for name in count if name not in happened and PARTICIPLE.fullmatch(name.lstrip("_"))] == []


PARTICIPLE = re.compile(
    r"[A-Z][a-z]+ed|(?:[A-Z][a-z]+)?(?:Told|Said|Held|Sent|Found|Seen|Known|Drawn|Taken|Given|Made|Done|Begun|Stood"
    r"|Looked|Checked|Dropped|Used|Written|Read|Kept|Left|Lost|Put|Shut|Set|Due|Slower|Recent)"
)
"""A name that is a participle and nothing else, or ends in one: it says what was done, and not what it is."""


def test_no_list_of_exports_keeps_alive_what_only_tests_call() -> None:
    """vulture takes a name in `__all__` or in an import for its use; here only what is really read counts."""
    read: set[str] = set()
    for node in chain.from_iterable(nodes().values()):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Load):
            read.add(node.id)
        elif isinstance(node, ast.Attribute):
            read.add(node.attr)
    defined = {
        node.name
        for node in chain.from_iterable(nodes().values())
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.decorator_list and node.name[:2] != "__"
    }
    assert len(defined) > 2000
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    spared = project["tool"]["vulture"]["ignore_names"]
    by_name = {listed.module for listed in COMMANDS.values()} | set(COMMANDS) | {"emit"}
    unread = {name for name in defined - read - by_name if not any(fnmatch(name, each) for each in spared)}
    assert unread == set()


def test_who_is_spared_by_name_is_there_and_reached_by_nobody() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    read: set[str] = set()
    made: set[str] = set()
    for node in chain.from_iterable(nodes().values()):
        if isinstance(node, ast.Name | ast.Attribute):
            name = node.id if isinstance(node, ast.Name) else node.attr
            (read if isinstance(node.ctx, ast.Load) else made).add(name)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            made.add(node.name)
    stale = [
        each
        for each in project["tool"]["vulture"]["ignore_names"]
        if not any(fnmatch(name, each) for name in made - read)
    ]
    assert stale == []
