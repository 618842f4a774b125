"""A crew at work outside the hours of its job file, as on a Sunday. Whoever is there needs no leave from a file.

A plan that knew only the file's hours would go on next morning, when no wet edge lives any more, and find that nothing
fits. So the present day counts as well, and the crew is told that, and where to tape if it stops instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.days.bench import Standpoint
from mixclock.decide.plan.floor.conditions import Stretch, working_days, working_stretches
from mixclock.decide.plan.floor.placenames import areas_said
from mixclock.decide.tracks import Track
from mixclock.job import practice
from mixclock.job.progress import Batch, Standing
from mixclock.job.site import Site
from mixclock.job.steps import WET_EDGE
from mixclock.values import dataclass

AT_IT = timedelta(hours=1)
LATE_WORK = timedelta(hours=3)
"""Whoever mixed within the last hour is still at work, and may go on for this long (judgement)."""


@dataclass(frozen=True)
class OutsideHours:
    """The time that the crew works beside its hours, and what to say of it."""

    worked: Stretch
    said: str


def is_at_it(batches: Iterable[Batch], now: datetime) -> bool:
    """Whether somebody mixed one of these buckets within the last hour."""
    return any(timedelta() <= now - batch.combined.at < AT_IT for batch in batches)


def mixed_lately(standing: Standing, now: datetime) -> bool:
    """Whether somebody mixed a bucket for the floor within the last hour."""
    return is_at_it((batch for batch in standing.batches if batch.spot is None), now)


def beside_hours(site: Site, now: datetime) -> Stretch:
    """The time that counts for a crew that is at work outside its hours: to the end of the day's hours where they are
    still to come, and for some hours at least."""
    day_ends = datetime.combine(now.astimezone(site.wall).date(), practice.hours(site).value.end, site.wall)
    return Stretch(now, max(day_ends.astimezone(now.tzinfo), now + LATE_WORK))


def outside_hours(
    standing: Standing, tracks: Sequence[Track], standpoint: Standpoint, now: datetime
) -> OutsideHours | None:
    """The time that counts beside the hours; None within them, and where nothing tells that anybody is at work.

    A bucket of the last hour tells that on a day without work. After hours it may have been the last, so there only a
    wet edge that the next bucket must meet counts.
    """
    site, zone = standing.site, standing.site.wall
    if any(stretch.holds(now) for stretch in working_stretches(site, now)):
        return None
    is_day = now.astimezone(zone).date() in working_days(site, now)
    if not standpoint.joined_by and (is_day or not mixed_lately(standing, now)):
        return None
    worked = beside_hours(site, now)
    return OutsideHours(worked, f"{_why(site, now, is_day)}; {_planned(standing, tracks, standpoint, worked)}")


def _why(site: Site, now: datetime, is_day: bool) -> str:
    hours, there = practice.hours(site).value, now.astimezone(site.wall)
    if not is_day:
        return f"{there:%a} {there.day} is no working day by the job file"
    edge = hours.end if there.time() >= hours.end else hours.start
    said = site.units.write_clock(datetime.combine(there.date(), edge, site.wall), site.wall)
    return f"work {'ends' if edge == hours.end else 'begins'} at {said} by the job file"


def _planned(standing: Standing, tracks: Sequence[Track], standpoint: Standpoint, worked: Stretch) -> str:
    """Until when it is planned all the same, and what ends the work sooner."""
    site = standing.site
    until = site.units.write_clock(worked.end, site.wall)
    if not standpoint.joined_by:
        return f"you are at work, so today is planned until {until} all the same"
    met = {area for _, area in standpoint.joined_by}
    wet = [
        track.area for track in tracks
        if track.name == WET_EDGE and track.stated is None and track.area is not None
        and met & {track.area, *track.neighbours}
    ]  # fmt: skip
    where = areas_said(tuple(dict.fromkeys(wet))) if wet else areas_said(tuple(sorted(met)))
    return (
        f"the edge of {where} is wet, so it is planned until {until} all the same; to stop sooner, tape a straight "
        "line there first"
    )
