"""An etch as the plan sees it: the acid goes on, the neutraliser follows it over the floor, then all is rinsed off.

Whoever neutralises begins where the acid was begun. So a strip of floor has had its acid for as long as lies between
the starts of the two steps, or between their ends, and neither may be longer than the solution may lie. One person has
to lay all of a piece before any of it is neutralised: that bounds a piece. Two follow each other over any floor.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from mixclock.decide.plan.floor.crew import READY_S, times_of
from mixclock.decide.plan.floor.plans import FloorPiece
from mixclock.decide.plan.floor.quantities import amounts, largest_vessel, room_l, water_to_product
from mixclock.decide.plan.floor.setting import CoatSetting, Spec
from mixclock.decide.plan.floor.timing import NEVER_S, Bucketful
from mixclock.formulas.acid import bicarbonate_kg, diluted_acid_wt_pct
from mixclock.job.profile import Family, Profile
from mixclock.job.site import Area, Coat, Site
from mixclock.job.steps import DWELL, NEUTRALISE, RINSE
from mixclock.values import dataclass

if TYPE_CHECKING:
    from mixclock.job.progress import Standing

ACID_WT_PCT = 31.45
ACID_SAID = "the acid is taken to be muriatic acid of 31 % (from memory)"
HOURS_LOOKED_AT = (0, 3, 6, 9)
RINSED_OFF = "rinsed off"
"""The rinse as the neutraliser's own sheet bounds it."""

OWN_WINDOWS: Mapping[str, tuple[str, ...]] = {RINSE: (DWELL, RINSE), "dry": ("dry",)}
"""What a neutraliser's own sheet says of the steps after it."""

AFTER: Mapping[str, str] = {RINSE: NEUTRALISE, "dry": RINSE}
"""The step from which each of these windows counts, if only the neutraliser's sheet states it."""

SMALLEST_M2 = 0.5
"""If not even so small a piece can be neutralised in time, smaller pieces do not help (judgement)."""


@dataclass(frozen=True)
class DilutedBucket:
    """A product that goes on in water: the water first, the product into it. Soda neutralises all of the acid, for a
    spill; the floor, rinsed up first, needs less."""

    product_l: float
    water_l: float
    water_to_product: float
    acid_pct: float | None = None
    soda_kg: float | None = None


def dilution_of(profile: Profile, volume_l: float) -> DilutedBucket | None:
    """What so much of the solution holds. None if the product is not thinned."""
    water = water_to_product(profile)
    if not water:
        return None
    product_l = volume_l / (1.0 + water)
    if profile.family is not Family.ACID_ETCH:
        return DilutedBucket(product_l, volume_l - product_l, water)
    acid_pct, acid_kg_l = profile.dilution.acid_pct or ACID_WT_PCT, profile.mixed_kg_l
    return DilutedBucket(
        product_l,
        volume_l - product_l,
        water,
        diluted_acid_wt_pct(water, acid_pct, acid_kg_l),
        bicarbonate_kg(product_l, acid_pct, acid_kg_l),
    )


def neutraliser_for(site: Site, profiles: Mapping[str, Profile], coat: Coat) -> Coat | None:
    """The neutraliser that the job file names as the coat over an etch: it is poured with it, not on another day."""
    if not _is(profiles, coat, Family.ACID_ETCH):
        return None
    return next((each for each in site.next_coats(coat.name) if _is(profiles, each, Family.NEUTRALISER)), None)


def neutraliser_of(site: Site, profiles: Mapping[str, Profile], coat: Coat) -> tuple[Coat, Profile] | None:
    """The same with its sheet."""
    found = neutraliser_for(site, profiles, coat)
    return (found, profiles[found.product.casefold()]) if found is not None else None


def etch_under(site: Site, profiles: Mapping[str, Profile], coat: Coat) -> Coat | None:
    """The etch onto which a neutraliser is poured."""
    below = site.coat(coat.after) if coat.after is not None else None
    return below if below is not None and neutraliser_for(site, profiles, below) == coat else None


