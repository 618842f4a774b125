"""Hears an answer as a person does who reads its first lines: which cause is named, and how surely."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tests.witness.ills import ILLS

SHOWN, SUGGESTED, NOT_SHOWN = "shown", "suggested", "not shown"
_VERDICTS = (
    (
        NOT_SHOWN,
        r"does not show|do not show|does not prove|not shown|not enough|cannot tell|no cause|nothing stands out",
    ),
    (SUGGESTED, r"suggests?|suggested|may be|likely|perhaps|points? to|probably|possible"),
    (SHOWN, r"shows?\b|shown\b"),
)
_SAID = re.compile("|".join(f"(?P<v{number}>{words})" for number, (_, words) in enumerate(_VERDICTS)), re.IGNORECASE)
_REST = re.compile(
    r"^(Not |Tests?\b|Test:|To find out|Compared|Next time|And \d+ more|Where does|More:|Ruled out)", re.IGNORECASE
)
_MISSING = re.compile(
    r"^nor\b|not (?:recorded|stated|known|read|measured)|nobody|never|no one|would decide|missing|decides?|unknown"
    r"|unstated|ask ",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Heard:
    """What a person takes from an answer. `named` are the causes with their verdicts, in the order of reading."""

    verdict: str
    named: Sequence[tuple[str, str]]
    first_lines: Sequence[str]

    def causes(self, *verdicts: str) -> list[str]:
        """The causes that were named with one of these verdicts."""
        return [cause for cause, verdict in self.named if verdict in verdicts]

    def names_fact(self, pattern: str) -> bool:
        """Whether one of the first three lines says that this fact is missing."""
        return any(_MISSING.search(line) and re.search(pattern, line, re.IGNORECASE) for line in self.first_lines)


def heard(text: str) -> Heard:
    """Read the first lines of an answer.

    >>> heard("bay 2, soft: the record shows short mixing, then off ratio.\\nShort mixing (weight 90 of 100): x").named
    (('short mixing', 'shown'), ('off ratio', 'shown'))
    >>> heard("bay 2, dull: the record does not show why.\\nNearest, and not enough: old batch, 90 %.").named
    ()
    >>> heard("bay 2, roller marks: the record suggests late back-roll. Not recorded: when it was rolled.").verdict
    'suggested'
    """
    lines = [line for line in text.splitlines() if line.strip()]
    first = lines[0].partition(": ")[2] or lines[0]
    named: dict[str, str] = {}
    verdict = ""
    for number, line in enumerate([first, *lines[1:]]):
        if number and _REST.match(line):
            break
        said = _clauses(line, NOT_SHOWN) if number == 0 else _own_line(line, verdict)
        verdict = verdict or next((each for each, _ in said), NOT_SHOWN)
        for each, cause in said:
            if cause:
                named.setdefault(cause, each)
    return Heard(verdict, tuple(named.items()), (first, *lines[1:3]))


def _own_line(line: str, verdict: str) -> list[tuple[str, str]]:
    """A cause with a line of its own that the sentence did not name: by its own word, else only suggested."""
    said = _clauses(line[:60], "")
    starts = next((ill.name for ill in ILLS.values() if ill.in_words().match(line)), None)
    if starts is None or verdict == NOT_SHOWN:
        return []
    own = next((each for each, _ in said if each), SUGGESTED)
    return [(own, starts)]


def _clauses(line: str, verdict: str) -> list[tuple[str, str]]:
    """Verdicts and causes in the order in which they stand, each cause with the verdict before it."""
    marks: list[tuple[int, int, str, str]] = []
    for found in _SAID.finditer(line):
        number = next(number for number in range(len(_VERDICTS)) if found[f"v{number}"])
        marks.append((found.start(), 0, _VERDICTS[number][0], ""))
    for ill in ILLS.values():
        place = ill.in_words().search(line)
        if place:
            marks.append((place.start(), 1, "", ill.name))
    clauses = []
    for _, _, said, cause in sorted(marks):
        verdict = said or verdict
        clauses.append((verdict, cause))
    return clauses


def agree(said: Heard, answer: Mapping[str, Any]) -> bool:
    """Whether text and JSON give one verdict, and name the same cause first and no others as shown."""
    if said.verdict != answer["verdict"]:
        return False
    told = said.causes(SHOWN, SUGGESTED)
    if said.verdict == NOT_SHOWN:
        return not told
    shown = set(answer.get("shown", said.causes(SHOWN)))
    return bool(told) and told[0] == answer["causes"][0]["name"] and set(said.causes(SHOWN)) <= shown
