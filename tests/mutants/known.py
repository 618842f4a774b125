"""The mutants that are known to live, each with its reason: `known.toml` beside this file."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

FILE = Path(__file__).with_name("known.toml")
Place = tuple[str, str, str, str]
"""Core module by its name here, function, what stood there, what stands there."""


@dataclass(frozen=True)
class Known:
    """`equivalent`: nobody could tell; `S1`: a crew gets more time, no call, a false record; `S2`: the rest."""

    kind: str
    reason: str


def known() -> Mapping[Place, Known]:
    """All of them."""
    rows = tomllib.loads(FILE.read_text(encoding="utf-8")).get("mutant", [])
    return {
        (row["core"], row["function"], row["was"], row["becomes"]): Known(row["kind"], row["reason"]) for row in rows
    }
