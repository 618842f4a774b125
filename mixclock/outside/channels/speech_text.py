"""Turns an alert's words into words that a voice says well: it must not spell out "by 10:05, 21 °C"."""

import re

from mixclock.outside.channels.text import one_line

_SAID = (
    ("°C K", "degree", "degrees"),
    ("°F", "degree Fahrenheit", "degrees Fahrenheit"),
    ("m²/h m2/h", "square metre an hour", "square metres an hour"),
    ("m² m2", "square metre", "square metres"),
    ("ft² ft2", "square foot", "square feet"),
    ("µm μm um", "micron", "microns"),
    ("kg", "kilo", "kilos"),
    ("g", "gram", "grams"),
    ("ml mL", "millilitre", "millilitres"),
    ("L l", "litre", "litres"),
    ("gal", "gallon", "gallons"),
    ("mm", "millimetre", "millimetres"),
    ("cm", "centimetre", "centimetres"),
    ("m", "metre", "metres"),
    ("mil", "mil", "mils"),
    ("h", "hour", "hours"),
    ("min", "minute", "minutes"),
    ("s", "second", "seconds"),
    ("%", "percent", "percent"),
)
_UNITS = {sign: (one, many) for signs, one, many in _SAID for sign in signs.split()}
_NUMBER = r"\d+(?:[.,]\d+)?"
_RANGE = re.compile(rf"(?<=\d)\s*[–—]\s*(?={_NUMBER})|(?<=%)\s*[–—]\s*(?=\d)")
_CLOCK = re.compile(r"\b([01]?\d|2[0-3]):([0-5]\d)(?::[0-5]\d)?(?: ([ap]m))?\b(?!\s*%)")
_MEASURED = re.compile(rf"({_NUMBER})\s?({'|'.join(sorted(map(re.escape, _UNITS), key=len, reverse=True))})(?![\w²/])")
_MINUS = re.compile(r"(?<![\w.,])[-−](?=\d)")
_SIGNS = {"&": " and ", "+": " plus ", "=": " is ", "→": " to ", "·": ", ", "…": ". ", "×": " by ", "°": " degrees"}
_PAUSES = re.compile(r"\s*[–—;|]\s*|\s+-\s+")
_UNSPEAKABLE = re.compile(r"[\[\]{}<>*_#~^`\\\"“”]")


def speakable(text: str) -> str:
    """The text as it should be said.

    >>> speakable("Batch 3, bay 2: pour it out by 10:05. Slab 21 °C, 12 m² left.")
    'Batch 3, bay 2: pour it out by 10 oh 5. Slab 21 degrees, 12 square metres left.'
    >>> speakable("Recoat from 14:00; -1.5 °C · 1 h 30 min")
    "Recoat from 14 o'clock, minus 1.5 degrees, 1 hour 30 minutes"
    >>> speakable("Pour it out by 2:05 pm, flake by 3:00 pm.")
    'Pour it out by 2 oh 5 pm, flake by 3 pm.'
    """
    said = _CLOCK.sub(_clock, _UNSPEAKABLE.sub(" ", one_line(text)))
    said = _MINUS.sub("minus ", _RANGE.sub(" to ", said))
    said = _MEASURED.sub(_measured, said)
    for sign, words in _SIGNS.items():
        said = said.replace(sign, words)
    return re.sub(r"\s+([,.:!?])", r"\1", one_line(_PAUSES.sub(", ", said)))


def _clock(found: re.Match[str]) -> str:
    hours, minutes = int(found[1]), int(found[2])
    half = f" {found[3]}" if found[3] else ""
    if minutes == 0 and half:
        return f"{hours}{half}"
    if minutes == 0:
        return "midnight" if hours == 0 else f"{hours} o'clock"
    return f"{hours} oh {minutes}{half}" if minutes < 10 else f"{hours} {minutes}{half}"


def _measured(found: re.Match[str]) -> str:
    one, many = _UNITS[found[2]]
    return f"{found[1]} {one if found[1] == '1' else many}"
