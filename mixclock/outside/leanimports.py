"""Imports the libraries of the watch without what they import, at their top, for uses that the watch makes none of.

A watch stands in memory all day. APScheduler looks for plug-ins in every installed package, and brings what reads zip
files and mail for that. uvicorn brings a command line, and both bring what starts processes and encrypts. Beside an
idle floor that is a tenth of all memory. While such a library is imported, a stand-in takes the place of each module
that it will not use here. A stand-in that is asked for anything after all imports the true module and passes on what
that has, so nothing can be missing; and whoever imports the module later gets the true one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from types import MappingProxyType, ModuleType
from typing import Any

Told = Mapping[str, Any] | None
"""What a stand-in tells by itself, because a library asks it at once; None where the module is to seem not there."""

_NOTHING: Mapping[str, Any] = MappingProxyType({})


class _NoPluginsError(Exception):
    """Stands for an error that nobody raises."""


OF_ASYNCIO: Mapping[str, Told] = MappingProxyType({"ssl": None})  # asyncio can do without

OF_APSCHEDULER: Mapping[str, Told] = MappingProxyType(
    {
        "importlib.metadata": {
            "version": lambda _: "3",
            "entry_points": lambda **_: (),
            "PackageNotFoundError": _NoPluginsError,
        },
        "multiprocessing": _NOTHING,
        "concurrent.futures.process": {"BrokenProcessPool": _NoPluginsError},
    }
)

OF_BOARD: Mapping[str, Told] = MappingProxyType(
    {
        "ssl": {"PROTOCOL_TLS_SERVER": 17, "CERT_NONE": 0},
        "uvicorn.main": {"Server": None, "main": None, "run": None},
        "logging.config": _NOTHING,
        "configparser": {"RawConfigParser": dict},
        "http.client": _NOTHING,
        "html": _NOTHING,
    }
)

LEAN: Mapping[tuple[str, ...], Mapping[str, Told]] = MappingProxyType(
    {
        ("asyncio",): OF_ASYNCIO,
        ("apscheduler.schedulers.background", "apscheduler.executors.pool"): OF_APSCHEDULER,
        ("uvicorn.server", "uvicorn.protocols.http.h11_impl", "starlette.applications"): OF_BOARD,
    }
)


class StandIn(ModuleType):
    """Stands for a module until it is asked for something that it was not told."""

    def __init__(self, name: str, told: Mapping[str, Any]) -> None:
        super().__init__(name)
        self.__dict__.update(told)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # the import system looks whether this is a package
            raise AttributeError(name)
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]
        return getattr(import_module(self.__name__), name)


def import_lean() -> None:
    """Import what the watch needs, before anybody else does. What was imported before stays as it is."""
    for names, left_out in LEAN.items():
        with standing_in(left_out):
            for name in names:
                import_module(name)


@contextmanager
def standing_in(left_out: Mapping[str, Told]) -> Iterator[None]:
    """Inside this block stand-ins take the place of modules that nobody has imported so far."""
    put = {name: None if told is None else StandIn(name, told) for name, told in left_out.items()
           if name not in sys.modules}  # fmt: skip
    sys.modules.update(put)  # type: ignore[arg-type]  # None: it seems not there
    try:
        yield
    finally:
        for name, stand_in in put.items():
            if name in sys.modules and sys.modules[name] is stand_in:
                del sys.modules[name]
            parent, _, own = name.rpartition(".")
            if stand_in is not None and parent in sys.modules and not hasattr(sys.modules[parent], own):
                setattr(sys.modules[parent], own, stand_in)
