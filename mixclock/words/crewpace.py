"""A crew's rates as its job file states them, beside what its past jobs tell: for a terminal and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from mixclock.decide.kitshapes import DayPace
from mixclock.decide.plan.days.asitwent import PastPace, believed
from mixclock.decide.plan.days.pace import at_pace
from mixclock.job import practice
from mixclock.job.site import Person, Site
from mixclock.job.steps import BACK_ROLL

RATES = (
    ("squeegee", "squeegee_m2_h", practice.squeegee_rate_m2_h),
    (BACK_ROLL, "roll_m2_h", practice.roll_rate_m2_h),
    ("flake", "broadcast_m2_h", practice.broadcast_rate_m2_h),
    ("cut in", "cut_in_m_h", practice.cut_in_rate_m_h),
)


def pace_lines(site: Site, past: Sequence[PastPace]) -> Iterator[str]:
    """Each rate as the job file states it (else the usual one), the rate that a plan takes, and the jobs behind it."""
    pace = believed(past)
    by_name = {person.name: person for person in at_pace(site, pace).crew}
    for person in practice.crew(site).value:
        yield f"{person.name}"
        for said, key, rate in RATES:
            stated = getattr(person, key) is not None
            own, now = rate(person), rate(by_name.get(person.name, person))
            told = f"{_rate(site, key, own)} {'stated' if stated else 'as is usual'}"
            yield f"  {said:<10} {told}{f', planned with {_rate(site, key, now)}' if pace.worth_saying else ''}"
    if not past:
        yield "No finished job of this crew tells how fast it is: its stated rates count."
        return
    for each in past:
        yield f"{each.job}: {_told(each.pace)}{'  (dropped)' if each.dropped else ''}"
    yield from _believed_said(pace)


def pace_json(site: Site, past: Sequence[PastPace]) -> dict[str, Any]:
    """The same for programs: the minutes taken for each minute of the stated rates, for each job and for all."""
    pace = believed(past)
    faster = at_pace(site, pace) if pace.worth_saying else site
    return {
        "factor": round(pace.factor, 3) if pace.worth_saying else 1.0,
        "buckets": pace.batches,
        "jobs": [
            {
                "job": each.job,
                "factor": round(each.pace.factor, 3),
                "buckets": each.pace.batches,
                "dropped": each.dropped,
            }
            for each in past
        ],
        "crew": [
            {"name": person.name, "stated": _stated(person), "planned": _planned(now)}
            for person, now in zip(practice.crew(site).value, practice.crew(faster).value, strict=True)
        ],
    }


def dropped_said(each: PastPace) -> str:
    """What is said when a job's pace is dropped."""
    return (
        f"What {each.job} told of this crew's pace ({_told(each.pace)}) does not count any more.\n"
        f"`mixclock withdraw --job '{each.job}'` says which entry to withdraw if you want it back."
    )


def _stated(person: Person) -> dict[str, float | None]:
    return {key: getattr(person, key) for _, key, _ in RATES}


def _planned(person: Person) -> dict[str, float]:
    return {key: round(rate(person), 2) for _, key, rate in RATES}


def _rate(site: Site, key: str, value: float) -> str:
    return site.units.write_edge_rate(value) if key == "cut_in_m_h" else site.units.write_rate(value)


def _told(pace: DayPace) -> str:
    buckets = f"{pace.batches} bucket{'s' if pace.batches != 1 else ''}"
    if not pace.worth_saying:
        return f"about as stated, {buckets}"
    return f"{abs(pace.factor - 1.0) * 100:.0f} % {'longer' if pace.factor > 1.0 else 'less'} than stated, {buckets}"


def _believed_said(pace: DayPace) -> Iterator[str]:
    if not pace.batches:
        yield "Too few buckets tell the pace, or you dropped them all: the stated rates count."
    elif not pace.worth_saying:
        yield f"In all about as stated ({pace.batches} buckets): the stated rates count."
    else:
        yield f"A new job is planned with {_told(pace)}: that leans towards the rates above."
        yield "`mixclock job drop-learned` goes back to those."
