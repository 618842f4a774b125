"""`dataclass`, `field` and `replace` of the standard library, for classes that cost next to nothing to define.

A command is typed with a bucket in the other hand. The library writes and compiles six methods for each frozen class,
0.8 ms in a fresh Python, of which one command uses few and most of its hundred classes not at all. Here a class only
notes its fields, which takes 0.02 ms. Its `__init__` is compiled once it is used often; comparing, hashing and printing
need no compiling. `dataclasses.fields`, `asdict` and `is_dataclass` work on it as usual.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:  # a type checker sees the library's own
    from dataclasses import dataclass, field, replace

    __all__ = ["dataclass", "field", "replace"]
else:
    from operator import attrgetter

    _MISSING = object()
    _OFTEN = 12
    """How often a class is filled value by value before its `__init__` is worth compiling."""

    class _FieldShape:
        """One field: its default, or what makes the default, and whether it is compared, hashed and printed."""

        __slots__ = ("compare", "default", "factory", "init", "repr")

        def __init__(self, default, factory, init, repr, compare):  # noqa: A002 - as the library calls it
            self.default, self.factory, self.init, self.repr, self.compare = default, factory, init, repr, compare

    _PLAIN = _FieldShape(_MISSING, _MISSING, True, True, True)
    """A field that has nothing but its type, as most have."""

    class _ClassShape:
        """The fields of a class in order, and how a value of it is filled."""

        __slots__ = ("compared", "defaults", "factories", "fields", "frozen", "kind", "names")

        def __init__(self, kind, fields, frozen, eq):
            self.kind, self.fields, self.frozen = kind, fields, frozen
            self.compared = _getter([name for name, each in fields.items() if each.compare]) if eq else None
            self.names = tuple(name for name, each in fields.items() if each.init)
            self.defaults = {name: each.default for name, each in fields.items() if each.default is not _MISSING}
            self.factories = {name: each.factory for name, each in fields.items() if each.factory is not _MISSING}

    def field(*, default=_MISSING, default_factory=_MISSING, init=True, repr=True, compare=True):  # noqa: A002
        """Describe a field beyond its type, as the library's `field` does."""
        return _FieldShape(default, default_factory, init, repr, compare)

    def dataclass(kind=None, /, *, frozen=False, eq=True):
        """Make the annotations of a class its fields, as the library's `dataclass` does.

        >>> @dataclass(frozen=True)
        ... class Drop:
        ...     where: str
        ...     volume_l: float = 0.1
        >>> Drop("bay 1"), replace(Drop("bay 1"), volume_l=0.2) == Drop("bay 1", 0.2)
        (Drop(where='bay 1', volume_l=0.1), True)
        """
        return (lambda kind: _dressed(kind, frozen, eq)) if kind is None else _dressed(kind, frozen, eq)

    def replace(value, /, **changed):
        """The same value with some fields changed, as the library's `replace` gives it."""
        shape = getattr(type(value), "_shape", None)
        if shape is None:
            from dataclasses import replace as library_replace

            return library_replace(value, **changed)
        return type(value)(**{name: getattr(value, name) for name in shape.names if name not in changed}, **changed)

    def _dressed(kind, frozen, eq):
        shape = _ClassShape(kind, _fields_of(kind), frozen, eq)
        made = {"__init__": _filling(shape), "__repr__": _told, "__match_args__": shape.names}
        if eq:
            made["__eq__"], made["__hash__"] = _is_equal, _hashed if frozen else None
        if frozen:
            made["__setattr__"], made["__delattr__"] = _set_refused, _delete_refused
        for name, method in made.items():
            if kind.__dict__.get(name) is None:
                setattr(kind, name, method)
        kind._shape = shape
        for name, asked_later in _ASKED_LATER.items():
            setattr(kind, name, asked_later)
        return kind

    def _fields_of(kind):
        fields = {}
        for base in reversed(kind.__mro__[1:]):
            if "_shape" in base.__dict__:
                fields.update(base._shape.fields)
        for name, annotated in kind.__annotations__.items():
            if "ClassVar" not in str(annotated):
                fields[name] = _field_of(kind, name)
        return fields

    def _field_of(kind, name):
        stands = getattr(kind, name, _MISSING)
        if not isinstance(stands, _FieldShape):
            stands = _PLAIN if stands is _MISSING else _FieldShape(stands, _MISSING, True, True, True)
        elif stands.default is _MISSING:
            delattr(kind, name)
        else:
            setattr(kind, name, stands.default)
        if stands.default is not _MISSING and type(stands.default).__hash__ is None:
            raise ValueError(f"{kind.__name__}.{name}: a default that can change would be shared by all")
        return stands

    def _getter(names):
        return attrgetter(*names) if names else lambda _: ()

    def _filling(shape):
        """The first `__init__` of a class: fills its values one by one, until the class turns out to be used often."""
        kind, times = shape.kind, 0

        def __init__(self, *values, **named):  # noqa: N807
            nonlocal times
            times += 1
            given = _given(shape, values, named) if times <= _OFTEN else None
            if given is None:  # used often, or called wrongly: the compiled one is fast and names the mistake
                if kind.__dict__["__init__"] is __init__:
                    kind.__init__ = _compiled(shape)
                kind.__init__(self, *values, **named)
                return
            for name, value in given.items():
                object.__setattr__(self, name, value)
            if hasattr(kind, "__post_init__"):
                self.__post_init__()

        return __init__

    def _given(shape, values, named):
        """The value of each field; None where an argument is missing or one too many."""
        names = shape.names
        if (
            len(values) > len(names)
            or not named.keys() <= set(names)
            or not named.keys().isdisjoint(names[: len(values)])
        ):
            return None
        said, given = {**dict(zip(names, values, strict=False)), **named}, {}
        for name in shape.fields:
            if name in said:
                given[name] = said[name]
            elif name in shape.factories:
                given[name] = shape.factories[name]()
            elif name in shape.defaults:
                given[name] = shape.defaults[name]
            elif shape.fields[name].init:
                return None
        return given

    def _compiled(shape):
        scope, taken, lines = {"_set": object.__setattr__, "_new": _MISSING}, [], []
        for name, each in shape.fields.items():
            value = name
            if name in shape.factories:
                scope[f"_new_{name}"] = shape.factories[name]
                value = f"_new_{name}() if {name} is _new else {name}" if each.init else f"_new_{name}()"
            elif name in shape.defaults:
                scope[f"_kept_{name}"] = shape.defaults[name]
            if each.init:
                stands = f"=_kept_{name}" if name in shape.defaults else "=_new" if name in shape.factories else ""
                taken.append(name + stands)
            elif name not in shape.factories:
                continue
            lines.append(f"_set(self, {name!r}, {value})" if shape.frozen else f"self.{name} = {value}")
        if hasattr(shape.kind, "__post_init__"):
            lines.append("self.__post_init__()")
        exec(f"def __init__(self, {', '.join(taken)}):\n " + "\n ".join(lines or ["pass"]), scope)
        scope["__init__"].__qualname__ = f"{shape.kind.__qualname__}.__init__"
        return scope["__init__"]

    # each class uses these same functions: one of its own for each of some hundred classes takes half a megabyte

    def _told(self):
        shown = (name for name, each in self._shape.fields.items() if each.repr)
        return f"{type(self).__qualname__}({', '.join(f'{name}={getattr(self, name)!r}' for name in shown)})"

    def _is_equal(self, other):
        if other.__class__ is not self.__class__:
            return NotImplemented
        compared = self._shape.compared
        return compared(self) == compared(other)

    def _hashed(self):
        return hash(self._shape.compared(self))

    def _set_refused(self, name, value):
        shape = self._shape
        if type(self) is shape.kind or name in shape.fields:
            _refuse("assign to", name)
        object.__setattr__(self, name, value)

    def _delete_refused(self, name):
        shape = self._shape
        if type(self) is shape.kind or name in shape.fields:
            _refuse("delete", name)
        object.__delattr__(self, name)

    def _refuse(what, name):
        from dataclasses import FrozenInstanceError

        raise FrozenInstanceError(f"cannot {what} field {name!r}")

    class _AskedLater:
        """An attribute that the library sets on a class; here it is made when somebody first asks."""

        def __init__(self, name):
            self.name = name

        def __get__(self, value, owner):
            from dataclasses import make_dataclass

            shape = owner._shape
            eq = shape.compared is not None
            told = make_dataclass(
                shape.kind.__name__, _library_fields(shape), init=False, repr=False, eq=eq, frozen=shape.frozen
            )
            noted = getattr(told, self.name)
            setattr(shape.kind, self.name, noted)
            return noted

    _ASKED_LATER = {name: _AskedLater(name) for name in ("__dataclass_fields__", "__dataclass_params__")}

    def _library_fields(shape):
        from dataclasses import MISSING
        from dataclasses import field as library_field

        annotated = {}
        for base in reversed(shape.kind.__mro__):
            annotated |= base.__annotations__ if "_shape" in base.__dict__ else {}
        for name, each in shape.fields.items():
            stands, factory = (MISSING if what is _MISSING else what for what in (each.default, each.factory))
            counts = {"init": each.init, "repr": each.repr, "compare": each.compare}
            yield name, annotated[name], library_field(default=stands, default_factory=factory, **counts)
