"""Turns typed answers to the questions of a data sheet into the TOML of a profile file."""

from __future__ import annotations

import json
import re
from enum import StrEnum

_PAIR = re.compile(r"\s+(?:to|until)\s+|\s*(?:…|\.\.+|;)\s*|\s+[-–—]\s+", re.IGNORECASE)
_POINT = re.compile(
    r"^(?P<at>[-−]?[\d.,]+\s*°?\s*[CF]\b\s*(?:[,/]?\s*[\d.,]+\s*%)?)\s*(?:=|:|→|->)?\s*(?P<span>\S.*)$", re.IGNORECASE
)


class Form(StrEnum):
    """How an answer is typed."""

    TEXT = "text"
    NUMBER = "number"
    QUANTITY = "quantity"
    PAIR = "pair"
    RATIO = "ratio"
    SPAN = "span"
    FLAG = "flag"
    LIST = "list"


def toml_text(typed: str) -> str:
    """A TOML string.

    >>> toml_text('8 "mil"')
    '"8 \\\\"mil\\\\""'
    """
    return json.dumps(typed.strip(), ensure_ascii=False).replace("\x7f", "\\u007f")


def answer_as_toml(form: Form, typed: str) -> str:
    """The TOML value of an answer. An answer that makes no sense is passed on, and the reader refuses it.

    >>> answer_as_toml(Form.SPAN, "20 °C = 40 min; 30 °C 20 min")
    '{ "20 °C" = "40 min", "30 °C" = "20 min" }'
    >>> answer_as_toml(Form.SPAN, "30 min"), answer_as_toml(Form.PAIR, "10 °C to 30 °C")
    ('"30 min"', '["10 °C", "30 °C"]')
    """
    if form is Form.SPAN:
        return _span(typed)
    if form is Form.PAIR:
        return f"[{', '.join(toml_text(part) for part in _PAIR.split(typed.strip()))}]"
    if form is Form.LIST:
        return f"[{', '.join(toml_text(part) for part in typed.split(';') if part.strip())}]"
    if form is Form.NUMBER and re.fullmatch(r"\d{1,9}(\.\d{1,9})?", typed.strip()):
        return str(float(typed)) if "." in typed else str(int(typed))
    if form is Form.FLAG:
        return _FLAGS.get(typed.strip().casefold(), toml_text(typed))
    return toml_text(typed)


_FLAGS = {"yes": "true", "y": "true", "true": "true", "no": "false", "n": "false", "false": "false"}


def _span(typed: str) -> str:
    pieces = [piece.strip() for piece in typed.split(";") if piece.strip()]
    points = [_POINT.match(piece) for piece in pieces]
    if not pieces or (len(pieces) == 1 and points[0] is None):
        return toml_text(typed)
    table: dict[str, str] = {}
    for piece, point in zip(pieces, points, strict=True):
        at, span = (point["at"].strip(), point["span"]) if point else (piece, "")
        while at in table:
            at += " "  # TOML would refuse a repeated key in its own words; the reader does it in the words of the sheet
        table[at] = span
    return "{ " + ", ".join(f"{_key(at)} = {toml_text(span)}" for at, span in table.items()) + " }"


def _key(at: str) -> str:
    return json.dumps(at, ensure_ascii=False).replace("\x7f", "\\u007f")