def neutraliser_beside(standing: Standing) -> Mapping[str, int]:
    """The areas for which a bucket of neutraliser stands mixed, with its number."""
    site, profiles = standing.site, standing.profiles
    own = [each.product for coat in site.coats if (each := neutraliser_for(site, profiles, coat)) is not None]
    return {
        area: batch.id
        for batch in standing.batches
        if batch.product in own and batch.left_l > 0.0
        for area in batch.areas
    }


def _is(profiles: Mapping[str, Profile], coat: Coat, family: Family) -> bool:
    profile = profiles.get(coat.product.casefold())
    return profile is not None and profile.family is family


def steps_of(profile: Profile) -> tuple[str, ...]:
    """The steps of a bucket that is rinsed off again; acid is neutralised and rinsed whatever its sheet leaves out."""
    if profile.family is Family.ACID_ETCH:
        return ("ready", "measure", "mix", "pour", NEUTRALISE, RINSE)
    rinse = (RINSE,) if profile.window(RINSE) is not None else ()
    return ("measure", "mix", "pour", *rinse)


def lying(spec: Spec) -> tuple[int, int]:
    """How long the acid has to lie on a strip of floor, and how long it may, in whole seconds."""
    opens = max(spec.opens.get(DWELL, 0), spec.opens.get(NEUTRALISE, 0))
    return opens, min(spec.closes.get(DWELL, NEVER_S), spec.closes.get(NEUTRALISE, NEVER_S))


def rinsing(spec: Spec, sheet: str = RINSE) -> tuple[int, int]:
    """How long it has to lie before it is rinsed off, and how long it may; by the etch's sheet or the neutraliser's."""
    return spec.opens.get(sheet, 0), spec.closes.get(sheet, NEVER_S)


def rinsed_after(profile: Profile) -> str:
    """The step from which an etch's own sheet counts its rinse."""
    rule = profile.window(RINSE)
    return NEUTRALISE if profile.family is Family.ACID_ETCH and (rule is None or rule.after == NEUTRALISE) else "pour"


def too_slow_for(spec: Spec, kinds: Sequence[str], quickest: Mapping[str, int]) -> str | None:
    """The window that no order of work can keep for a bucket that is rinsed off again."""
    if NEUTRALISE in quickest:
        alone = _one_does_both(spec, kinds, "pour", NEUTRALISE)
        if not _follows(quickest["pour"], quickest[NEUTRALISE], lying(spec), alone):
            return DWELL
    before = quickest.get(NEUTRALISE, quickest["pour"])
    sheets = (RINSE, RINSED_OFF) if RINSE in quickest else ()
    slow = any(not _follows(before, quickest[RINSE], rinsing(spec, sheet), True) for sheet in sheets)
    return RINSE if slow else None


def _follows(first_s: int, then_s: int, lies: tuple[int, int], alone: bool) -> bool:
    """Whether a step can follow another over the floor, so that every strip lies between the two for long enough and
    not for too long: x from start to start, x + then - first from end to end."""
    least_s, most_s = lies
    longer_s = then_s - first_s
    at_least = max(least_s, least_s - longer_s, first_s if alone else 0)
    return at_least <= min(most_s, most_s - longer_s)


def _one_does_both(spec: Spec, kinds: Sequence[str], first: str, then: str) -> bool:
    """Whether the only person who can do the one step is the only one for the other too."""
    rows = [spec.times[kinds.index(kind)] for kind in (first, then)]
    return len({person for row in rows for person, span in enumerate(row) if span is not None}) == 1


