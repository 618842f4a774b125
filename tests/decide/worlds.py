"""Small jobs for the tests: a boat shed with three bays, told as entries of a log."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.decide.shapes import Window
from mixclock.decide.tracks import Track, tracks
from mixclock.decide.windows import seen_at
from mixclock.job.entry import Entry, Facts, JobStarted, ProfileUsed
from mixclock.job.folding import fold
from mixclock.job.progress import Standing

MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)

BASE = """
name = "Shed base"
family = "epoxy"
source = "invented"
[mix]
ratio_by_volume = [2, 1]
density = ["1.13 kg/L", "0.98 kg/L"]
time = "3 min"
[pot-life]
mass = "1.0 kg"
end = "gel"
at = { "10 °C" = "70 min", "20 °C" = "40 min", "30 °C" = "20 min" }
[film]
volume_solids = "100 %"
wet = ["200 um", "400 um"]
[limits]
slab = ["10 °C", "30 °C"]
humidity_max = "85 %"
dew_margin_min = "3 °C"
[windows.back-roll]
after = "poured"
closes = { "20 °C" = "22 min", "30 °C" = "13 min" }
[windows.wet-edge]
after = "poured"
closes = { "20 °C" = "28 min", "30 °C" = "16 min" }
[windows.broadcast]
after = "poured"
closes = { "20 °C" = "40 min", "30 °C" = "22 min" }
[windows.tack-free]
after = "poured"
opens = { "20 °C" = "6 h", "30 °C" = "4 h" }
[windows.recoat]
after = "poured"
opens = { "10 °C" = "24 h", "20 °C" = "12 h", "30 °C" = "8 h" }
closes = { "10 °C" = "72 h", "20 °C" = "48 h", "30 °C" = "24 h" }
[windows.foot-traffic]
after = "poured"
opens = { "20 °C" = "24 h" }
"""

TOP = """
name = "Shed top"
family = "polyaspartic"
source = "invented"
[mix]
ratio_by_volume = [1, 1]
density = ["1.06 kg/L", "1.11 kg/L"]
time = "1 min"
[pot-life]
mass = "1.0 kg"
end = "workable"
at = { "20 °C" = "30 min", "30 °C" = "18 min" }
[windows.back-roll]
after = "poured"
closes = { "20 °C, 50 %" = "20 min", "20 °C, 80 %" = "14 min" }
[windows.foot-traffic]
after = "poured"
opens = { "20 °C" = "6 h" }
"""

SITE = """
name = "Boat shed"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "12 m2"
order = 1
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "12 m2"
order = 2
next_to = ["bay 3"]
[[areas]]
name = "bay 3"
size = "12 m2"
order = 3
[[crew]]
name = "mixer"
does = ["mix", "pour", "squeegee"]
squeegee = "110 m2/h"
[[crew]]
name = "roller"
does = ["cut in", "roll", "broadcast"]
roll = "75 m2/h"
broadcast = "60 m2/h"
[[vessels]]
name = "pail"
volume = "20 L"
across = "28 cm"
[[coats]]
name = "base"
product = "Shed base"
wet_film = "300 um"
flake = "0.4 kg/m2"
[[coats]]
name = "top"
product = "Shed top"
wet_film = "125 um"
after = "base"
[hours]
days = ["2026-04-13", "2026-04-14", "2026-04-15"]
start = "07:30"
end = "17:30"
"""

MODEL = bucket_model()


@dataclass
class Log:
    """A log that a test writes line by line, minutes after eight in the morning."""

    entries: list[Entry] = field(default_factory=list)

    def __post_init__(self) -> None:
        if not self.entries:
            self.add(-60, JobStarted("Boat shed", SITE))
            self.add(-60, ProfileUsed("Shed base", BASE))
            self.add(-60, ProfileUsed("Shed top", TOP))

    def add(self, minutes: float, facts: Facts, by: str | None = None, written: float | None = None) -> Entry:
        """One more entry; `written` is when it was entered, where that was later."""
        entry = Entry(
            len(self.entries) + 1, "shed", instant(minutes), instant(minutes if written is None else written), facts, by
        )
        self.entries.append(entry)
        return entry

    def standing(self, at: float | None = None, known: float | None = None) -> Standing:
        """The job as it stands."""
        asked = None if at is None else instant(at)
        return fold("shed", self.entries, at=asked, known=None if known is None else instant(known))

    def tracks(self, at: float | None = None) -> tuple[Track, ...]:
        """All windows, before anybody asks what time it is."""
        return tracks(self.standing(at), MODEL)

    def window(self, name: str, minutes: float, area: str | None = None, batch: int = 1) -> Window:
        """One window at an instant."""
        found = [
            seen_at(track, instant(minutes))
            for track in self.tracks()
            if track.name == name and track.batch.id == batch and area in (None, track.area)
        ]
        assert len(found) == 1, f"{len(found)} windows '{name}'"
        return found[0]


def instant(minutes: float) -> datetime:
    """So many minutes after eight."""
    return MORNING + timedelta(minutes=minutes)


def minutes_of(at: datetime | None) -> float:
    """Minutes after eight."""
    assert at is not None
    return (at - MORNING).total_seconds() / 60.0
