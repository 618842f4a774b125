"""The checks of the house, each once: the tests run them, and a pre-commit hook of the same name runs the same."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

CHECKS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "floors": ("-c", "from importlinter.cli import lint_imports_command; lint_imports_command()"),
        "style": ("-m", "ruff", "check", "--no-cache", "."),
        "layout": ("-m", "ruff", "format", "--check", "--no-cache", "."),
        "types": ("-m", "mypy", "--no-incremental"),
        "reached": ("-m", "vulture"),
    }
)
"""Each check by its name, as the words after `python`."""
