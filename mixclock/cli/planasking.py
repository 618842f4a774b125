"""Puts a plan together: the job as it stands, its products' clocks, the search, the chance, the other product."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from datetime import datetime
from typing import TYPE_CHECKING

from mixclock.values import dataclass, replace

if TYPE_CHECKING:
    from mixclock.cli.plantyped import ProductSwap, Wish
    from mixclock.decide.buckets import BucketModel
    from mixclock.decide.plan.days.bench import Bench, Standpoint
    from mixclock.decide.plan.floor.plans import Plan
    from mixclock.decide.plan.floor.systems import Comparison, SwappedJob
    from mixclock.decide.plan.floor.takeoff import TakeOff
    from mixclock.decide.plan.search.schedule import Ways
    from mixclock.job.profile import Profile
    from mixclock.job.progress import Standing
    from mixclock.outside.profilefiles import FoundProfile
    from mixclock.wiring import House
    from mixclock.words.plan import PlanSheet


@dataclass(frozen=True)
class PlanQuestion:
    """What is planned: the job as it stands with its products, from when on. `house` is None where there is no book."""

    standing: Standing
    begins: datetime
    house: House | None
    started: bool


def sheet_for(asked: PlanQuestion, wished: Wish, ways: Ways) -> PlanSheet:
    """The plan with its take-off, and the other system beside it where one was asked for."""
    from mixclock.outside.memory import tidied_seldom
    from mixclock.words.plan import PlanSheet

    asked, learned = _as_it_went(_in_one_unit(asked))
    # a name that is not known is told before the search, which takes seconds
    other = _with_other(asked, wished.instead) if wished.instead else None
    site, profiles = asked.standing.site, asked.standing.profiles
    with tidied_seldom():
        plan = plan_for(asked, wished, ways)
    plan = replace(plan, warnings=(*plan.warnings, *learned))
    sheet = PlanSheet(plan, site, profiles, _take(asked, plan))
    return replace(sheet, compared=_compared(sheet, other, wished, ways)) if other else sheet


def _in_one_unit(asked: PlanQuestion) -> PlanQuestion:
    """The question with all its volumes in one unit, from the shopping list to the smallest bucket."""
    from mixclock.decide.plan.floor.takeoff import take_off

    standing = asked.standing
    largest_l = max((coat.needed_l for coat in take_off(standing.site, standing.profiles).coats), default=0.0)
    site = replace(standing.site, units=standing.site.units.on_one_page(largest_l))
    return replace(asked, standing=replace(standing, site=site))


def _as_it_went(asked: PlanQuestion) -> tuple[PlanQuestion, tuple[str, ...]]:
    """The question with the film and the pace that this floor and past jobs have shown, and what the crew is told."""
    from mixclock.decide.plan.days.asitwent import as_it_went, at_usual_pace
    from mixclock.outside.pastpaces import past_pace_of

    if asked.house is None:
        return asked, ()
    past = past_pace_of(asked.house.book, asked.standing)
    if asked.started and asked.standing.batches:
        went = as_it_went(asked.standing, asked.begins, past)
    else:
        went = at_usual_pace(asked.standing, past)
    return replace(asked, standing=went.standing), went.said


def plan_for(asked: PlanQuestion, wished: Wish, ways: Ways) -> Plan:
    """The plan: from where things stand, with its chance, or with what would free it."""
    from mixclock.decide.plan.days.bench import Standpoint
    from mixclock.decide.plan.days.standpoint import standpoint_of, with_changes
    from mixclock.decide.plan.judge.foreman import AS_A_FOREMAN, foreman_plan, on_days

    bench = _bench(asked, ways)
    stood = None
    if asked.started and asked.standing.batches and asked.house is not None:
        stood = standpoint_of(asked.standing, asked.house.tracks(asked.standing), bench, bench.begins)
    standpoint = stood.standpoint if stood is not None else Standpoint()
    asked, beside = _at_work(asked, standpoint)
    bench = replace(bench, site=asked.standing.site)
    wanted = AS_A_FOREMAN if wished.sure is None else on_days(wished.sure)
    plan = foreman_plan(bench, ways, standpoint, wished.seed, wanted)
    plan = _told_conditions(plan, asked.standing)
    if not plan.feasible:
        plan = _freed(asked, bench, plan, ways, standpoint)
    plan = replace(plan, warnings=(*beside, *plan.warnings))
    return with_changes(plan, stood, _before(asked), asked.standing.site.units)


def _at_work(asked: PlanQuestion, standpoint: Standpoint) -> tuple[PlanQuestion, tuple[str, ...]]:
    """The question with the time at which the crew works though its job file has no hours then, and what it is told."""
    from mixclock.decide.plan.days.outsidehours import outside_hours

    standing = asked.standing
    if not (asked.started and standing.batches and asked.house is not None):
        return asked, ()
    found = outside_hours(standing, asked.house.tracks(standing), standpoint, asked.begins)
    if found is None:
        return asked, ()
    site = replace(standing.site, also_works=((found.worked.start, found.worked.end),))
    return replace(asked, standing=replace(standing, site=site)), (found.said,)


def _told_conditions(plan: Plan, standing: Standing) -> Plan:
    """Put temperatures that nobody read or forecast first among the assumptions: every clock rests on them."""
    from mixclock.decide.weather import weather

    known = weather(standing, None)
    taken = (*known.air.assumed, *known.slab.assumed, *known.humidity.assumed)
    said = tuple(f"{line}; {_mended_by(line)}" for line in dict.fromkeys(taken))
    return replace(plan, assumed=tuple(dict.fromkeys((*said, *plan.assumed))))


def _mended_by(line: str) -> str:
    """What makes up for a reading that nobody took."""
    from mixclock.decide.weather import FORECAST_STANDS_IN

    if FORECAST_STANDS_IN in line:
        return "take a reading before the first bucket"
    return "to mend that, take a reading or put a forecast into the job file"


def _freed(asked: PlanQuestion, bench: Bench, plan: Plan, ways: Ways, standpoint: Standpoint) -> Plan:
    """The nearest plan, what is in the way, and what would free it."""
    from mixclock.decide.plan.judge.explanation import explain

    return explain(_with_other_products(asked, bench), plan, ways, standpoint)


def keep_plan(asked: PlanQuestion, plan: Plan) -> None:
    """Put the plan into the log: watch then goes by it, and the next plan can say what changed."""
    from mixclock.decide.plan.days.planjson import plan_text
    from mixclock.job.drafts import Draft
    from mixclock.job.entry import TOLD_BY_MACHINE, Planned
    from mixclock.outside.bookerrors import ShutError

    if asked.house is None or not asked.started or not plan.feasible or asked.standing.finished is not None:
        return
    if asked.house.book.is_for_reading(asked.standing.job):
        return
    with suppress(ShutError):  # the crew gets the plan even where the book cannot keep it
        asked.house.book.append_within(
            asked.standing.job, lambda _: (Draft(Planned(plan_text(plan))),), skip=TOLD_BY_MACHINE
        )


def with_products(standing: Standing, found: Sequence[FoundProfile], house: House | None) -> Standing:
    """The job with the sheets of products that no batch has used yet, and what was learned of them."""
    known = dict(standing.profiles)
    for each in found:
        known.setdefault(each.profile.name.casefold(), each.profile)
    whole = replace(standing, profiles=known)
    return whole if house is None else house.lessons.known_to(whole, found)


def _bench(asked: PlanQuestion, ways: Ways) -> Bench:
    from mixclock.decide.plan.days.bench import Bench
    from mixclock.decide.plan.floor.sheettiming import GRID_S, SheetTiming

    standing, model = asked.standing, _bucket_model(asked)
    timing, exact = (SheetTiming(standing, model, grid_s, ways.meter) for grid_s in (GRID_S, 0))
    return Bench(standing.site, standing.profiles, timing, exact, timing, asked.begins)


def _bucket_model(asked: PlanQuestion) -> BucketModel:
    if asked.house is not None:
        return asked.house.bucket_model
    from mixclock.decide.bucketmodel import bucket_model

    return bucket_model()


def _with_other_products(asked: PlanQuestion, bench: Bench) -> Bench:
    """The bench with every product on the shelf: a plan that fails may succeed with another hardener."""
    from mixclock.decide.plan.floor.sheettiming import SheetTiming
    from mixclock.outside.profilefiles import ProfileFileError, listed, read

    shelf = []
    for entry in listed():
        try:
            shelf.append(read(entry.path))
        except ProfileFileError:
            continue  # a sheet with mistakes can't be offered; `profile list` names it
    standing = with_products(asked.standing, shelf, asked.house)
    timing, exact = (each.with_more(standing) for each in (bench.timing, bench.exact) if isinstance(each, SheetTiming))
    return replace(bench, profiles=standing.profiles, timing=timing, exact=exact, outlook=timing)


def _before(asked: PlanQuestion) -> Plan | None:
    from mixclock.decide.plan.days.planjson import plans_in

    if not asked.started:
        return None
    plans = plans_in(asked.standing.entries, asked.standing.withdrawn)
    return plans[-1] if plans else None


def _take(asked: PlanQuestion, plan: Plan) -> TakeOff:
    """What to buy for the plan's batches; where no plan fits, for the rest of the floor. Kits at hand are taken off."""
    from mixclock.decide.plan.days.advice import bought_kits
    from mixclock.decide.plan.days.planjson import plans_in
    from mixclock.decide.plan.floor.coverage import left_of, stocks_of
    from mixclock.decide.plan.floor.takeoff import take_off

    standing = asked.standing
    batches = plan.batches if plan.feasible else ()
    if not standing.batches:
        return take_off(standing.site, standing.profiles, batches)
    plans = plans_in(standing.entries, standing.withdrawn)
    bought = bought_kits(standing, plans[0]) if plans else {}
    return take_off(standing.site, standing.profiles, batches, left_of(standing), stocks_of(standing, bought))


