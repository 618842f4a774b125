"""One more bucket beside everything under way, with the plan's own steps, windows and links.

A whole plan takes seconds, but a crew asks for one bucket with the lid in the hand. So every order that fits this
bucket between the open steps is timed. The order that mixes soonest is taken.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import combinations, islice, product

from mixclock.decide.kitshapes import StillOpen
from mixclock.decide.plan.days.bench import Bench, Standpoint
from mixclock.decide.plan.days.liveedges import asks_wet_edge, flaked_by_of
from mixclock.decide.plan.days.liverolling import padded
from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.crew import Crew, crew_of, times_of
from mixclock.decide.plan.floor.films import LaidFilm, below_of, bounds_from, scrape_opens
from mixclock.decide.plan.floor.pieces import hops, neighbours, ordered_areas, pieces_of, uncut
from mixclock.decide.plan.floor.plans import FloorPiece, areas_of
from mixclock.decide.plan.floor.precedence import MOST_STRIPS, ROLLED_BY_TWO, on_strip
from mixclock.decide.plan.floor.quantities import amounts, in_whole_kits
from mixclock.decide.plan.floor.setting import Bounds, CoatSetting, OpenStep, Spec
from mixclock.decide.plan.floor.timing import NEVER_S
from mixclock.decide.plan.search.chain import AGREE_S, CoatChain, Guess
from mixclock.decide.plan.search.climber import legal
from mixclock.decide.plan.search.divisions import possible, too_slow_for
from mixclock.decide.plan.search.givingway import give_way
from mixclock.decide.plan.search.network import Network, TimedOrder, timed
from mixclock.decide.plan.search.outliving import outlives
from mixclock.job import practice
from mixclock.job.profile import Profile
from mixclock.job.site import Area, Coat
from mixclock.job.steps import INDUCTION, POUR_OUT
from mixclock.values import dataclass, replace

MOST_TIMED = 1500
"""At most this many orders of work are timed. A crew of two with a bucket on the floor has a few hundred."""

OUT_AGREES_S = 30.0
ROUNDS = 3
"""The windows are asked again for the hour that came out, at most this often."""


@dataclass(frozen=True)
class OneBucket:
    """A bucket that fits: its pieces of floor, what it takes, when part B goes in and by when it is to be poured."""

    pieces: tuple[FloorPiece, ...]
    spec: Spec
    mix_at: datetime
    pour_by: datetime | None
    open_steps: tuple[StillOpen, ...] = ()
    floor_opens: datetime | None = None
    """From when the coat below takes another one, if that is still to come."""

    strips: int = 1
    """In how many strips it is poured out."""

    @property
    def areas(self) -> tuple[str, ...]:
        """The areas that it goes on."""
        return areas_of(self.pieces)


@dataclass(frozen=True)
class TooMuch:
    """No order of work fits this bucket. `window` is the window that no crew of this size can keep for it."""

    window: str | None = None
    floor_opens: datetime | None = None
    """From when the coat below takes another one, if that is still to come."""


@dataclass(frozen=True)
class BucketPlace:
    """Where one bucket goes: the coat with its product, what is left of each area, and when there is time."""

    coat: Coat
    profile: Profile
    areas: tuple[Area, ...]
    begins: datetime
    ends: datetime
    joined: bool = True


def fits_in(bench: Bench, stood: Standpoint, place: BucketPlace) -> OneBucket | TooMuch:
    """The bucket for these areas that can be mixed soonest. If they are too much for one bucket, it is for the first
    part of them."""
    setting = _setting(bench, stood, place)
    window: str | None = None
    for smaller in _ways_to_lay(setting, place):
        chain = CoatChain(smaller)
        if possible(chain, 0, chain.pieces):
            found = _soonest(smaller, place)
            if found is not None:
                return found
        else:
            window = too_slow_for(chain, 0, chain.pieces) or window
    waits_s = max((bound.not_before_s for bound in setting.bounds.values()), default=0)
    return TooMuch(window, place.begins + timedelta(seconds=waits_s) if waits_s > 0 else None)


def _ways_to_lay(setting: CoatSetting, place: BucketPlace) -> Iterator[CoatSetting]:
    """Ever less of the floor poured out at once; then, where the bucket outlives its film, in a few strips."""
    yield from _ever_less(setting, place)
    if outlives(setting, place.areas):
        for strips in range(2, MOST_STRIPS + 1):
            yield from islice(_ever_less(replace(setting, strips=strips), place), PARTS_IN_STRIPS)


LEAST_BUCKET_L = 0.9
"""Nobody mixes less than about a litre for a floor; patches and coves have buckets of their own (judgement)."""

PARTS = (1, 2, 3, 4, 6, 8, 12)

PARTS_IN_STRIPS = 3
"""So many sizes are tried for each number of strips: strips are there to lay much out of one bucket."""

MOST_MERGED_IN_STRIPS = 60
"""A bucket in strips has so many steps that all ways to fit them between the open ones would take a minute."""

MOST_TIMED_IN_STRIPS = 120


def _ever_less(setting: CoatSetting, place: BucketPlace) -> Iterator[CoatSetting]:
    """All areas, then the first alone, then ever smaller parts of it. If kits are not split, there are no more parts
    than kits."""
    if len(place.areas) > 1:
        yield setting
    first = place.areas[0]
    whole = uncut((first,))
    kits = amounts(setting.coat, setting.profile, whole).kits
    most = math.ceil(kits or 1) if in_whole_kits(setting.coat, setting.profile) else PARTS[-1]
    for parts in (parts for parts in PARTS if parts <= most):
        cut = pieces_of((first,), {first.name: first.size_m2 / parts})
        if parts > 1 and amounts(setting.coat, setting.profile, cut[:1]).mixed_l < LEAST_BUCKET_L:
            break
        yield replace(setting, pieces=cut[:1], bounds=_of_these(setting.bounds, {first.name}))


def _setting(bench: Bench, stood: Standpoint, place: BucketPlace) -> CoatSetting:
    """What the plan would search with, for these areas alone."""
    site, coat, crew = bench.site, place.coat, crew_of(bench.site)
    below = below_of(site, coat, stood.films, bench.profiles, bench.timing)
    wet = asks_wet_edge(coat, place.profile)
    joined = {area: at for (name, area), at in stood.joined_by.items() if wet and place.joined and name == coat.name}
    flaked = flaked_by_of(bench, stood, coat) if wet and place.joined else {}
    pairs, _ = neighbours(site, ordered_areas(site, coat))
    names = {area.name for area in place.areas}
    waiting = [*_live(stood, crew), *_scraping(bench, crew, below.films, names)]

    def seconds(at: datetime) -> int:
        return math.ceil((at - place.begins).total_seconds())

    return CoatSetting(
        site=site,
        coat=coat if wet else replace(coat, wet_edge=False),
        profile=place.profile,
        crew=crew,
        timing=bench.timing,
        begins=place.begins,
        pieces=uncut(place.areas),
        wet_pairs=pairs if wet and place.joined else frozenset(),
        bounds=_of_these(bounds_from(below.gates, joined, place.begins, flaked), names),
        waiting=tuple(
            replace(
                step,
                release_s=0 if opens is None else max(0, seconds(opens)),
                deadline_s=NEVER_S if by is None else seconds(by),
            )
            for step, opens, by in waiting
        ),
        carry=hops(site, site.mixing_at),
        ends_s=seconds(place.ends),
        people_free_s=tuple(
            max(0, seconds(stood.people_free.get(person.name, place.begins))) for person in crew.people
        ),
        neutraliser=acid.neutraliser_of(site, bench.profiles, coat),
        beside=stood.neutraliser_beside,
    )


def _of_these(bounds: Mapping[str, Bounds], names: set[str]) -> dict[str, Bounds]:
    return {area: bound for area, bound in bounds.items() if area in names}


Waiting = tuple[OpenStep, datetime | None, datetime | None]


def _live(stood: Standpoint, crew: Crew) -> list[Waiting]:
    """The steps that live batches of any coat still need. The hands that do them are not free for this bucket."""
    found = [(padded(step, len(crew.people)), opens, by) for _, step, opens, by in stood.waiting]
    return sorted(found, key=lambda each: each[0].batch or 0)


def _scraping(bench: Bench, crew: Crew, films: Sequence[LaidFilm], names: set[str]) -> Iterator[Waiting]:
    """Scraping a flaked coat before the next goes on, of these areas."""
    for film in films:
        here = tuple(area for area in film.areas if area in names)
        if here and "broadcast" in film.ended and "scrape" not in film.ended:
            profile = bench.profiles[film.product.casefold()]
            times = times_of(crew, "scrape", (FloorPiece("", film.size_m2, 0.0),), {})
            opens = scrape_opens(film, profile, bench.timing)
            yield OpenStep("scrape", None, here, times, first=True, window="scrape"), opens, None


def _soonest(setting: CoatSetting, place: BucketPlace) -> OneBucket | None:
    """The order of work that mixes soonest, with the windows of the hours at which it runs."""
    chain = CoatChain(setting)
    stood_s = float(chain.mixing_s + 60 + math.ceil(practice.POUR_S.value))
    guess = Guess(0, stood_s)
    found: tuple[tuple[int, ...], TimedOrder] | None = None
    for _ in range(ROUNDS):
        give_way()
        chain.guess({0: guess})
        spec = chain.spec(0, chain.pieces)
        guess = replace(guess, stood_s=max(stood_s, stood_s + spec.opens.get(INDUCTION, 0)))
        net = chain.network((chain.pieces,))
        found = _best(chain, net)
        out_s = _out_s(chain, net, found) if found is not None and setting.strips > 1 else 0.0
        stood_s = max(stood_s, out_s)
        if found is None:
            return None
        mix_s = found[1].starts[chain.node(0, "mix")]
        if abs(mix_s - guess.mixed_s) <= AGREE_S and stood_s <= guess.stood_s + OUT_AGREES_S:
            break
        guess = replace(guess, mixed_s=mix_s)
    assert found is not None
    return _told(chain, place, *found)


def _out_s(chain: CoatChain, net: Network, found: tuple[tuple[int, ...], TimedOrder]) -> float:
    """How long a bucket that is poured out in strips stands until the last of it is out."""
    (staff, timed_order), last = found, chain.node(0, on_strip("pour", chain.setting.strips))
    starts = timed_order.starts
    return float(starts[last] + net.span(last, staff[last]) - starts[chain.node(0, "mix")])


def _told(chain: CoatChain, place: BucketPlace, staff: tuple[int, ...], found: TimedOrder) -> OneBucket:
    spec, net = chain.spec(0, chain.pieces), chain.network((chain.pieces,))

    def at(seconds: int) -> datetime:
        return place.begins + timedelta(seconds=seconds)

    mix_at = at(found.starts[chain.node(0, "mix")])
    open_steps = tuple(
        StillOpen(wait.kind, wait.batch, wait.areas, at(found.starts[node] + net.span(node, staff[node])))
        for node, wait in enumerate(chain.setting.waiting)
        if wait.kind != ROLLED_BY_TWO
    )
    pour_by = mix_at + timedelta(seconds=spec.closes[POUR_OUT]) if POUR_OUT in spec.closes else None
    waits_s = max((bound.not_before_s for bound in chain.setting.bounds.values()), default=0)
    return OneBucket(
        chain.setting.pieces,
        spec,
        mix_at,
        pour_by,
        open_steps,
        at(waits_s) if waits_s > 0 else None,
        chain.setting.strips,
    )


def _best(chain: CoatChain, net: Network) -> tuple[tuple[int, ...], TimedOrder] | None:
    """Of all orders that keep every window, the one that mixes soonest; of these, the one that ends soonest."""
    mix = chain.node(0, "mix")
    bound = max(net.release[mix], _free_first(chain, net))
    best: tuple[tuple[int, int], tuple[int, ...], TimedOrder] | None = None
    merges, most = islice(_merges(chain, net), MOST_TIMED), MOST_TIMED
    if chain.setting.strips > 1:
        merges, most = islice(merges, MOST_MERGED_IN_STRIPS), MOST_TIMED_IN_STRIPS
    orders = tuple(dict.fromkeys(legal(net, order) for order in merges))
    for staff, order in islice(product(_staffings(chain, net), orders), most):
        give_way()
        found = timed(net, staff, order)
        if found.violation == 0:
            rank = (found.starts[mix], found.finish)
            if best is None or rank < best[0]:
                best = (rank, staff, found)
            if found.starts[mix] <= bound:
                break
    return None if best is None else (best[1], best[2])


def _free_first(chain: CoatChain, net: Network) -> int:
    """The soonest that anybody can have measured out."""
    measure = chain.node(0, "measure") if "measure" in chain.kinds else chain.node(0, "mix")
    return min(
        net.people_free[person] + (span or 0)
        for person, span in enumerate(net.times[measure])
        if span is not None
    )  # fmt: skip


def _staffings(chain: CoatChain, net: Network) -> Iterator[tuple[int, ...]]:
    """Every way to share the steps among the crew. Ways in which one person carries the bucket through come first; who
    does the first strip does each strip."""
    like = [node if not 0 <= node - chain.lead < len(chain.kinds) else chain.lead + chain.like[node - chain.lead]
            for node in range(net.size)]  # fmt: skip
    own = [node for node in range(net.size) if like[node] == node]
    for row in islice(product(*(net.able(node) for node in own)), MOST_TIMED):
        who = dict(zip(own, row, strict=True))
        yield tuple(who[node] for node in like)


def _merges(chain: CoatChain, net: Network) -> Iterator[tuple[int, ...]]:
    """Every way to fit the bucket's steps between the open ones. Both keep their own order."""
    opened = list(range(chain.lead))
    phases = dict(zip(chain.kinds, chain.phases, strict=True))
    steps = [chain.node(0, kind) for kind in sorted(chain.kinds, key=phases.__getitem__)]
    clean = net.size - 1
    size = len(opened) + len(steps)
    for places in combinations(range(size), len(opened)):
        first, second = iter(opened), iter(steps)
        yield (*(next(first) if place in places else next(second) for place in range(size)), clean)
