"""Are the hours that a crew is told on the safe side? Over synthetic films and slabs that the product knows nothing of.

    python -m tests.decide.edgecoverage [COUNT]      prints a line per window

Limits, set before any result was seen: the truth of a raced end lies before early in at most 10 %; a maker's limit is
opened too soon in at most 10 %, and closed too late in at most 10 %. Beside them stands by how much of the likely time
the told hour lies on the safe side of it, so that safety cannot be bought by hours that nobody believes.
"""

from __future__ import annotations

import statistics
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from mixclock.decide.edges import edge_of
from mixclock.decide.weather import weather
from mixclock.job.entry import Combined, JobStarted, Poured, ProfileUsed, Reading
from mixclock.job.profile import SheetPoint, SheetSpan
from mixclock.job.profilereading import read_profile
from tests.decide.slabtruths import Film, draw_films
from tests.decide.worlds import BASE, SITE, Log

SEED = 20260414
UNSAFE_AT_MOST = 0.10
EPOXY = read_profile(BASE)
MIDNIGHT = datetime(2026, 4, 13, 0, 0, tzinfo=UTC) - timedelta(hours=1)  # the shed's clock runs an hour ahead of UTC


@dataclass(frozen=True)
class Told:
    """One film's window as a crew is told it, beside the truth."""

    film: Film
    told_s: float
    likely_s: float

    @property
    def unsafe(self) -> bool:
        """Whether a crew that went by it came too soon (opening) or too late (closing)."""
        return self.film.true_s > self.told_s if self.film.edge == "opens" else self.film.true_s < self.told_s

    @property
    def reserve(self) -> float:
        """By what share of the likely time the told hour lies on the safe side of it."""
        return abs(self.told_s - self.likely_s) / self.likely_s


def told(film: Film) -> Told:
    """What the product says of a film, knowing its sheet and one reading."""
    poured = MIDNIGHT + timedelta(hours=film.poured_hour)
    log = Log(entries=[])
    log.entries.clear()
    minutes = (poured - datetime(2026, 4, 13, 8, 0, tzinfo=UTC)).total_seconds() / 60.0
    log.add(minutes - 300, JobStarted("Boat shed", SITE))
    log.add(minutes - 300, ProfileUsed("Shed base", BASE))
    how, area = ("contact", "bay 1") if film.contact else (None, None)
    reading = Reading(air_c=film.read_c, rh_pct=50.0, slab_c=film.read_c, how=how, area=area)
    log.add(minutes - film.read_before_s / 60.0, reading)
    log.add(minutes - 5, Combined("Shed base", ("bay 1",), volume_l=2.0))
    log.add(minutes, Poured(1))
    closing = film.edge == "closes"
    span = SheetSpan(tuple(SheetPoint(span_s, temp_c) for temp_c, span_s in film.points))
    conditions = weather(log.standing(), "bay 1")
    found = edge_of(film.window.split()[0], span, EPOXY, conditions, poured, closing=closing).edge
    shown = found.early if closing else found.safe_open
    return Told(film, (shown - poured).total_seconds(), (found.likely - poured).total_seconds())


def unsafe_share(every: Sequence[Told], kind: str, edge: str) -> float:
    """The share of a kind of edge on the unsafe side."""
    own = [one for one in every if (one.film.kind, one.film.edge) == (kind, edge)]
    return sum(one.unsafe for one in own) / len(own)


def main(count: int) -> None:
    """Print the table."""
    began = time.perf_counter()
    every = [told(film) for film in draw_films(count, SEED)]
    print(f"{'':24}{'n':>6}{'unsafe':>9}{'reserve':>9}")
    for window in dict.fromkeys(one.film.window for one in every):
        own = [one for one in every if one.film.window == window]
        unsafe, reserve = sum(one.unsafe for one in own) / len(own), statistics.median(one.reserve for one in own)
        print(f"{window:24}{len(own):6d}{unsafe:9.1%}{reserve:9.0%}")
    for kind, edge, said in (
        ("raced", "closes", "raced ends before early"),
        ("limit", "opens", "limits opened too soon"),
        ("limit", "closes", "limits closed too late"),
    ):
        print(f"{said:30}{unsafe_share(every, kind, edge):9.1%}  (at most {UNSAFE_AT_MOST:.0%})")
    print(f"{time.perf_counter() - began:.1f} s for {count} truths")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
