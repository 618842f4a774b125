"""Rewrites a line that names a command, for a phone and for the ear: it tells the finger what to touch instead."""

from __future__ import annotations

import re

_TOUCHES = (
    (r"say `back`", "touch Back, under More,"),
    (r"`(?:mixclock )?now` shows", "the board shows"),
    (r"`withdraw \d+`", "take it back"),
    (r" say `dumped \d+ --[^`]*`", ""),
    (r" \(`[^`]*`\)", ""),
    ("`", ""),
)


def by_finger(line: str) -> str:
    """The line without what is typed.

    >>> by_finger("open no new kit; say `back` when you are back")
    'open no new kit; touch Back, under More, when you are back'
    >>> by_finger("11 more; `mixclock now` shows all"), by_finger("if it was misread, `withdraw 3`")
    ('11 more; the board shows all', 'if it was misread, take it back')
    >>> by_finger("Yes once bay 1 is taped in a straight line (`taped --on 'bay 1'`): then ask again")
    'Yes once bay 1 is taped in a straight line: then ask again'
    """
    for typed, touched in _TOUCHES:
        line = re.sub(typed, touched, line)
    return line
