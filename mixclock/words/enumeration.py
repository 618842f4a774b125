"""Several things in one sentence."""

from __future__ import annotations

from collections.abc import Sequence


def sentences(text: str) -> tuple[str, ...]:
    """A text in its sentences.

    >>> sentences("Wear a mask. No flame near.")
    ('Wear a mask.', 'No flame near.')
    """
    return tuple(f"{part.rstrip('.')}." for part in text.split(". ") if part)


def list_words(things: Sequence[str], joint: str = "and") -> str:
    """Things side by side, as somebody says them.

    >>> list_words(["bay 1"]), list_words(["bay 1", "bay 2", "bay 3"]), list_words(["dew", "cold"], "or")
    ('bay 1', 'bay 1, bay 2 and bay 3', 'dew or cold')
    """
    *first, last = things or ("",)
    return f"{', '.join(first)} {joint} {last}" if first else last