def parts_at_first(setting: CoatSetting, area: Area) -> int:
    """Into how many parts an area is cut before anything is tried: one, but for an etch so many that whoever is alone
    can neutralise each in time and the neutraliser for it goes into one bucket. The least favourable hour counts."""
    if setting.profile.family is not Family.ACID_ETCH:
        return 1
    size_m2, parts = area.size_m2, _parts_in_room(setting, area.size_m2)
    if len(_hands(setting)) > 1:
        return parts
    least_s, most_s = 0, NEVER_S
    for hours in HOURS_LOOKED_AT:
        opens_s, closes_s = _lying_at(setting, setting.begins + timedelta(hours=hours))
        least_s, most_s = max(least_s, opens_s), min(most_s, closes_s)
    fitting = parts
    while size_m2 / fitting > SMALLEST_M2:
        piece = (FloorPiece(area.name, size_m2 / fitting, 0.0),)
        pour_s, then_s = (_quickest_s(setting, kind, piece) for kind in ("pour", NEUTRALISE))
        if _follows(pour_s, then_s, (least_s, most_s), True):
            return fitting
        fitting += 1
    return parts


def _hands(setting: CoatSetting) -> set[int]:
    """Those who pour or neutralise."""
    able = [setting.crew.able(kind) for kind in ("pour", NEUTRALISE)]
    return {person for row in able for person, may in enumerate(row) if may}


def _quickest_s(setting: CoatSetting, kind: str, pieces: Sequence[FloorPiece]) -> int:
    return min(span for span in times_of(setting.crew, kind, pieces, {}) if span is not None)


def _lying_at(setting: CoatSetting, at: datetime) -> tuple[int, int]:
    bucket, product = Bucketful(1.0, 1.0, 0.0), setting.coat.product
    names = [name for name in (DWELL, NEUTRALISE) if setting.profile.window(name) is not None]
    opened = [setting.timing.opens(product, name, at, bucket) for name in names]
    shut = [setting.timing.closes(product, name, at, bucket) for name in names if name not in setting.ignore]
    least_s = max((math.ceil(span.safe_open_s) for span in opened if span is not None), default=0)
    return least_s, min(
        (math.floor(span.early_s * setting.reserve) for span in shut if span is not None), default=NEVER_S
    )


def _parts_in_room(setting: CoatSetting, size_m2: float) -> int:
    if setting.neutraliser is None:
        return 1
    coat, profile = setting.neutraliser
    needed_l = amounts(coat, profile, (FloorPiece("", size_m2, 0.0),)).needed_l
    return max(1, math.ceil(needed_l / room_l(largest_vessel(setting.site)) - 1e-9))


def bucketfuls(setting: CoatSetting, pieces: Sequence[FloorPiece]) -> list[tuple[FloorPiece, ...]]:
    """The pieces that each bucket of the neutraliser goes on, in the order in which they are etched."""
    if setting.neutraliser is None:
        return []
    coat, profile = setting.neutraliser
    room = room_l(largest_vessel(setting.site)) + 1e-9
    found: list[list[FloorPiece]] = []
    for piece in pieces:
        if piece.area in setting.beside:
            continue
        if found and amounts(coat, profile, [*found[-1], piece]).needed_l <= room:
            found[-1].append(piece)
        else:
            found.append([piece])
    return [tuple(bucket) for bucket in found]


def ready_s(setting: CoatSetting, pieces: Sequence[FloorPiece]) -> float:
    """How long it takes to have the neutraliser ready before any acid is poured; no time where it is mixed already."""
    if setting.neutraliser is None:
        return READY_S.value
    return READY_S.value * len(bucketfuls(setting, pieces))


def add_neutraliser(
    setting: CoatSetting, poured: datetime, bucket: Bucketful, closes: dict[str, int], opens: dict[str, int]
) -> None:
    """Add what the neutraliser's own sheet says of how long it lies before it is rinsed off."""
    if setting.neutraliser is None:
        return
    product = setting.neutraliser[0].product
    for name in OWN_WINDOWS[RINSE]:
        opened = setting.timing.opens(product, name, poured, bucket)
        shut = setting.timing.closes(product, name, poured, bucket) if name not in setting.ignore else None
        if opened is not None:
            opens[RINSED_OFF] = max(opens.get(RINSED_OFF, 0), math.ceil(opened.safe_open_s))
        if shut is not None:
            closes[RINSED_OFF] = min(closes.get(RINSED_OFF, NEVER_S), math.floor(shut.early_s * setting.reserve))
