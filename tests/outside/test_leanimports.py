"""A watch holds little all day, and still nothing is missing where somebody asks for what was left out."""

from __future__ import annotations

import json
import subprocess
import sys
import types
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from mixclock.outside.leanimports import LEAN, StandIn, standing_in

ROOT = Path(__file__).resolve().parents[2]

ASKED_LATER = """
import importlib, json, logging, sys
from mixclock.outside.leanimports import LEAN, import_lean
import_lean()
held = sorted(name for left_out in LEAN.values() for name in left_out if name in sys.modules)
import apscheduler.executors.pool, http, starlette.exceptions, starlette.middleware.errors
told = {
    "held": held,
    "phrase": starlette.exceptions.HTTPException(404).detail,
    "escaped": starlette.middleware.errors.html.escape("<"),
    "started by": apscheduler.executors.pool.multiprocessing.get_context("spawn").get_start_method(),
    "over": http.client.HTTPConnection.__name__,
}
import ssl, http.client, importlib.metadata, html.entities, logging.config, configparser, uvicorn.main
told["safe over"] = http.client.HTTPSConnection.__name__
told["encrypts"] = ssl.create_default_context().verify_mode.name
told["typer"] = importlib.metadata.version("typer")
told["runs"] = uvicorn.main.run.__name__
logging.config.dictConfig({"version": 1})
print(json.dumps(told))
"""

SCHEDULED = """
import threading
from datetime import UTC
from mixclock.outside.leanimports import import_lean
import_lean()
from apscheduler.executors.pool import ThreadPoolExecutor
from apscheduler.schedulers.background import BackgroundScheduler
from mixclock.watch.scheduling import PastlessTrigger
ran = threading.Event()
scheduler = BackgroundScheduler(executors={"default": ThreadPoolExecutor(1)}, timezone=UTC)
scheduler.add_job(ran.set, PastlessTrigger(0.01), id="tick")
scheduler.start()
print(ran.wait(30))
scheduler.shutdown()
"""


def ran(program: str) -> str:
    """What a program prints in a process of its own: modules are shared by all that runs in one."""
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_what_is_left_out_is_there_for_whoever_asks_later() -> None:
    told: Mapping[str, Any] = json.loads(ran(ASKED_LATER))
    assert told["held"] == []
    assert told["phrase"] == "Not Found"
    assert told["escaped"] == "&lt;"
    assert told["started by"] == "spawn"
    assert (told["over"], told["safe over"]) == ("HTTPConnection", "HTTPSConnection")
    assert told["encrypts"] == "CERT_REQUIRED"
    assert told["typer"][0].isdigit()
    assert told["runs"] == "run"


def test_the_scheduler_runs_what_it_is_given_without_its_plug_ins() -> None:
    assert ran(SCHEDULED).split() == ["True"]


def test_a_stand_in_is_no_module_that_was_imported_before_and_leaves_none_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    before = types.ModuleType("mixclock_known")
    monkeypatch.setitem(sys.modules, "mixclock_known", before)
    with standing_in({"mixclock_known": {}, "mixclock_unknown": {"told": 7}, "mixclock_absent": None}):
        assert sys.modules["mixclock_known"] is before
        assert isinstance(sys.modules["mixclock_unknown"], StandIn)
        assert sys.modules["mixclock_unknown"].told == 7
        with pytest.raises(ImportError):
            __import__("mixclock_absent")
    assert not {"mixclock_unknown", "mixclock_absent"} & sys.modules.keys()


def test_only_modules_that_a_library_needs_for_something_else_are_left_out() -> None:
    left_out = {name for each in LEAN.values() for name in each}
    assert left_out == {
        *("ssl", "importlib.metadata", "multiprocessing", "concurrent.futures.process", "uvicorn.main"),
        *("logging.config", "configparser", "http.client", "html"),
    }
