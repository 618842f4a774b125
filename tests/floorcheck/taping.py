"""A joint that is given up: the crew must be told to tape, and where."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any


def is_taped(batch: Mapping[str, Any], plan: Mapping[str, Any]) -> bool:
    """Whether the words of a plan tell the crew to tape the edge of a film that lies already, on an area of its own."""
    told = [line for line in plan["warnings"] if "tape" in line]
    names = {re.escape(piece["area"]) for piece in batch["pieces"]}
    return any(re.search(rf"\b{name}\b", line) for name in names for line in told)
