"""Names of alerts: short enough to type, the same at every stage."""

from __future__ import annotations

import re
from zlib import crc32

from mixclock.decide.tracks import Track


def alert_id(track: Track) -> str:
    """The name of a window's alert: "b3.pour-out", "b3.bay-2.broadcast", "b3.part-2.bay-2.broadcast"."""
    parts = [f"b{track.batch.id}"]
    if track.portion > 1:
        parts.append(f"part-{track.portion}")
    if track.area is not None:
        parts.append(slug(track.area))
    return ".".join((*parts, track.name))


def area_alert_id(area: str, coat: str | None, step: str) -> str:
    """The name of an alert that belongs to an area's coat: "bay-1.base.recoat"."""
    return ".".join(part for part in (slug(area), slug(coat) if coat else "", step) if part)


def slug(name: str) -> str:
    """A name without spaces or signs. If it loses more than spaces and case, a short mark keeps it apart from others.

    >>> slug("Bay 1"), slug("Bay 1 (door)"), slug("Bay 1 [door]")
    ('bay-1', 'bay-1-door-8508', 'bay-1-door-4f42')
    """
    plain = name.casefold()
    words = re.sub(r"[^\w]+", "-", plain).strip("-")
    return words if words == plain.replace(" ", "-") and words else f"{words}-{crc32(plain.encode()) % 65536:04x}"


def mixing_id(batch: object) -> str:
    """The name of the alert that leads a batch's mixing."""
    return f"b{batch}.mixing"
