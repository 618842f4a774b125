"""How long the work of one coat takes, by common practice, and in what pieces it is mixed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from mixclock.job.practice import (
    ETCH_SPREAD_M2_L,
    PAIL_L,
    areas_in_order,
    broadcast_rate_m2_h,
    mixing_time,
    roll_rate_m2_h,
    squeegee_rate_m2_h,
)
from mixclock.job.profile import Profile
from mixclock.job.site import Coat, Forecast, Person, Site
from mixclock.job.steps import BACK_ROLL, BROADCAST, DWELL, INDUCTION, NEUTRALISE, Skill
from mixclock.outside.bookreading import LONG_AGO
from mixclock.values import dataclass

MOST_IN_A_BATCH_SHARE = 0.8
OF_ACID = (DWELL, NEUTRALISE)
USUAL = Forecast(LONG_AGO, air_c=20.0, rh_pct=50.0, slab_c=18.0)


@dataclass(frozen=True)
class BatchPiece:
    """What one batch covers."""

    areas: tuple[str, ...]
    size_m2: float
    litres: float
    rolled_by: tuple[str, ...] = ()
    """The two who roll it side by side, where the plan has a second person help."""


@dataclass(frozen=True)
class CoatWork:
    """One coat as the crew does it: its pieces, and seconds for each step of a square metre."""

    coat: Coat
    pieces: tuple[BatchPiece, ...]
    mixing_s: float
    stand_s: float
    squeegee_s_m2: float
    roll_s_m2: float | None
    flake_s_m2: float | None
    acid_steps: tuple[str, ...] = ()

    @property
    def statements_each(self) -> int:
        """How many statements the crew will make of a batch, for the progress."""
        return 2 + (self.roll_s_m2 is not None) + (self.flake_s_m2 is not None) + len(self.acid_steps)


def person_who(site: Site, skill: str) -> Person | None:
    """The first of the crew who does this; anybody where nobody is named for it."""
    named = [person for person in site.crew if skill in person.does]
    return named[0] if named else (site.crew[0] if site.crew else None)


def rolling_s_m2(site: Site, work: CoatWork, piece: BatchPiece) -> float:
    """How long a square metre is rolled: by one person, or by two whose rates are joined."""
    if len(piece.rolled_by) < 2:
        return work.roll_s_m2 or 0.0
    return 3600.0 / sum(roll_rate_m2_h(site.person(name)) for name in piece.rolled_by)


def work_of(site: Site, coat: Coat, profile: Profile, planned: Sequence[BatchPiece] = ()) -> CoatWork:
    """The work of one coat, in the buckets of the plan where there is one."""
    mixer, roller = person_who(site, "mix"), person_who(site, "roll")
    thrower = person_who(site, Skill.BROADCAST)
    flaked = coat.flake_kg_m2 is not None and profile.window(BROADCAST) is not None
    stand = profile.window(INDUCTION)
    acid = tuple(step for step in OF_ACID if profile.window(step) is not None)
    return CoatWork(
        coat=coat,
        pieces=tuple(planned) or _pieces(site, coat),
        mixing_s=mixing_time(profile).value,
        stand_s=stand.opens.points[0].span_s if stand and stand.opens else 0.0,
        squeegee_s_m2=3600.0 / squeegee_rate_m2_h(mixer),
        roll_s_m2=3600.0 / roll_rate_m2_h(roller) if profile.window(BACK_ROLL) else None,
        flake_s_m2=3600.0 / broadcast_rate_m2_h(thrower) if flaked else None,
        acid_steps=acid,
    )


def conditions_at(site: Site, at: datetime) -> Forecast:
    """What a thermometer shows: the job's forecast between its points, or usual weather without one."""
    known = sorted(site.forecast, key=lambda point: point.at)
    if not known:
        return USUAL
    before = [point for point in known if point.at <= at] or known[:1]
    after = [point for point in known if point.at > at] or known[-1:]
    first, last = before[-1], after[0]
    span_s = (last.at - first.at).total_seconds()
    share = min(1.0, max(0.0, (at - first.at).total_seconds() / span_s)) if span_s > 0 else 0.0
    return Forecast(
        at,
        air_c=_between(first.air_c, last.air_c, share, USUAL.air_c),
        rh_pct=_between(first.rh_pct, last.rh_pct, share, USUAL.rh_pct),
        slab_c=_between(first.slab_c, last.slab_c, share, USUAL.slab_c),
    )


def _between(first: float | None, last: float | None, share: float, usual: float | None) -> float | None:
    if first is None or last is None:
        return first if first is not None else last if last is not None else usual
    return round(first + (last - first) * share, 1)


def _pieces(site: Site, coat: Coat) -> tuple[BatchPiece, ...]:
    """One batch for each area, or as many as its vessel asks for."""
    most_l = min(filter(None, (coat.batch_l, coat.kit_l, _vessel_l(site))))
    pieces = []
    for area in areas_in_order(site):
        if coat.areas and area.name not in coat.areas:
            continue
        litres = (
            area.size_m2 * coat.wet_film_um / 1000.0
            if coat.wet_film_um
            else area.size_m2 / (coat.spread_m2_l or ETCH_SPREAD_M2_L.value)
        )
        count = max(1, math.ceil(litres / most_l - 1e-9))
        pieces += [BatchPiece((area.name,), area.size_m2 / count, round(litres / count, 2))] * count
    return tuple(pieces)


def _vessel_l(site: Site) -> float:
    return MOST_IN_A_BATCH_SHARE * max((vessel.volume_l for vessel in site.vessels), default=PAIL_L.value)
