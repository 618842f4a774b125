"""What is to be planned, read from a job file or from the book: every mistake at once, one line each."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from mixclock.cli.planasking import PlanQuestion, with_products
from mixclock.cli.plantyped import Wish, begins_at
from mixclock.values import replace

FORECAST = "forecast"

if TYPE_CHECKING:
    from mixclock.job.mistakes import Mistake
    from mixclock.job.profile import Profile
    from mixclock.job.site import Site
    from mixclock.outside.profilefiles import FoundProfile
    from mixclock.wiring import House


def of_file(file: Path, house: House | None, wished: Wish) -> PlanQuestion:
    """A job that is not started: nothing has been stated, no book is written."""
    from mixclock.decide.plan.floor.sheettiming import blank_standing
    from mixclock.outside.clock import SystemClock
    from mixclock.outside.jobtexts import job_text_of

    site, products = _checked(job_text_of(file), str(file))
    now = (house.clock if house is not None else SystemClock()).now()
    standing = with_products(blank_standing(site, {}), products, house)
    begins = begins_at(wished.begin, site, now)
    _refuse_days_gone(site, begins or now)
    return PlanQuestion(standing, begins or now, house, started=False)


def of_job(house: House, wished: Wish) -> PlanQuestion:
    """A job as it stands in the book."""
    from mixclock.decide.plan.days.outsidehours import mixed_lately
    from mixclock.job.saying import CannotTellError

    house.which.settle()
    standing = house.standing()
    lines, products = _products(standing.site, frozenset(standing.profiles))
    wrong = _plan_mistakes(standing.site, products, dict(standing.profiles))
    _refuse([*lines, *(mistake.line(standing.site.name) for mistake in wrong)])
    now = house.clock.now()
    begins = begins_at(wished.begin, standing.site, now)
    if begins is not None and begins < now and standing.batches:
        raise CannotTellError(
            "--begin: that time is past, and buckets are under way; leave --begin out, and the rest is planned from now"
        )
    if not mixed_lately(standing, begins or now):
        _refuse_days_gone(standing.site, begins or now)
    return PlanQuestion(with_products(standing, products, house), begins or now, house, started=True)


def _checked(text: str, file: str) -> tuple[Site, list[FoundProfile]]:
    """The job of a text with its products. The error lists all mistakes, of the file and of the sheets it needs."""
    from mixclock.job.sitereading import try_site
    from mixclock.outside.jobs import needs_film

    site, mistakes = try_site(text, needs_film=needs_film)
    lines = [mistake.line(file) for mistake in mistakes]
    if site is None:
        _refuse(lines)
    assert site is not None
    missing, products = _products(site, frozenset())
    told = {mistake.where for mistake in mistakes}
    further = [
        each
        for each in _plan_mistakes(_readable(site), products, {})
        if each.where not in told
        or each.where == FORECAST  # one sheet may lack several figures, and each lack is said once
    ]
    _refuse([*lines, *missing, *(each.line(file) for each in further)])
    return site, products


def _readable(site: Site) -> Site:
    """Of a job file with mistakes, the part that can still be used."""
    from mixclock.outside.jobs import needs_film

    coats = tuple(coat for coat in site.coats if coat.wet_film_um or coat.spread_m2_l or not needs_film(coat.product))
    readable = replace(site, coats=coats, areas=tuple(area for area in site.areas if area.size_m2 > 0.0))
    return readable if site.zone else replace(readable, zone="UTC", forecast=())


def _products(site: Site, known: frozenset[str]) -> tuple[list[str], list[FoundProfile]]:
    """What is wrong with the sheets of the products that the job asks for, and those that can be read."""
    from mixclock.outside.profilefiles import ProfileFileError, find

    lines: list[str] = []
    found: list[FoundProfile] = []
    for product in site.products:
        if product and product.casefold() not in known:
            try:
                found.append(find(product))
            except ProfileFileError as error:
                lines += error.lines
    return lines, found


def _plan_mistakes(site: Site, products: list[FoundProfile], known: dict[str, Profile]) -> list[Mistake]:
    """What is wrong for a plan, of the coats whose product is known."""
    from mixclock.decide.plan.floor.checks import check_plan
    from mixclock.job.mistakes import Mistakes

    profiles = {**{each.profile.name.casefold(): each.profile for each in products}, **known}
    coats = tuple(coat for coat in site.coats if coat.product.casefold() in profiles)
    try:
        check_plan(replace(site, coats=coats), profiles)
    except Mistakes as mistakes:
        return list(mistakes.found)
    return []


def _refuse(lines: list[str]) -> None:
    from mixclock.outside.profilefiles import ProfileFileError

    if lines:
        raise ProfileFileError(*dict.fromkeys(lines))


def _refuse_days_gone(site: Site, begins: datetime) -> None:
    """Refuse days that are over: a plan for them could only say that no hours are left."""
    from mixclock.job.saying import CannotTellError

    hours = site.hours
    if hours is not None and hours.days and max(hours.days) < begins.astimezone(site.wall).date():
        first = f"{min(hours.days)} {hours.start:%H:%M}"
        raise CannotTellError(
            f"hours.days: the last of them, {max(hours.days)}, is over; write days to come, or say --begin '{first}'"
        )
