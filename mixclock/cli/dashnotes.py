"""A note may begin with a dash: a word that is no option of the command belongs to the note."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

NOTING = "noted"


def with_dash_notes(words: Sequence[str], command: Any) -> list[str]:
    """The words of a command line, a note that looks like an option put behind `--`.

    `command` is the group of commands; only `noted` takes free text as its word.
    """
    own = getattr(command, "commands", {}).get(NOTING)
    if not words or words[0] != NOTING or own is None or "--" in words:
        return list(words)
    takes_value = {name: not getattr(each, "is_flag", False) for each in own.params for name in each.opts}
    known = {**takes_value, "-h": False, "--help": False}
    kept, notes, left = [words[0]], [], list(words[1:])
    while left:
        word = left.pop(0)
        name = word.partition("=")[0]
        if not word.startswith("-") or name in known:
            kept.append(word)
            if known.get(word) and left:
                kept.append(left.pop(0))
        else:
            notes.append(word)
    return [*kept, "--", *notes] if notes else kept
