"""The house itself: its floors, its types, its style, and that its pages say what is true of it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent


def _checked(*words: str) -> None:
    done = subprocess.run([sys.executable, *words], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-4000:] + done.stderr[-4000:]


def test_each_floor_imports_only_from_the_floors_below() -> None:
    _checked("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()")


def test_the_style_checker_finds_nothing() -> None:
    _checked("-m", "ruff", "check", "--no-cache", ".")


def test_the_code_is_laid_out_alike() -> None:
    _checked("-m", "ruff", "format", "--check", "--no-cache", ".")


def test_the_types_hold() -> None:
    _checked("-m", "mypy", "--no-incremental")


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE"])
def test_the_pages_of_the_house_are_there(page: str) -> None:
    assert (ROOT / page).read_text(encoding="utf-8").strip()


def test_no_function_is_longer_than_sixty_lines_and_no_file_beyond_reason() -> None:
    import ast

    found = []
    for path in sorted((ROOT / "mixclock").rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        if len(text.splitlines()) > 400:
            found.append(f"{path.relative_to(ROOT)}: {len(text.splitlines())} lines")
        for node in ast.walk(ast.parse(text)):
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
