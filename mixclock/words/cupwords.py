"""A test cup in words: the questions, the answers to its readings, and its time beside the sheet's."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from mixclock.decide.edgewords import share_words
from mixclock.job.cups import PUT_ASIDE_C, Cup
from mixclock.units import CrewUnits, write_span

HOT_LINE = "It is hot: outside, away from anything that burns, spread it thin while it can be held."
SMOKE_LINE = "Outside, away from anything that burns; smoking: don't lift it, get away from it. No water, no lid."
ASKED = "how warm is it now?"
ASKED_END = "Does it draw strings?"


def cup_name(cup: Cup, among: Sequence[Cup] = ()) -> str:
    """What a cup is called: by its lot where several are running.

    >>> from datetime import UTC
    >>> cup = Cup("Shed base", "7A", 0.15, datetime(2026, 4, 12, 18, 0, tzinfo=UTC), 21.0, 20.0)
    >>> cup_name(cup), cup_name(cup, (cup, cup))
    ('Cup', 'Cup of Shed base, lot 7A')
    """
    return named_cup(cup.product, cup.lot, len(among))


def named_cup(product: str, lot: str, running: int) -> str:
    """The name from product and lot; `running` says how many cups run at once."""
    return "Cup" if running < 2 else f"Cup of {product}, lot {lot or 'not named'}"


def cup_question(cup: Cup, among: Sequence[Cup], end_too: bool) -> str:
    """What the voice asks of a running cup."""
    asked = f"{cup_name(cup, among)}: {ASKED}"
    return f"{asked} {ASKED_END}" if end_too else asked


def cup_line(cup: Cup, now: datetime, units: CrewUnits) -> str:
    """A running cup in one line, for a screen."""
    read = f", {units.write_temp(cup.read[-1][1])} when last read" if cup.read else ", not read yet"
    lot = f"lot {cup.lot or 'not named'}"
    return f"Cup of {cup.product}, {lot}, mixed {write_span(max(60.0, (now - cup.began).total_seconds()))} ago{read}"


def read_lines(cup: Cup, temp_c: float, at: datetime, units: CrewUnits) -> list[str]:
    """What is answered to the warmth of a cup."""
    said = f"Cup: {units.write_temp(temp_c)} after {cup.since_s(at) / 60.0:.0f} min."
    return [said, *([HOT_LINE] if temp_c >= PUT_ASIDE_C else [])]


def beside_sheet(cup: Cup, sheet_s: float | None, units: CrewUnits) -> list[str]:
    """The sheet's time beside the cup's, the lot's factor, and what that changes for its buckets."""
    ended = "" if cup.end_s is None else f", {cup.end} after {cup.end_s / 60.0:.0f} min"
    if cup.end_s is None and cup.read:
        ended = f", {units.write_temp(cup.read[-1][1])} after {cup.read[-1][0] / 60.0:.0f} min"
    of = f"{units.write_mass(cup.mass_kg)} at {units.write_temp(cup.material_c)}"
    head = f"{cup.product}, lot {cup.lot or 'not named'}: {of}{ended}"
    if cup.end_s is None or sheet_s is None:
        return [head]
    factor = cup.end_s / sheet_s
    then = (
        "it shortens this lot's buckets"
        if factor < 1.0
        else "a second cup must agree before this lot's buckets get longer"
    )
    return [head, f"  by the sheet such a cup ends after about {sheet_s / 60.0:.0f} min: {share_words(factor)}; {then}"]
