"""Windows that have no sure hour, or no date at all: told from the keys of `now --json`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

UNSURE_SPAN = "can't call it to the hour; likely {opens} to {closes}; read the slab"
UNSURE_REVERSED = "can't call it to the hour: it shuts about {closes}, before it opens about {opens}; ask the maker"
"""The words for a window that may shut before it opens: it is never shown reversed, nor as if its hour were sure."""

NO_DATE = "no date"
"""How the reason begins for which no opening date is given."""


def is_unsure(window: Mapping[str, Any]) -> bool:
    """Whether the doubt of a window is wider than itself, so that its edges are called at their likely time.

    >>> edges = {"opens": {"likely": "1"}, "closes": {"likely": "2"}}
    >>> is_unsure({**edges, "sure": False}), is_unsure(edges), is_unsure({"sure": False})
    (True, False, False)
    """
    return window.get("sure") is False and bool(window.get("opens")) and bool(window.get("closes"))


def no_date_of(window: Mapping[str, Any]) -> str:
    """Why a window has no opening date, or nothing.

    >>> no_date_of({"because": ["slab 6 °C", "no date until the slab is over 10 °C"]})
    'no date until the slab is over 10 °C'
    """
    return next((said for said in window.get("because", ()) if said.startswith(NO_DATE)), "")
