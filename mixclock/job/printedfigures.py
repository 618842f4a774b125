"""Reads figures as data sheets print them: "25–30 min @ 77 °F", "8–12 mils".

Of a printed range the safe end counts: the shorter time for what closes, the longer for what opens.
"""

from __future__ import annotations

import re

_NUMBER = r"\d+(?:[.,]\d+)?"
_RANGE = re.compile(
    rf"^\s*(?P<low>{_NUMBER})\s*(?P<low_unit>[^\d\s.,–—-][^\d–—-]*?)?\s*(?:-|–|—|\bto\b)\s*(?P<high>{_NUMBER})\s*(?P<unit>\D.*)$"
)
_DATED = re.compile(r"^(?P<span>.*?)\s*(?:@|\bat\b)\s*(?P<temp>\S.*)$", re.IGNORECASE)


def both_ends(printed: str) -> tuple[str, str] | None:
    """The two ends of a printed range, each with its unit; None if it is no range.

    >>> both_ends("25–30 min"), both_ends("8 to 12 mils"), both_ends("1 h-90 min"), both_ends("30 min")
    (('25 min', '30 min'), ('8 mils', '12 mils'), ('1 h', '90 min'), None)
    >>> both_ends("2026-04-13") is None, both_ends("1 h 30 min") is None
    (True, True)
    """
    found = _RANGE.match(printed)
    if found is None or found["unit"].lstrip()[:1] in "-–—":
        return None
    unit = found["unit"].strip()
    return f"{found['low']} {(found['low_unit'] or unit).strip()}", f"{found['high']} {unit}"


def dated(printed: str) -> tuple[str, str | None]:
    """A printed span, and the temperature behind it if there is one.

    >>> dated("25–30 min @ 77 °F"), dated("30 min at 20 °C, 50 %"), dated("30 min")
    (('25–30 min', '77 °F'), ('30 min', '20 °C, 50 %'), ('30 min', None))
    """
    found = _DATED.match(printed)
    return (found["span"], found["temp"]) if found and found["span"] else (printed, None)
