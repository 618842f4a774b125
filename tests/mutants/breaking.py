"""Small faults put into a module on purpose: a comparison turned, a number moved, a line left out.

A mutant is one such fault. Texts, annotations and what is raised as a message are left alone: nobody works by them.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Callable, Iterator
from dataclasses import dataclass

TURNED: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
RECKONED: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.Pow: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
}
EXCHANGED = {"min": "max", "max": "min", "any": "all", "all": "any"}
EDGES = {"early": "late", "late": "early", "likely": "early"}
EDGES |= {f"{name}_s": f"{other}_s" for name, other in EDGES.items()}

Change = Callable[[ast.AST], None]


@dataclass(frozen=True)
class Mutant:
    """One fault: in which function and line, what stood there and what stands there now."""

    function: str
    line: int
    was: str
    becomes: str
    node: int
    change: int
    last_line: int
    """Of the statement, or of a compound one's head."""
    in_function: bool
    """Whether it runs when a function runs, and not when the module is imported; and its code fits that function."""
    path: str = ""
    """Of its module, from the root of the project; empty for a text that lies nowhere."""

    @property
    def lines(self) -> range:
        """What has to run for it to be noticed."""
        return range(self.line, self.last_line + 1)

    @property
    def place(self) -> tuple[str, str, str]:
        """What tells it from every other of its module, also when lines move."""
        return self.function, self.was, self.becomes

    def put_into(self, source: str) -> ast.Module:
        """The whole module with the fault in it."""
        tree = ast.parse(source)
        nodes = list(ast.walk(tree))
        parents = _parents(nodes)
        node = nodes[self.node]
        list(changes_of(node, parents.get(node)))[self.change](node)
        return ast.fix_missing_locations(tree)


def mutants_of(source: str, path: str = "") -> list[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    tree = ast.parse(source)
    nodes = list(ast.walk(tree))
    parents, left_alone, found = _parents(nodes), _left_alone(tree), []
    for index, node in enumerate(nodes):
        if node not in left_alone:
            for number, change in enumerate(changes_of(node, parents.get(node))):
                statement = _statement_of(node, parents)
                was, becomes = _told(statement), _told(_changed(statement, node, change))
                where = _function_of(node, parents), statement.lineno
                inside = _is_in_function(statement, parents) and not _is_of_super(statement)
                found.append(Mutant(*where, was, becomes, index, number, _last_line(statement), inside, path))
    return sorted((one for one in found if one.was != one.becomes), key=lambda one: one.line)


def changes_of(node: ast.AST, parent: ast.AST | None) -> Iterator[Change]:
    """The faults that can be put in at a node."""
    match node:
        case ast.Compare(ops=ops):
            turns = ((place, turned()) for place, op in enumerate(ops) for turned in TURNED[type(op)])
            yield from (_set("ops", [*ops[:place], turned, *ops[place + 1 :]]) for place, turned in turns)
        case ast.BinOp(op=op) if type(op) in RECKONED and not _is_text(node):
            yield _set("op", RECKONED[type(op)]())
        case ast.BoolOp(op=op):
            yield _set("op", ast.Or() if isinstance(op, ast.And) else ast.And())
        case ast.Constant(value=bool(value)):
            yield _set("value", not value)
        case ast.Constant(value=int(value) | float(value)):
            yield _set("value", _moved(value))
        case ast.Name(id=name) if name in EXCHANGED and isinstance(parent, ast.Call) and parent.func is node:
            yield _set("id", EXCHANGED[name])
        case ast.Attribute(attr=name, ctx=ast.Load()) if name in EDGES:
            yield _set("attr", EDGES[name])
        case ast.IfExp() | ast.If(test=ast.Name() | ast.Call() | ast.Attribute() | ast.UnaryOp()):
            yield _denied
        case ast.Expr(value=ast.Call()) | ast.AugAssign() | ast.Continue() if isinstance(parent, ast.stmt):
            yield _left_out


def _set(name: str, value: object) -> Change:
    return lambda one: setattr(one, name, value)


def _denied(one: ast.AST) -> None:
    assert isinstance(one, ast.If | ast.IfExp)
    one.test = ast.copy_location(ast.UnaryOp(ast.Not(), one.test), one.test)


def _left_out(one: ast.AST) -> None:
    one.__class__ = ast.Pass
    one._fields = ()  # type: ignore[misc]


def _moved(number: float) -> float:
    return number + 1 if isinstance(number, int) else number * 1.25 if number else 1.0


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(one, ast.JoinedStr) or _is_str(one) for one in ast.walk(node))


def _is_str(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def _left_alone(tree: ast.Module) -> set[ast.AST]:
    """Annotations, texts, decorators, what is raised, what only a type checker reads."""
    roots: list[ast.AST | None] = []
    for node in ast.walk(tree):
        match node:
            case ast.AnnAssign():
                roots.append(node.annotation)
            case ast.arg():
                roots.append(node.annotation)
            case ast.FunctionDef():
                roots += [node.returns, *node.decorator_list]
            case ast.ClassDef():
                roots += node.decorator_list
            case ast.Raise() | ast.JoinedStr() | ast.Import() | ast.ImportFrom():
                roots.append(node)
            case ast.If(test=ast.Name(id="TYPE_CHECKING")) | ast.keyword(arg="strict"):
                roots.append(node)  # `strict` of a zip is a guard that only a bug could meet
    return {inner for root in roots if root is not None for inner in ast.walk(root)}


def _parents(nodes: list[ast.AST]) -> dict[ast.AST, ast.AST]:
    return {child: node for node in nodes for child in ast.iter_child_nodes(node)}


def _statement_of(node: ast.AST, parents: dict[ast.AST, ast.AST]) -> ast.stmt:
    while not isinstance(node, ast.stmt):
        node = parents[node]
    return node


def _is_in_function(statement: ast.stmt, parents: dict[ast.AST, ast.AST]) -> bool:
    above: ast.AST = statement
    while above in parents:
        above = parents[above]
        if isinstance(above, ast.FunctionDef):
            return True
    return False


def _is_of_super(statement: ast.stmt) -> bool:
    """Without it its function may close over nothing any more, and a living function takes no such code."""
    return any(isinstance(node, ast.Name) and node.id == "super" for node in ast.walk(statement))


def _last_line(statement: ast.stmt) -> int:
    body: list[ast.stmt] = getattr(statement, "body", [])
    return max(statement.lineno, body[0].lineno - 1) if body else statement.end_lineno or statement.lineno


def _changed(statement: ast.stmt, node: ast.AST, change: Change) -> ast.stmt:
    twin = copy.deepcopy(statement)
    place = next(at for at, one in enumerate(ast.walk(statement)) if one is node)
    change(list(ast.walk(twin))[place])
    return twin


def _told(statement: ast.AST) -> str:
    """The statement's own words; of a long one, such as a loop, only its head."""
    text = ast.unparse(statement)
    compound = isinstance(statement, ast.If | ast.For | ast.While | ast.With | ast.FunctionDef | ast.ClassDef | ast.Try)
    return text.partition("\n")[0] if compound else " ".join(text.split())


def _function_of(node: ast.AST, parents: dict[ast.AST, ast.AST]) -> str:
    names = []
    while node in parents:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.append(node.name)
        node = parents[node]
    return ".".join(reversed(names)) or "the module itself"
