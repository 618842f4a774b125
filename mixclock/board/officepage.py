"""What a foreman reads of all jobs: lines for a terminal, and a page on which nothing can be pressed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from html import escape
from zoneinfo import ZoneInfo

from mixclock.board.office import LATE, JobLook, Json
from mixclock.job.instants import utc_from
from mixclock.values import dataclass
from mixclock.words.enumeration import list_words
from mixclock.words.stepwords import next_words
from mixclock.words.times import closes_said, day_and_clock, opens_said


@dataclass(frozen=True)
class ForemanLine:
    """One thing that a foreman is told: its mark, the words, and the detail behind them."""

    mark: str
    words: str
    behind: str = ""

    def __str__(self) -> str:
        return f"{self.mark}: {self.words}{f' ({self.behind})' if self.behind else ''}"


def office_lines(looks: Sequence[JobLook], now: datetime) -> Iterator[str]:
    """Lines for a terminal: first how much is late, then job by job."""
    yield summary_of(looks)
    for look in looks:
        yield ""
        yield f"{look.told['job']}  ({_when(look, looks, now)})"
        yield from (f"  {line}" for line in foreman_lines(look, now))


def office_page(looks: Sequence[JobLook], now: datetime, trouble: str = "") -> str:
    """The same as a page that looks again by itself; `trouble` is what the laptop has to say of itself."""
    body = "".join(_section(look, looks, now) for look in looks)
    sorry = f'<p class="trouble" role="alert">{escape(trouble)}</p>' if trouble else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>All jobs</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">'
        '<meta name="color-scheme" content="light dark"><link rel="icon" href="/static/mark.svg" type="image/svg+xml">'
        '<link rel="stylesheet" href="/static/office.css">'
        '<noscript><meta http-equiv="refresh" content="20"></noscript><script type="module" src="/static/office.js">'
        '</script></head><body><p id="silence" class="trouble" role="alert" hidden></p>'
        f"<main><h1>All jobs under way</h1>{sorry}"
        f'<p class="sum">{escape(summary_of(looks))}</p><div class="floors">{body}</div></main>'
        '<footer>This page only looks. <a href="/#who">Who holds this phone?</a></footer></body></html>'
    )


def summary_of(looks: Sequence[JobLook]) -> str:
    """How much runs, in one line."""
    if not looks:
        return "No job is under way."
    late = sum(due["stage"] in LATE for look in looks for due in look.told["due"])
    buckets = sum(len(look.told["in_bucket"]) for look in looks)
    said = [_count(len(looks), "job"), _count(buckets, "bucket"), f"{late} late" if late else "nothing is late"]
    return f"{', '.join(said)}."


def _count(count: int, what: str) -> str:
    return f"{count or 'no'} {what}{'' if count == 1 else 's'}"


def foreman_lines(look: JobLook, now: datetime) -> Iterator[ForemanLine]:
    """What is told of one job: what is late, what is due, the buckets, the floors."""
    told = look.told
    if told["trouble"]:
        yield ForemanLine("LOOK OUT", f"this job can't be worked out: {told['trouble']}")
        return
    late = [due for due in told["due"] if due["stage"] in LATE]
    yield from (_late(look, due, now) for due in late)
    yield from (_late(look, due, now) for due in told["due"] if due["stage"] not in LATE)
    yield from (_bucket(look, bucket, now) for bucket in told["in_bucket"])
    for floor in told["open"]:
        until = closes_said(utc_from(floor["until"]), now, look.wall)
        yield ForemanLine("Open", f"{_floor(floor)} until {until}")
    for floor in told["opens"]:
        at = opens_said(utc_from(floor["from"]), now, look.wall)
        behind = "" if floor["poured"] else "not poured yet"
        yield ForemanLine("Opens", f"{_floor(floor)} from {at}", behind)
    if not (told["in_bucket"] or told["due"] or told["open"] or told["opens"]):
        yield ForemanLine("Nothing runs", "no bucket, nothing due, no floor opens this week")


def _late(look: JobLook, due: Json, now: datetime) -> ForemanLine:
    late = due["stage"] in LATE
    since = day_and_clock(utc_from(due["due"]), now, look.wall)
    whose = f", for {due['who']}" if due["who"] else ""
    return ForemanLine("LATE" if late else "Due", due["text"], f"since {since}{whose}; {_heard(look, due, now)}")


def _heard(look: JobLook, due: Json, now: datetime) -> str:
    if due["heard_by"]:
        return f"heard by {due['heard_by']}"
    if due["van"]:  # nobody here knows what was stated there since
        up_to = next((van["up_to"] for van in look.told["vans"] if van["van"] == due["van"]), None)
        known = f" of {day_and_clock(utc_from(up_to), now, look.wall)}" if up_to else ""
        return f"as {due['van']}'s file{known} has it"
    reached = f"; called by {list_words(due['reached'])}" if due["reached"] else ""
    return f"nobody heard it yet{reached}"


def _bucket(look: JobLook, bucket: Json, now: datetime) -> ForemanLine:
    van = f" of {bucket['van']}" if bucket["van"] else ""
    by = f", pour by {closes_said(utc_from(bucket['pour_by']), now, look.wall)}" if bucket["pour_by"] else ""
    amount = look.units.write_volume(bucket["amount_l"]) if bucket["amount_l"] else ""
    what = " of ".join(filter(None, (amount, bucket["product"])))
    whose = f"mixed by {bucket['by']}" if bucket["by"] else ""
    return ForemanLine(
        "In a bucket", f"batch {bucket['number']}{van}, {what}, {list_words(bucket['areas'])}{by}", whose
    )


def _floor(floor: Json) -> str:
    return f"{floor['area']}, {next_words(floor['what'])}"


def _when(look: JobLook, looks: Sequence[JobLook], now: datetime) -> str:
    """The time on that floor, with its place if the jobs have several clocks, and when somebody last stated."""
    last = day_and_clock(utc_from(look.told["last_stated"]), now, look.wall)
    here = day_and_clock(now, now, look.wall)
    place = str(look.wall.key or "").rpartition("/")[2].replace("_", " ")
    apart = len({each.told["zone"] for each in looks}) > 1
    there = f"{here} in {place}; " if apart else f"{here}; "
    vans = "".join(f"; {van['van']} told up to {_van_clock(van, look.wall, now)}" for van in look.told["vans"])
    return f"{there}last stated {last}{vans}"


def _van_clock(van: Json, wall: ZoneInfo, now: datetime) -> str:
    return day_and_clock(utc_from(van["up_to"]), now, wall)


def _section(look: JobLook, looks: Sequence[JobLook], now: datetime) -> str:
    rows = "".join(
        f'<li class="{escape(line.mark.split()[0].lower())}"><b>{escape(line.mark)}</b> <span>{escape(line.words)}'
        f"{f'<small>{escape(line.behind)}</small>' if line.behind else ''}</span></li>"
        for line in foreman_lines(look, now)
    )
    when = escape(_when(look, looks, now))
    mark = ' class="urgent"' if look.is_late else ""
    return f"<section{mark}><h2>{escape(look.told['job'])}</h2><p>{when}</p><ul>{rows}</ul></section>"
