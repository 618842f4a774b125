"""All jobs that are under way on one page, for a foreman: only to be looked at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from html import escape
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.job.instants import json_text, utc_from
from mixclock.job.steps import AREA_WINDOWS, POUR_OUT
from mixclock.outside.whichjob import LIVE_FOR
from mixclock.values import replace
from mixclock.wiring import House
from mixclock.words.nowjson import now_json
from mixclock.words.times import day_and_clock

OFFICE = "the office"
"""Who holds a phone that only looks."""

THIS_WEEK = timedelta(days=7)

Json = dict[str, Any]


def jobs_told(house: House, now: datetime) -> list[Json]:
    """Every job that is under way, ours or another van's: what is in a bucket, what is due, who heard, what opens."""
    since = now - LIVE_FOR
    book = house.book
    lines = [
        line for line in book.open_jobs() if line.stated > since and (line.own or not book.is_for_reading(line.name))
    ]
    return [_job_told(house, line.name, line.last, now) for line in lines]


def _job_told(house: House, job: str, last: datetime, now: datetime) -> Json:
    standing = house.standing(job)
    others = frozenset(batch.origin.book for batch in standing.batches if batch.origin is not None)
    standing = replace(standing, also_called=others)  # the office looks at all vans
    told = now_json(standing, house.tracks(standing), now)
    return {
        "job": job,
        "zone": standing.site.zone,
        "last_entry": json_text(last),
        "in_bucket": [_in_bucket(batch) for batch in told["batches"] if batch["stage"] in ("mixed", "standing")],
        "due": [_due(alert) for alert in told["alerts"]],
        "opens": sorted(_openings(told, now), key=lambda each: str(each["from"])),
    }


def _in_bucket(batch: Mapping[str, Any]) -> Json:
    pour = next((window for window in batch["windows"] if window["name"] == POUR_OUT), None)
    by = pour["closes"]["early"] if pour is not None and pour["closes"] else None
    kept = {key: batch[key] for key in ("number", "van", "product", "areas", "mixed_at")}
    return {"batch": batch["id"], **kept, "pour_by": by}


def _due(alert: Mapping[str, Any]) -> Json:
    heard = {"heard_by": alert["heard_by"], "reached": list(alert["delivered"])}
    return {**{key: alert[key] for key in ("text", "rank", "stage", "due")}, **heard}


def _openings(told: Mapping[str, Any], now: datetime) -> Iterator[Json]:
    """Which floor opens for what within a week."""
    for area in told["areas"]:
        for window in area["windows"]:
            opens = window["opens"]
            at = opens and (opens["late"] or opens["likely"])
            if window["name"] in AREA_WINDOWS and at and now < utc_from(at) <= now + THIS_WEEK:
                yield {"area": area["name"], "coat": area["coat"], "what": window["name"], "from": at}


def office_lines(jobs: Sequence[Json], now: datetime) -> Iterator[str]:
    """The same for a terminal."""
    if not jobs:
        yield "No job is under way."
    for job in jobs:
        yield f"{job['job']}  (last entry {_clock(job, job['last_entry'], now)})"
        yield from (f"  {line}" for line in _said(job, now))


def office_page(jobs: Sequence[Json], now: datetime) -> str:
    """The same as a page that looks again by itself; nothing on it can be pressed."""
    parts = []
    for job in jobs:
        items = "".join(f"<li>{escape(line)}</li>" for line in _said(job, now))
        last = escape(_clock(job, job["last_entry"], now))
        parts.append(f"<section><h2>{escape(job['job'])}</h2><p>last entry {last}</p><ul>{items}</ul></section>")
    body = "".join(parts) or "<p>No job is under way.</p>"
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>All jobs</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta http-equiv="refresh" content="20"><link rel="stylesheet" href="/static/office.css"></head>'
        f"<body><main><h1>All jobs under way</h1>{body}</main></body></html>"
    )


def _said(job: Json, now: datetime) -> Iterator[str]:
    for bucket in job["in_bucket"]:
        van = f" of {bucket['van']}" if bucket["van"] else ""
        by = f", pour by {_clock(job, bucket['pour_by'], now)}" if bucket["pour_by"] else ""
        yield f"In a bucket: batch {bucket['number']}{van}, {bucket['product']}, {' and '.join(bucket['areas'])}{by}"
    for due in job["due"]:
        heard = f"heard by {due['heard_by']}" if due["heard_by"] else "nobody heard it yet"
        yield f"{'LATE' if due['stage'] in ('late', 'lost') else 'Due'}: {due['text']} ({heard})"
    for opens in job["opens"]:
        what = opens["what"].replace("-", " ")
        yield f"Opens: {opens['area']}, {what}, from {_clock(job, opens['from'], now)}"
    if not (job["in_bucket"] or job["due"] or job["opens"]):
        yield "Nothing runs."


def _clock(job: Json, at: str, now: datetime) -> str:
    return day_and_clock(utc_from(at), now, ZoneInfo(job["zone"]))
