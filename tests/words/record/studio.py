"""A pottery studio told entry by entry, with everything that a record may have to show."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from mixclock.decide.bucketmodel import bucket_model
from mixclock.job.entry import (
    Combined,
    Delivered,
    Did,
    Entry,
    Facts,
    Found,
    Heard,
    JobStarted,
    Measured,
    MixingEnded,
    Noted,
    PhotoTaken,
    Poured,
    ProfileUsed,
    Raised,
    Reading,
    Saw,
    Traffic,
    Withdrawn,
)
from mixclock.job.folding import fold
from mixclock.words.record import Record, SmallCopy
from tests.decide.why.planted_day import profile_text

PRODUCT = "Slow epoxy base"
MORNING = datetime(2026, 4, 13, 8, 0, tzinfo=UTC)
MODEL = bucket_model()
PHOTO_SHA = "a" * 64

SITE = """
name = "Pottery studio <kiln & wheel>"
zone = "Europe/Lisbon"
[[areas]]
name = "bay 1"
size = "9 m2"
order = 1
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "9 m2"
order = 2
next_to = ["bay 3"]
[[areas]]
name = "bay 3"
size = "9 m2"
order = 3
[[areas]]
name = "bay 4"
size = "9 m2"
order = 4
[[crew]]
name = "mixer"
[[crew]]
name = "roller"
roll = "75 m2/h"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "300 um"
flake = "0.4 kg/m2"
"""


class Studio:
    """A log that a test writes line by line, minutes after eight (UTC; nine on the studio's wall)."""

    def __init__(self, site: str = SITE) -> None:
        self.entries: list[Entry] = []
        self.add(-60, JobStarted("Pottery studio", site))
        self.add(-60, ProfileUsed(PRODUCT, profile_text(PRODUCT)))

    def add(
        self, minutes: float, facts: Facts, by: str | None = None, late: float = 0.0, note: str | None = None
    ) -> Entry:
        """One more entry, written `late` minutes after it happened."""
        at = MORNING + timedelta(minutes=minutes)
        entry = Entry(len(self.entries) + 1, "studio", at, at + timedelta(minutes=late), facts, by, note)
        self.entries.append(entry)
        return entry

    def batch(self, number: int, area: str, at: float, by: str = "mixer", **more: float | None) -> None:
        """A batch as it ought to be: mixed, poured after 12 minutes, rolled and flaked in time.

        `poured`, `rolled`, `flaked` and `film_um` change or (None) leave out what is said.
        """
        film_um = more.get("film_um", 300.0) or 300.0
        self.add(at, Combined(PRODUCT, (area,), "base", a_l=1.8, b_l=0.9, material_c=20.0, lot="L-41"), "mixer")
        self.add(at + 3.2, MixingEnded(number), "mixer")
        for name, usual, facts, who in (
            ("poured", 12.0, Poured(number, (area,), covered_m2=2.7 / film_um * 1000.0), by),
            ("rolled", 30.0, Did("back-roll", number, (area,)), "roller"),
            ("flaked", 45.0, Did("broadcast", number, (area,)), "roller"),
        ):
            after = more.get(name, usual)
            if after is not None:
                self.add(at + after, facts, who)

    def air(self, at: float, slab_c: float, area: str | None = None, air_c: float = 20.0, rh_pct: float = 55.0) -> None:
        """A reading of everything."""
        self.add(at, Reading(air_c=air_c, rh_pct=rh_pct), "mixer")
        self.add(at, Reading(slab_c=slab_c, area=area), "mixer")

    def record(self, after_days: float = 10.0, pictures: dict[str, SmallCopy] | None = None) -> Record:
        """The record of it."""
        at = MORNING + timedelta(days=after_days)
        return Record(fold("studio", self.entries), at, MODEL, pictures or {}, "0.1")


def full_studio() -> Studio:
    """Four bays with four batches, alerts, one of them late, a finding, a picture, a withdrawn batch."""
    studio = Studio()
    for at in range(-30, 800, 60):
        studio.air(at, 19.0)
        studio.add(at + 1, Reading(slab_c=18.4, area="bay 3"), "roller")
    studio.add(-40, Measured("pH", 7.2, "", area="bay 1"), "mixer")
    for number, (area, at) in enumerate((("bay 1", 0.0), ("bay 2", 40.0), ("bay 3", 80.0), ("bay 4", 120.0)), start=1):
        studio.batch(number, area, at, by="roller" if number == 4 else "mixer")
    mistaken = studio.add(150.0, Combined(PRODUCT, ("bay 4",), "base", volume_l=2.7), "mixer")
    studio.add(152.0, Withdrawn(mistaken.number), "mixer")
    _alert(studio, "b1.pour-out", 8.0, 8.01, "Batch 1, bay 1: pour it out now.", 1)
    _alert(studio, "b3.broadcast", 130.0, 134.5, "Batch 3, bay 3: flake it now.", 3)
    studio.add(140.0, Noted("door opened =1+1"), "roller")
    studio.add(500.0, Saw("tack free", area="bay 3"), "roller", late=30.0)
    studio.add(4 * 1440.0, Traffic("bay 1", "foot"))
    studio.add(5 * 1440.0, PhotoTaken("dull <corner>.jpg", PHOTO_SHA, area="bay 3"), "roller")
    studio.add(5 * 1440.0, Found("bay 3", "dull", "door"), "roller", note="=cmd|' /C calc'!A0")
    return studio


def _alert(studio: Studio, name: str, due: float, raised: float, text: str, batch: int) -> None:
    due_at = (MORNING + timedelta(minutes=due)).strftime("%Y-%m-%dT%H:%M:%SZ")
    late_s = (raised - due) * 60.0
    area = f"bay {batch}"
    entry = studio.add(raised, Raised(name, "now", "critical", text, due_at, batch, area, late_s=late_s))
    studio.add(raised + 0.01, Delivered(entry.number, "desktop", "sent", shown=True))
    studio.add(raised + 0.02, Delivered(entry.number, "phone", "give up", "no network"))
    studio.add(raised + 0.5, Heard((name,)), "roller")


US_SITE = """
name = "Boat shed"
zone = "America/Chicago"
[[areas]]
name = "bay 1"
size = "120 ft2"
edge = "30 ft"
next_to = ["bay 2"]
[[areas]]
name = "bay 2"
size = "130 ft2"
[[coats]]
name = "base"
product = "Slow epoxy base"
wet_film = "12 mil"
[hours]
days = ["2026-04-13"]
start = "07:30"
end = "17:30"
"""


def us_shed() -> Studio:
    """A boat shed that thinks in gallons, with everything on it that has a unit; one bay drank and is dull."""
    shed = Studio(US_SITE)
    shed.air(-30, 17.0)
    shed.air(60, 17.5)
    shed.add(0, Combined(PRODUCT, ("bay 1",), "base", volume_l=3.785411784, material_c=20.0), "mixer")
    shed.add(5, Poured(1, ("bay 1",), covered_m2=9.290304), "mixer")
    shed.add(6, Measured("wet film", 279.4, "um", area="bay 1"), "mixer")
    shed.add(8, Reading(bucket_c=25.0, batch=1), "mixer")
    shed.add(5 * 1440.0, Found("bay 1", "dull"), "mixer")
    return shed
