"""What the plan says while a crew works: when to start the next batch, and that the material will run short.

If no new batch can meet a wet edge, the window of that edge tells the crew to keep the next kit shut. Where that window
speaks, the plan is silent, so the two never say different things.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import accumulate

from mixclock.decide.alerting.closing import batch_for, is_alerted, stages_of
from mixclock.decide.alerting.dayends import Place, PlanSays
from mixclock.decide.etching import treated_at
from mixclock.decide.hours import is_working
from mixclock.decide.plan.days.comingbuckets import areas_left, buckets_left
from mixclock.decide.plan.floor.acid import neutraliser_beside
from mixclock.decide.plan.floor.coverage import batches_of, measures, stays_l_m2
from mixclock.decide.plan.floor.pieces import as_it_meets, ordered_areas, uncut
from mixclock.decide.plan.floor.plans import Plan, PlannedBatch, PlannedStep
from mixclock.decide.plan.floor.quantities import amounts, kit_l
from mixclock.decide.shapes import Alert, NextBatch, Rank, Shortage, Stage
from mixclock.decide.tracks import Track
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Coat
from mixclock.job.steps import BACK_ROLL, NEUTRALISE, NEXT_BATCH, RINSE, SHORT, WET_EDGE

STOP_FROM = timedelta(minutes=15)
"""A plan that leaves an edge for longer than it stays wet plus this time means to stop there (judgement)."""

MOST_SLIP = timedelta(minutes=30)
"""A step that nobody states delays the next batch by no more than this (judgement)."""

OUT_OF_DATE = timedelta(hours=3)
"""When a batch is this late, the old plan no longer asks for it (judgement)."""

SHORT_L = 0.25
SHORT_SHARE = 0.03
"""A shortage smaller than this may come from rounded statements alone (judgement)."""

STATED_AS = {"roll": BACK_ROLL, "broadcast": "broadcast", NEUTRALISE: NEUTRALISE, RINSE: RINSE}


def advice_by(standing: Standing, tracks: Sequence[Track], plans: Sequence[Plan], now: datetime) -> tuple[Alert, ...]:
    """What the plans say at an instant. They come the oldest first: the crew bought its material by the first."""
    if not plans or standing.finished is not None:
        return ()
    return next_batch_advice(standing, tracks, plans[-1], now, plans[0])


def plan_says(standing: Standing, tracks: Sequence[Track], plans: Sequence[Plan], now: datetime) -> PlanSays:
    """What the plans add to the windows at an instant: advice, and the edges where today ends."""
    if not plans or standing.finished is not None:
        return PlanSays()
    ends, cuts = _left_edges(standing, tracks, plans[-1], now)
    return PlanSays(advice_by(standing, tracks, plans, now), ends, cuts)


def _left_edges(
    standing: Standing, tracks: Sequence[Track], plan: Plan, now: datetime
) -> tuple[frozenset[Place], frozenset[Place]]:
    """Wet edges that the plan leaves unjoined: those where today ends, and apart from them those at a saw cut."""
    left: set[Place] = set()
    cuts: set[Place] = set()
    for track in tracks:
        if track.name != WET_EDGE or track.provisional or not track.neighbours or track.area is None:
            continue
        if _is_left(standing, track, plan, now):
            place = (track.batch.id, track.area)
            at_cut = all(_is_cut(standing, track.area, other) for other in track.neighbours)
            (cuts if at_cut else left).add(place)
    return frozenset(left), frozenset(cuts)


def _is_left(standing: Standing, track: Track, plan: Plan, now: datetime) -> bool:
    """Whether the plan pours no neighbour while this edge is wet: it does so on another day, or after a planned stop.

    The gap between the two planned pours decides. So a crew that is ahead of its plan keeps its calls.
    """
    edge = track.closing
    if edge is None:
        return False
    comes = batch_for(standing, track)
    if comes is not None and comes.combined.at < edge.last:
        return False  # somebody mixed a bucket for the neighbour: the crew has left the plan, so its calls come back
    same = [batch for batch in plan.batches if batch.coat == track.batch.coat]
    own = max((batch.poured_at for batch in same if track.area in batch.areas), default=None)
    after = [batch.poured_at for batch in same
             if set(batch.areas) & set(track.neighbours) and (own is None or batch.poured_at > own)]  # fmt: skip
    if not after:
        return bool(same) and own is not None
    coming, zone = min(after), standing.site.wall
    if own is None:
        return coming.astimezone(zone).date() > now.astimezone(zone).date()
    return coming - own > edge.last - track.starts + STOP_FROM


def _is_cut(standing: Standing, one: str, other: str) -> bool:
    return any({one, other} == set(pair) for pair in standing.site.saw_cuts)


def next_batch_advice(
    standing: Standing, tracks: Sequence[Track], plan: Plan, now: datetime, bought_by: Plan | None = None
) -> tuple[Alert, ...]:
    """The alerts of a plan that stand now. `bought_by` is the plan by which the crew bought its material."""
    found = [_start(standing, tracks, plan, now), _short(standing, bought_by or plan)]
    return tuple(alert for alert in found if alert is not None)


def _start(standing: Standing, tracks: Sequence[Track], plan: Plan, now: datetime) -> Alert | None:
    batch = next(buckets_left(standing, plan), None)
    if batch is None or not plan.feasible:
        return None
    mix = next((step for step in plan.steps if step.batch == batch.number and step.kind == "mix"), None)
    if mix is None or not mix.starts <= now < mix.starts + OUT_OF_DATE or _bucket_in_the_way(standing, plan, mix):
        return None
    if is_working(standing.site, mix.starts) and not is_working(standing.site, now):
        return None  # a bucket that was planned outside the hours is for a crew that is there
    edges = list(_edges_before(standing, tracks, batch))
    if any(_speaks_for_itself(standing, edge, plan, now) for edge in edges):
        return None
    due = _due(standing, plan, batch, mix, edges, now)
    if now < due:
        return None
    return Alert(
        id=f"plan.next-batch-{batch.number}",
        step=NEXT_BATCH,
        rank=Rank.TIMELY,
        stage=Stage.NOW,
        due=due,
        area=batch.areas[0],
        who=mix.who if standing.site.person(mix.who) else None,
        detail=NextBatch(batch.number, batch.volume_l, batch.coat),
    )


def _bucket_in_the_way(standing: Standing, plan: Plan, mix: PlannedStep) -> bool:
    """Whether a mixed bucket still stands that the plan wanted poured before this one. A neutraliser may stand."""
    out = {step.batch for step in plan.steps if step.kind == "pour" and step.ends <= mix.starts}
    planned = {step.batch for step in plan.steps if step.kind == "pour"}
    stands = set(neutraliser_beside(standing).values())
    live = [batch.id for batch in standing.batches if batch.emptied is None and batch.id not in stands
            and batch.spot is None]  # fmt: skip
    return any(number in out or number not in planned for number in live)


def _edges_before(standing: Standing, tracks: Sequence[Track], batch: PlannedBatch) -> Iterator[Track]:
    """The wet edges that the next batch must meet."""
    for track in tracks:
        waiting = {track.area, *track.neighbours} & set(batch.areas)
        living = track.name == WET_EDGE and track.stated is None and not track.provisional
        if living and waiting and track.batch.coat == batch.coat and is_alerted(standing, track):
            yield track


def _speaks_for_itself(standing: Standing, track: Track, plan: Plan, now: datetime) -> bool:
    """Whether the wet edge's own alert decides on the next kit. A plan that was made after the edge went knows of
    it."""
    edge = track.closing
    if edge is None or plan.begins >= edge.early:
        return False
    return now >= stages_of(standing, track, edge).now


def _due(
    standing: Standing, plan: Plan, batch: PlannedBatch, mix: PlannedStep, edges: Sequence[Track], now: datetime
) -> datetime:
    """When to start the batch: at the plan's hour, or later if those who need the bucket are behind and the wet edges
    allow it."""
    due = mix.starts
    for name in {step.who for step in plan.steps if step.batch == batch.number}:
        own = [step for step in plan.steps if step.who == name]
        comes = min(step.starts for step in own if step.batch == batch.number and step.starts >= mix.starts)
        before = [step for step in own if step.starts < comes and step.batch not in (None, batch.number)]
        behind = now + sum((_left_of(standing, plan, step, now) for step in before), timedelta()) - comes
        due = max(due, min(mix.starts + behind, mix.starts + MOST_SLIP))
    spread = next((step for step in plan.steps if step.batch == batch.number and step.kind == "squeegee"), None)
    for track in edges:
        edge = track.closing
        if edge is not None and spread is not None:
            due = min(due, max(mix.starts, edge.early - (spread.starts - mix.starts)))
    return due


def _left_of(standing: Standing, plan: Plan, step: PlannedStep, now: datetime) -> timedelta:
    """How much is left of a planned step of a batch that is mixed already. Of a stated step nothing is left."""
    batch = standing.batch(step.batch) if step.batch is not None else None
    nothing, span = timedelta(), step.ends - step.starts
    if batch is None or step.kind in ("measure", "mix", "clean"):
        return nothing
    if step.kind == "pour":
        return nothing if batch.emptied is not None else span
    if step.kind == NEUTRALISE and _neutralised(standing, batch):
        return nothing
    stated, began = _stated(batch, STATED_AS.get(step.kind)), batch.began.get(STATED_AS.get(step.kind, ""))
    if stated or _stated(batch, BACK_ROLL) or _stated(batch, "broadcast"):
        return nothing if stated or step.kind not in STATED_AS else span
    if began is not None:
        return max(nothing, span - (now - began.at))
    return min(span, max(nothing, _expected_end(plan, step, batch, now) - now)) if step.kind not in STATED_AS else span


def _stated(batch: Batch, name: str | None) -> bool:
    """Whether a step was stated for every area that the bucket went on."""
    pours = [(portion, area) for portion in batch.portions for area in portion.areas]
    return name is not None and bool(pours) and all(portion.step(name, area) is not None for portion, area in pours)


def _neutralised(standing: Standing, batch: Batch) -> bool:
    """Whether acid was neutralised wherever it went, as a step or by a bucket of neutraliser."""
    pours = [(portion, area) for portion in batch.portions for area in portion.areas]
    return bool(pours) and all(
        treated_at(standing, batch, portion, NEUTRALISE, area, portion.poured.at) is not None for portion, area in pours
    )


def _expected_end(plan: Plan, step: PlannedStep, batch: Batch, now: datetime) -> datetime:
    """When a step ends that nobody states: as long after the pour as the plan has it."""
    pour = next((each for each in plan.steps if each.batch == step.batch and each.kind == "pour"), None)
    if pour is None or not batch.portions:
        return now + (step.ends - step.starts)
    return batch.portions[-1].poured.at + (step.ends - pour.ends)


def _short(standing: Standing, bought_by: Plan) -> Alert | None:
    """Whether the bought material is enough for the present coat, at the rate at which it really goes."""
    for coat in standing.site.coats:
        if batches_of(standing, coat) and areas_left(standing, coat):
            found = _short_of(standing, coat, bought_by)
            if found is not None:
                return found
    return None


def _short_of(standing: Standing, coat: Coat, bought_by: Plan) -> Alert | None:
    bought = bought_l(standing, coat, bought_by)
    areas = ordered_areas(standing.site, coat)
    by_area = [stays_l_m2(standing, coat, (area,)) * area.size_m2 for area in areas]
    since: datetime | None = None
    used_l = laid_l = short_l = share = 0.0
    for measure in measures(standing, coat):
        used_l, laid_l = used_l + measure.volume_l, laid_l + measure.net_l
        share = used_l / laid_l
        short_l = share * sum(by_area) - bought
        is_short = short_l > max(SHORT_L, SHORT_SHARE * share * sum(by_area))
        since = (since or measure.at) if is_short else None
    if since is None:
        return None
    area = next(area for area, reached_l in zip(areas, accumulate(by_area), strict=True) if share * reached_l > bought)
    return Alert(f"plan.{SHORT}", SHORT, Rank.TIMELY, Stage.STEP, since, area=area.name, detail=Shortage(short_l))


def bought_kits(standing: Standing, plan: Plan) -> dict[str, int]:
    """How many kits of each coat were bought by a plan."""
    found = {}
    for coat in standing.site.coats:
        profile = standing.profile(coat.product)
        kit = kit_l(coat, profile) if profile is not None else None
        if kit is not None:
            found[coat.name] = round(bought_l(standing, coat, plan) / kit)
    return found


def bought_l(standing: Standing, coat: Coat, plan: Plan) -> float:
    """How much of a coat was bought: what the plan mixes, rounded up to whole kits, with the spare ones. Without kits
    it is what the floor takes."""
    profile = standing.profile(coat.product)
    planned_l = sum(batch.volume_l for batch in plan.batches if batch.coat == coat.name)
    # a plan made part-way mixes only the rest: what the crew had mixed by then was bought as well
    planned_l += sum(batch.volume_l for batch in batches_of(standing, coat) if batch.id in plan.kept)
    if not planned_l and profile is not None:
        site, profiles = standing.site, standing.profiles
        whole = uncut([as_it_meets(site, profiles, coat, area) for area in ordered_areas(site, coat)])
        planned_l = amounts(coat, profile, whole).mixed_l
    kit = kit_l(coat, profile) if profile is not None else None
    if kit is None:
        return planned_l
    return (-(-round(planned_l / kit, 6) // 1) + coat.spare_kits) * kit
