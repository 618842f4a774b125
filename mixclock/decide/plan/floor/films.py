"""What lies on the floor already when a coat is planned, and what that says of when the coat may go on."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from types import MappingProxyType

from mixclock.decide.plan.floor.acid import etch_under
from mixclock.decide.plan.floor.precedence import STEP_OF
from mixclock.decide.plan.floor.setting import Bounds
from mixclock.decide.plan.floor.timing import NEVER_S, Bucketful, Timing
from mixclock.job.profile import WASHED_OFF, Profile
from mixclock.job.site import Coat, Site
from mixclock.job.steps import RECOAT
from mixclock.values import dataclass, field

GATES = (RECOAT, "dry")
"""Windows that open a floor to the next coat."""

UNKNOWN_GATE = timedelta(hours=24)
UNKNOWN_DRYING = timedelta(hours=72)
UNKNOWN_SAID = "{product}: the sheet states no recoat; the next coat waits 24 h (judgement)"
UNKNOWN_DRYING_SAID = "{product}: the sheet states no drying; the next coat waits 72 h (common practice, no source)"


@dataclass(frozen=True)
class LaidFilm:
    """One batch on the floor, laid or planned: when each of its steps ended."""

    coat: str
    product: str
    areas: tuple[str, ...]
    ended: Mapping[str, datetime]
    bucket: Bucketful
    number: int
    size_m2: float = 0.0
    sanded: bool = False
    """Whether it was sanded once hard: the next coat then bonds however late it comes."""

    def since(self, after: str) -> datetime:
        """The instant from which a window counts; if that step is not known, the pour."""
        return self.ended.get(STEP_OF.get(after, after), self.ended["pour"])


@dataclass(frozen=True)
class Gate:
    """When the floor under a batch is open to the next coat.

    Safely it is open from the latest opening to the earliest closing. Where the doubt is wider than that no hour is
    sure: then it is planned by the likely edges, and how often they hold is told by the plan's chance.
    """

    safe_opens: datetime
    safe_closes: datetime | None
    likely_opens: datetime
    likely_closes: datetime | None = None

    @property
    def sure(self) -> bool:
        """Whether some hour is sure."""
        return self.safe_closes is None or self.safe_opens <= self.safe_closes

    @property
    def opens(self) -> datetime:
        """From when the next coat is planned."""
        return self.safe_opens if self.sure else self.likely_opens

    @property
    def closes(self) -> datetime | None:
        """Until when the next coat is planned."""
        return self.safe_closes if self.sure else self.likely_closes

    def and_also(self, other: Gate) -> Gate:
        """The time in which both gates are open."""
        return Gate(
            max(self.safe_opens, other.safe_opens),
            _sooner(self.safe_closes, other.safe_closes),
            max(self.likely_opens, other.likely_opens),
            _sooner(self.likely_closes, other.likely_closes),
        )


def _sooner(one: datetime | None, other: datetime | None) -> datetime | None:
    return min((at for at in (one, other) if at is not None), default=None)


def gate(film: LaidFilm, profile: Profile, timing: Timing, ignore: frozenset[str] = frozenset()) -> Gate:
    """When the next coat may go on this film: by its recoat window, or its drying after an etch."""
    opens: list[tuple[datetime, datetime]] = []
    closes: list[tuple[datetime, datetime]] = []
    for name in GATES:
        rule = profile.window(name)
        if rule is None:
            continue
        since = film.since(rule.after)
        opened = timing.opens(film.product, name, since, film.bucket)
        shut = timing.closes(film.product, name, since, film.bucket)
        if opened is not None:
            opens.append((since + timedelta(seconds=opened.safe_open_s), since + timedelta(seconds=opened.likely_s)))
        if shut is not None and name not in ignore and not film.sanded:
            closes.append((since + timedelta(seconds=shut.early_s), since + timedelta(seconds=shut.likely_s)))
    if not opens:
        washed = profile.family in WASHED_OFF
        at = max(film.ended.values()) + UNKNOWN_DRYING if washed else film.ended["pour"] + UNKNOWN_GATE
        opens = [(at, at)]
    safe_shut, likely_shut = (min(each, default=None) for each in (list(zip(*closes, strict=True)) or [(), ()]))
    return Gate(max(safe for safe, _ in opens), safe_shut, max(likely for _, likely in opens), likely_shut)


def unknown_said(profile: Profile) -> str:
    """What is assumed of a floor where the sheet names no window that opens it to the next coat."""
    said = UNKNOWN_DRYING_SAID if profile.family in WASHED_OFF else UNKNOWN_SAID
    return said.format(product=profile.name)


def scrape_opens(film: LaidFilm, profile: Profile, timing: Timing) -> datetime:
    """From when loose flake may be scraped off; with the recoat where the sheet does not say."""
    rule = profile.window("scrape")
    if rule is not None:
        since = film.since(rule.after)
        opened = timing.opens(film.product, "scrape", since, film.bucket)
        if opened is not None:
            return since + timedelta(seconds=opened.safe_open_s)
    return gate(film, profile, timing).opens


@dataclass(frozen=True)
class Ground:
    """The coat below: its films and the gate of each area."""

    films: tuple[LaidFilm, ...] = ()
    gates: Mapping[str, Gate] = field(default_factory=dict)

    @property
    def opens(self) -> datetime | None:
        """The first instant at which some area is open."""
        return min((gate.opens for gate in self.gates.values()), default=None)


def coats_in_order(site: Site) -> list[Coat]:
    """The coats from the floor up."""
    done: list[Coat] = []
    left = list(site.coats)
    while left:
        ready = [coat for coat in left if coat.after is None or any(coat.after == other.name for other in done)]
        if not ready:
            return done + left
        done.append(ready[0])
        left.remove(ready[0])
    return done


def coats_under(site: Site, profiles: Mapping[str, Profile], coat: Coat) -> dict[str, tuple[str, ...]]:
    """What lies under a coat on each area: the coat that it comes after, where that one stops short the nearest below
    it; of an etch with its neutraliser both."""
    if coat.after is None:
        return {}
    ordered = coats_in_order(site)
    lower = list(reversed(ordered[: [each.name for each in ordered].index(coat.name)]))
    lower.sort(key=lambda each: each.name != coat.after)
    found: dict[str, tuple[str, ...]] = {}
    for area in (area.name for area in site.areas if coat.goes_on(area.name)):
        under = next((each for each in lower if each.goes_on(area)), None)
        if under is not None:
            etch = etch_under(site, profiles, under)
            found[area] = (under.name,) if etch is None else (under.name, etch.name)
    return found


def below_of(
    site: Site,
    coat: Coat,
    films: Iterable[LaidFilm],
    profiles: Mapping[str, Profile],
    timing: Timing,
    ignore: frozenset[str] = frozenset(),
) -> Ground:
    """What this coat goes on: an area opens with the latest and closes with the earliest of its batches."""
    names = coats_under(site, profiles, coat)
    under = tuple(film for film in films if any(film.coat in names.get(area, ()) for area in film.areas))
    if any(len(each) > 1 for each in names.values()):  # of an etch and its neutraliser the drying slab counts
        under = tuple(film for film in under if _is_gated(profiles[film.product.casefold()])) or under
    gates: dict[str, Gate] = {}
    for film in under:
        found = gate(film, profiles[film.product.casefold()], timing, ignore)
        for area in (area for area in film.areas if film.coat in names.get(area, ())):
            known = gates.get(area)
            gates[area] = found if known is None else known.and_also(found)
    return Ground(under, gates)


def _is_gated(profile: Profile) -> bool:
    return any(profile.window(name) is not None for name in GATES)


def bounds_from(
    gates: Mapping[str, Gate],
    joined_by: Mapping[str, datetime],
    begins: datetime,
    flaked_by: Mapping[str, datetime] = MappingProxyType({}),
) -> dict[str, Bounds]:
    """The gates, and the wet edges and bare strips that live already, in seconds from `begins`."""
    found: dict[str, Bounds] = {}
    for area in {*gates, *joined_by}:
        known = gates.get(area)
        opens = _seconds(known.opens, begins, up=True) if known else 0
        closes = _seconds(known.closes, begins) if known and known.closes else NEVER_S
        joined = _seconds(joined_by[area], begins) if area in joined_by else NEVER_S
        flaked = _seconds(flaked_by[area], begins) if area in flaked_by else NEVER_S
        found[area] = Bounds(max(0, opens), closes, joined, flaked)
    return found


def _seconds(at: datetime, begins: datetime, up: bool = False) -> int:
    exact = (at - begins).total_seconds()
    return int(-(-exact // 1)) if up else int(exact // 1)


def stops(areas: Sequence[str], wet_pairs: frozenset[tuple[str, str]], joined: bool) -> list[int]:
    """After how many pieces the work may stop for the day without a cold joint; `areas` is each piece's area."""
    if not joined:
        return list(range(1, len(areas)))
    found = []
    for end in range(1, len(areas)):
        before, after = set(areas[:end]), set(areas[end:])
        crossing = before & after or any(
            (a in before and b in after) or (b in before and a in after) for a, b in wet_pairs
        )
        if not crossing:
            found.append(end)
    return found
