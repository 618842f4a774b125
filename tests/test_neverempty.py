"""A test that may compare nothing is found by reading it: its asserts all stand where they may never be reached.

A test passes this check when an assert, a `pytest.raises`, or a helper that surely asserts is sure to run: not only in
a loop over what may be empty, nor only under an `if`. So a test counts what it compares, or loops over what is written.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

import pytest

TESTS = Path(__file__).resolve().parent
AS_FULL_AS_ITS_PARTS = {"enumerate", "sorted", "reversed", "list", "tuple", "set", "zip", "pairwise"} | {"range"}
STILL_OF_A_FULL_ONE = {"items", "values", "keys", "split", "splitlines"}


class Reading:
    """What is known of a file: which of its names surely hold something, and which functions surely assert."""

    def __init__(self, full: set[str], asserting: set[str]) -> None:
        self.full, self.asserting = full, asserting

    def surely_asserts(self, body: Sequence[ast.stmt]) -> bool:
        """Whether one of these statements is sure to compare something."""
        return any(map(self._asserts, body))

    def _asserts(self, node: ast.stmt) -> bool:  # noqa: PLR0911 - one line for each kind of statement
        match node:
            case ast.Assert():
                return True
            case ast.With(items=items, body=body):
                return any(map(_expects_an_error, items)) or self.surely_asserts(body)
            case ast.If(body=body, orelse=other):
                return self.surely_asserts(body) and self.surely_asserts(other)
            case ast.For(iter=over, body=body):
                return self.is_full(over) and self.surely_asserts(body)
            case ast.Try(body=body, handlers=handlers, orelse=other, finalbody=final):
                caught = all(self.surely_asserts(handler.body) for handler in handlers)
                return self.surely_asserts(final) or (caught and self.surely_asserts([*body, *other]))
            case ast.Expr() | ast.Assign() | ast.Return():
                return any(_called(call) in self.asserting for call in _calls(node))
        return False

    def is_full(self, node: ast.expr) -> bool:  # noqa: PLR0911 - one line for each kind of expression
        """Whether an expression surely has something in it to loop over."""
        match node:
            case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
                return bool(parts)
            case ast.Dict(keys=keys):
                return bool(keys)
            case ast.Constant(value=value):
                return bool(value)
            case ast.Name(id=name):
                return name in self.full
            case ast.BinOp():
                return True  # a number that is worked out: range(n + 1)
            case ast.Subscript(value=inner):
                return self.is_full(inner)
            case ast.ListComp(generators=loops) | ast.GeneratorExp(generators=loops) | ast.DictComp(generators=loops):
                return all(self.is_full(loop.iter) and not loop.ifs for loop in loops)
            case ast.Call(func=ast.Attribute(value=inner, attr=name)) if name in STILL_OF_A_FULL_ONE:
                return self.is_full(inner)
            case ast.Call(args=parts) if _called(node) in AS_FULL_AS_ITS_PARTS:
                return all(map(self.is_full, parts))
        return False

    def within(self, function: ast.FunctionDef) -> Reading:
        """The same inside a function: what it counted, or wrote out, holds something too."""
        inside = Reading(set(self.full), self.asserting)
        for node in ast.walk(function):
            if isinstance(node, ast.Assert):
                inside.full |= {name.id for name in ast.walk(node.test) if isinstance(name, ast.Name)}
            inside.take(node)
        return inside

    def take(self, node: ast.AST) -> None:
        """Remember a name that is given something full."""
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None and self.is_full(node.value):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            self.full |= {target.id for target in targets if isinstance(target, ast.Name)}


def _expects_an_error(item: ast.withitem) -> bool:
    return isinstance(item.context_expr, ast.Call) and _called(item.context_expr) in {"raises", "warns"}


def _called(call: ast.Call) -> str:
    return ast.unparse(call.func).rpartition(".")[2]


def _calls(node: ast.AST) -> Iterator[ast.Call]:
    return (found for found in ast.walk(node) if isinstance(found, ast.Call))


@cache
def _functions(tree: ast.AST) -> tuple[ast.FunctionDef, ...]:
    return tuple(node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


@pytest.fixture(scope="module", autouse=True)
def forgotten() -> Iterator[None]:
    """Every test as a tree is 800,000 objects: left lying, each later search for garbage walks them for a second."""
    yield
    _functions.cache_clear()
    _compares_by.cache_clear()


COMPARES = "assert"


@cache
def _compares_by(function: ast.FunctionDef) -> frozenset[str]:
    """What a function calls, and whether it asserts or expects an error anywhere: without either it never compares."""
    inside = list(ast.walk(function))
    itself = {COMPARES for node in inside if isinstance(node, ast.Assert | ast.With)}
    return frozenset(itself | {_called(node) for node in inside if isinstance(node, ast.Call)})


def _of_file(tree: ast.Module, asserting: set[str]) -> Reading:
    reading = Reading(set(), asserting)
    for node in tree.body:
        reading.take(node)
        if isinstance(node, ast.ImportFrom):  # a table that another module writes out
            reading.full |= {alias.name for alias in node.names if alias.name.isupper()}
    return reading


def asserting_helpers(trees: Sequence[ast.Module]) -> set[str]:
    """The functions of the tests that surely assert, also by way of others."""
    found: set[str] = set()
    for _ in range(3):
        for tree in trees:
            reading = _of_file(tree, found)
            helpers = (one for one in _functions(tree) if not one.name.startswith("test_") and one.name not in found)
            may = (one for one in helpers if _compares_by(one) & {COMPARES, *found})
            found |= {one.name for one in may if reading.within(one).surely_asserts(one.body)}
    return found


def may_be_empty(tree: ast.Module, asserting: set[str]) -> list[str]:
    """The tests of a file that may compare nothing."""
    reading = _of_file(tree, asserting)
    tests = [one for one in _functions(tree) if one.name.startswith("test_")]
    return [one.name for one in tests if not reading.within(one).surely_asserts(one.body)]


def test_every_test_is_sure_to_compare_something() -> None:
    trees = {path: ast.parse(path.read_text(encoding="utf-8")) for path in sorted(TESTS.rglob("*.py"))}
    assert len(trees) > 150
    asserting = asserting_helpers(list(trees.values()))
    found = [
        f"{path.relative_to(TESTS)}: {name}"
        for path, tree in trees.items()
        if path.name.startswith("test_")
        for name in may_be_empty(tree, asserting)
    ]
    assert not found, "these tests may compare nothing:\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("body", "empty"),
    [
        ("for one in found():\n  assert one", True),
        ("if found():\n  assert True", True),
        ("for one in [x for x in (1, 2) if x > 2]:\n  assert one", True),
        ("try:\n  found()\nexcept ValueError:\n  assert True", True),
        ("found()", True),
        ("many = found()\nassert len(many) > 3\nfor one in many:\n  assert one", False),
        ("for one in (1, 2):\n  assert one", False),
        ("with pytest.raises(ValueError):\n  found()", False),
        ("for at in range(4):\n  assert at < 4", False),
    ],
)
def test_the_check_tells_a_test_that_may_compare_nothing_from_one_that_counts(body: str, empty: bool) -> None:
    text = "def test_x():\n" + "\n".join(f"  {line}" for line in body.splitlines())
    assert may_be_empty(ast.parse(text), set()) == (["test_x"] if empty else [])
