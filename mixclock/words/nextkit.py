"""May the next kit be opened: the answer as it is said, shown and printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any

from mixclock.decide.kitshapes import Frees, KitAnswer, KitVerdict, Way, Why
from mixclock.job.dayentries import KitAsked
from mixclock.job.instants import json_text
from mixclock.job.progress import Standing
from mixclock.job.site import Site
from mixclock.job.steps import NEUTRALISE, RINSE
from mixclock.units import CrewUnits
from mixclock.words.byfinger import by_finger
from mixclock.words.enumeration import list_words
from mixclock.words.gritwords import grit_of
from mixclock.words.stepwords import words_of
from mixclock.words.times import closes_said, opens_said

TAPE_HERE = frozenset({Why.EDGE, Why.EDGE_GONE, Why.HOURS})
"""The reasons that end the work at an open wet edge."""

_DOING: Mapping[str, str] = MappingProxyType(
    {
        "roll": "rolled",
        "broadcast": "flaked",
        "scrape": "scraped and swept",
        NEUTRALISE: "neutralised",
        RINSE: "rinsed",
    }
)


def kit_short(answer: KitAnswer, site: Site, now: datetime) -> str:
    """The answer in a breath: "Yes: 6 L for bay 3, poured by 10:42", "Wait 4 minutes", "No: tape here"."""
    zone, units = site.wall, site.units
    if answer.verdict is KitVerdict.YES:
        by = f", poured by {closes_said(answer.pour_by, now, zone)}" if answer.pour_by else ""
        return f"Yes: {_bucket(answer, units)}{by}"
    if answer.verdict is KitVerdict.WAIT and answer.from_when is not None:
        wait = answer.from_when - now
        if wait < timedelta(hours=1):
            minutes = max(1, -(-int(wait.total_seconds()) // 60))
            return f"Wait {minutes} minute{'s' if minutes > 1 else ''}"
        return f"Wait until {opens_said(answer.from_when, now, zone)}"
    return f"No: {_stop(answer)}"


def _stop(answer: KitAnswer) -> str:
    if answer.edge is not None and answer.why in TAPE_HERE:
        return "tape here"
    return _STOPS[answer.why]


_STOPS: Mapping[Why, str] = MappingProxyType(
    {
        Why.FITS: "stop here",
        Why.FINISHED: "the job is finished",
        Why.DONE: "every coat is on",
        Why.NO_FILE: "the job file is lost",
        Why.HOT: "see to the hot bucket",
        Why.GONE: "see to the bucket that is gone",
        Why.NO_SHEET: "its sheet is missing",
        Why.MATERIAL: "no material is left",
        Why.BUSY: "hands are missing",
        Why.FLOOR: "the coat below is not ready",
        Why.HOURS: "the day is too short",
        Why.CONDITIONS: "the sheet forbids it now",
        Why.EDGE: "stop here",
        Why.EDGE_GONE: "tape here",
        Why.CREW: "it is too much for this crew",
    }
)


def _bucket(answer: KitAnswer, units: CrewUnits) -> str:
    strips = f" in {answer.strips} strips, each rolled before the next" if answer.strips > 1 else ""
    return f"{units.write_volume(answer.volume_l or 0.0)} for {list_words(answer.areas)}{strips}"


def kit_why(answer: KitAnswer, site: Site, now: datetime) -> str:
    """The reason for the answer in one sentence; nothing where the answer needs none."""
    told = _WHYS.get(answer.why)
    return told(answer, site, now) if told else ""


def _busy(answer: KitAnswer, site: Site, now: datetime) -> str:
    step = answer.held_by
    if step is None:
        return "the bucket that stands comes first"
    until = closes_said(step.ends, now, site.wall)
    return f"{list_words(step.areas)} is to be {_DOING.get(step.kind, step.kind)} first, until about {until}"


def _floor(answer: KitAnswer, site: Site, now: datetime) -> str:
    at = opens_said(answer.from_when, now, site.wall) if answer.from_when else "later"
    return f"what lies on {list_words(answer.areas)} takes the next coat from {at}, and only if a thumb leaves no mark"


def _hours(answer: KitAnswer, site: Site, now: datetime) -> str:
    if answer.from_when is not None:
        return f"work begins {opens_said(answer.from_when, now, site.wall)}"
    return "what is left of the working day is too short for another bucket"


def _edge(answer: KitAnswer, site: Site, now: datetime) -> str:
    by = closes_said(answer.edge_by, now, site.wall) if answer.edge_by else "soon"
    return f"the wet edge of {answer.edge} lasts until {by}, and the next bucket would come too late for it"


def _gone(answer: KitAnswer, site: Site, now: datetime) -> str:
    by = closes_said(answer.edge_by, now, site.wall) if answer.edge_by else "now"
    return f"the wet edge of {answer.edge} is gone since {by}"


def _crew(answer: KitAnswer, site: Site, now: datetime) -> str:  # noqa: ARG001
    window = f" {words_of(answer.said).window}" if answer.said else ""
    return f"even the smallest bucket can't be laid before its{window} window shuts"


_WHYS: Mapping[Why, Callable[[KitAnswer, Site, datetime], str]] = MappingProxyType(
    {
        Why.HOT: lambda answer, *_: f"batch {answer.batch} runs hot",
        Why.GONE: lambda answer, *_: f"batch {answer.batch} is past its time in the bucket",
        Why.NO_FILE: lambda *_: "the book's copy of it cannot be read; `mixclock job mend FILE` takes it in again",
        Why.NO_SHEET: lambda answer, *_: f"nobody typed in the sheet of {answer.product}",
        Why.MATERIAL: lambda answer, site, _: (
            f"{site.units.write_volume(max(0.0, answer.left_l or 0.0))} is left of what was bought"
        ),
        Why.BUSY: _busy,
        Why.FLOOR: _floor,
        Why.HOURS: _hours,
        Why.CONDITIONS: lambda answer, *_: answer.said,
        Why.EDGE: _edge,
        Why.EDGE_GONE: _gone,
        Why.CREW: _crew,
    }
)


def kit_ways(answer: KitAnswer, site: Site, now: datetime) -> list[str]:
    """What makes it a yes, each in one line."""
    return [line for way in answer.ways if (line := _way(way, answer, site, now))]


def _way(way: Way, answer: KitAnswer, site: Site, now: datetime) -> str:
    zone, units = site.wall, site.units
    at = opens_said(way.at, now, zone) if way.at and way.at > now + timedelta(seconds=60) else ""
    amount = units.write_volume(way.volume_l) if way.volume_l else ""
    said = {
        Frees.WAIT: f"Yes at {at}" + (f": {amount}" if amount else "") if at else "Yes in a minute",
        Frees.TAPE: f"Yes once {answer.edge} is taped in a straight line (`taped --on '{answer.edge}'`): "
        f"{'then ' + amount if amount else 'then ask again'}{', from ' + at if at else ''}",
        Frees.SMALLER: f"Yes to a smaller one now: {amount}, up to a taped line",
        Frees.OUTSIDE: f"Yes once it is outside, spread thin, and `dumped {answer.batch}` is stated",
        Frees.FETCH: "Yes with another kit here: put it into the job file (`spare_kits`), `job mend`, `plan`",
        Frees.OTHER_DAY: f"Yes {at}" if at else "Yes on another day: put it into the job file's hours",
        Frees.CONDITIONS: "Yes once a reading is within the sheet's limits again",
        Frees.SHEET: "Yes once you have typed in its sheet: `profile write`",
        Frees.HANDS: "Yes with one more pair of hands, a cooler hour or kits that may be split: `plan` says which",
    }
    return said[way.what]


def kit_beside(answer: KitAnswer, site: Site, now: datetime) -> Iterator[str]:
    """What is worth knowing beside the answer."""
    if answer.verdict is KitVerdict.YES and answer.mix_at is not None:
        yield f"Part B goes in at about {closes_said(answer.mix_at, now, site.wall)}; mixclock checks again then"
    grit = _grit(answer, site)
    if grit is not None:
        yield f"{grit} for it: weigh it out before part B goes in, stir it up every few minutes"
    yield from (f"{said[:1].upper()}{said[1:]}" for said in answer.paced)
    if answer.went:
        yield answer.went
    if answer.verdict is KitVerdict.YES and answer.left_l is not None and answer.volume_l is not None:
        left_l = answer.left_l - answer.volume_l
        if left_l >= 0.0:
            yield f"{site.units.write_volume(left_l)} is left after it"


def _grit(answer: KitAnswer, site: Site) -> str | None:
    """The grit that goes into the bucket that may be mixed."""
    if answer.verdict is not KitVerdict.YES or answer.coat is None:
        return None
    return grit_of(site.coat(answer.coat), answer.volume_l, site.units)


def kit_said(answer: KitAnswer, site: Site, now: datetime) -> str:
    """The answer for the ear: what, why, and of a no what makes it a yes."""
    why = kit_why(answer, site, now) if answer.verdict is not KitVerdict.YES else ""
    ways = kit_ways(answer, site, now)[:1] if answer.verdict is KitVerdict.NO else []
    grit = _grit(answer, site)
    spoken = [f"{kit_short(answer, site, now)}.", f"{grit}." if grit else "",
              f"{why[:1].upper()}{why[1:]}." if why else "", *(f"{way}." for way in ways)]  # fmt: skip
    return " ".join(by_finger(part) for part in spoken if part)


def kit_lines(answer: KitAnswer, site: Site, now: datetime) -> list[str]:
    """The answer as it is printed."""
    why = kit_why(answer, site, now)
    ways = kit_ways(answer, site, now) if answer.verdict is not KitVerdict.YES else []
    return [
        kit_short(answer, site, now),
        *([f"Why: {why}"] if why else []),
        *([f"{ways[0]}"] if ways else []),
        *(f"Or: {way[:1].lower()}{way[1:]}" for way in ways[1:]),
        *kit_beside(answer, site, now),
    ]


def kit_json(answer: KitAnswer, site: Site, now: datetime) -> dict[str, Any]:
    """The answer for a program."""
    instant: Callable[[datetime | None], str | None] = lambda at: json_text(at) if at else None  # noqa: E731
    wait_s = (answer.from_when - now).total_seconds() if answer.from_when else None
    return {
        "at": json_text(now),
        "answer": answer.verdict.value,
        "why": answer.why.value,
        "said": kit_short(answer, site, now),
        "because": kit_why(answer, site, now),
        "ways": kit_ways(answer, site, now) if answer.verdict is not KitVerdict.YES else [],
        "beside": list(kit_beside(answer, site, now)),
        "coat": answer.coat,
        "product": answer.product,
        "areas": list(answer.areas),
        "volume_l": answer.volume_l,
        "mass_kg": answer.mass_kg,
        "strips": answer.strips,
        "mix_at": instant(answer.mix_at),
        "pour_by": instant(answer.pour_by),
        "wait_s": max(0.0, wait_s) if wait_s is not None else None,
        "from": instant(answer.from_when),
        "edge": answer.edge,
        "edge_by": instant(answer.edge_by),
        "pace": round(answer.pace.factor, 3),
        "pace_batches": answer.pace.batches,
    }


def kit_entry(answer: KitAnswer, standing: Standing, now: datetime) -> KitAsked:
    """The question with its answer, as it stands in the record."""
    said = kit_said(answer, standing.site, now)
    return KitAsked(answer.verdict.value, answer.why.value, answer.coat, answer.areas, answer.volume_l, said)
