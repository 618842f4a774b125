"""A formula says its equation, units, range, errors and source, and leaves a cold command cold."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import mixclock.formulas

ROOT = Path(mixclock.formulas.__file__).resolve().parents[2]
PLAIN = ["acid", "air", "coverage", "cure", "history", "hot", "mix", "practicecap", "ranges", "rate_law"]
NAMES = [module.name for module in pkgutil.iter_modules(mixclock.formulas.__path__)]


def documented() -> Iterator[tuple[str, Callable[..., object]]]:
    """Public functions whose docstring has an argument section; short helpers say theirs in a sentence."""
    for name in NAMES:
        module = importlib.import_module(f"mixclock.formulas.{name}")
        for label, function in inspect.getmembers(module, inspect.isfunction):
            here = function.__module__ == module.__name__ and not label.startswith("_")
            if here and "Args:" in (function.__doc__ or ""):
                yield f"{name}.{label}", function


FORMULAS = dict(documented())


def test_every_module_of_formulas_is_looked_at() -> None:
    assert set(PLAIN) < set(NAMES)
    assert len(FORMULAS) > 30


@pytest.mark.parametrize("name", FORMULAS)
def test_no_argument_of_a_formula_goes_unexplained(name: str) -> None:
    doc = inspect.getdoc(FORMULAS[name]) or ""
    arguments = doc.split("Args:")[1].split("Returns:")[0]
    missing = [argument for argument in inspect.signature(FORMULAS[name]).parameters if argument not in arguments]
    assert not missing


@pytest.mark.parametrize("name", [name for name in FORMULAS if name.split(".")[0] in PLAIN])
def test_every_formula_says_what_it_refuses_and_where_it_comes_from(name: str) -> None:
    doc = inspect.getdoc(FORMULAS[name]) or ""
    for part in ("Returns:", "Raises:", "ValueError", ">>>", "Source:"):
        assert part in doc, part


def test_the_plain_formulas_leave_numpy_unloaded() -> None:
    """A command that answers `air` must not pay 60 ms for arrays."""
    words = "import sys; " + "; ".join(f"import mixclock.formulas.{name}" for name in PLAIN)
    asked = f"{words}; print([name for name in ('numpy', 'scipy', 'pint', 'typer') if name in sys.modules])"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True, cwd=ROOT)
    assert told.stdout.strip() == "[]"


@pytest.mark.parametrize("name", NAMES)
def test_a_formula_knows_nothing_of_the_rest_of_the_program(name: str) -> None:
    tree = ast.parse((ROOT / "mixclock" / "formulas" / f"{name}.py").read_text(encoding="utf-8"))
    imported = [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    imported += [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    ours = [module for module in imported if module.startswith("mixclock")]
    ours = [module for module in ours if module != "mixclock.values"]  # `dataclass` as the standard library has it
    assert all(module.startswith("mixclock.formulas") for module in ours), ours
    assert not {"time", "random", "os", "socket", "threading", "pathlib"} & set(imported)