@dataclass(frozen=True)
class _OtherFloor:
    """The floor with another product in the place of one of its own."""

    asked: PlanQuestion
    swapped: SwappedJob
    old: Profile
    new: Profile


def _with_other(asked: PlanQuestion, instead: ProductSwap) -> _OtherFloor:
    from mixclock.decide.plan.floor.systems import with_product
    from mixclock.outside.profilefiles import find

    old, found = _product_of(asked.standing, instead.old), find(instead.new)
    swapped = with_product(asked.standing.site, old, found.profile, instead.price)
    standing = replace(with_products(asked.standing, [found], asked.house), site=swapped.site)
    return _OtherFloor(replace(asked, standing=standing), swapped, old, found.profile)


def _compared(sheet: PlanSheet, other: _OtherFloor, wished: Wish, ways: Ways) -> Comparison:
    """The floor as it is, and the same with another product in place, planned from the same hour."""
    from mixclock.decide.plan.floor.systems import Comparison, System, leaves_out

    swapped, old, new = other.swapped, other.old, other.new
    plan = plan_for(other.asked, replace(wished, instead=None, sure=None), ways)
    mine = leaves_out(sheet.site, swapped.coats, old, new)
    others = leaves_out(swapped.site, swapped.coats, new, old)
    return Comparison(
        swapped.coats,
        System(old.name, sheet.plan, sheet.take, mine),
        System(new.name, plan, _take(other.asked, plan), others),
        swapped.said,
    )


def _product_of(standing: Standing, name: str) -> Profile:
    from mixclock.job.mistakes import did_you_mean, quoted
    from mixclock.job.saying import CannotTellError

    products = standing.site.products
    meant = next((product for product in products if product.casefold() == name.casefold()), None)
    profile = standing.profile(meant) if meant is not None else None
    if profile is None:
        raise CannotTellError(f"--instead: no coat of this job has {quoted(name)}; {did_you_mean(name, products)}")
    return profile
