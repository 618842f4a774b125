"""The questions of a round as they are asked, with the sheet's figures and what is known of tonight and tomorrow."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from mixclock.decide.conditions import LEAST_MARGIN_K
from mixclock.decide.hours import local
from mixclock.decide.nextcoat import SANDED_SAID
from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.weather import weather
from mixclock.decide.windows import area_windows, seen_at
from mixclock.formulas.air import dew_margin_k
from mixclock.job.dayentries import Answered
from mixclock.job.entry import Did, Entry, Reading
from mixclock.job.instants import json_text
from mixclock.job.profile import Limits
from mixclock.job.progress import Standing
from mixclock.job.rounds import RoundItem, RoundName, Takes, items_of
from mixclock.job.site import Coat, Site
from mixclock.job.slabmoisture import EMISSION_G_M2_D, IN_SLAB_HUMIDITY_PCT
from mixclock.job.statements.rounds import coat_to_come, usual_strength
from mixclock.job.steps import RECOAT, SCRAPE, TACK_FREE
from mixclock.units import CrewUnits
from mixclock.units.vapour import write_vapour
from mixclock.values import dataclass
from mixclock.words.enumeration import list_words
from mixclock.words.times import closes_said, day_and_clock, opens_said

NOT_RECORDED = "not recorded"

EVERY_DAY = frozenset({"pails", "tools", "sprinklers", "others", "way out", "dump spot"})
"""The questions whose answers may change overnight. `ready` asks the others once a job."""

SCRAPED, CONDITIONS = "scraped", "conditions"
"""The morning's questions that another statement answers, such as a reading or a scrape."""

NIGHT = timedelta(hours=14)
SAMPLED_EVERY = timedelta(minutes=30)


@dataclass(frozen=True)
class RoundQuestion:
    """One question as it is asked now, and the entry that answers it."""

    item: RoundItem
    ask: str
    entry: Entry | None = None

    @property
    def answered(self) -> Answered | None:
        """The answer that counts: what somebody answered, or else the statement that answers it."""
        facts = self.entry.facts if self.entry is not None else None
        if facts is None or isinstance(facts, Answered):
            return facts
        return Answered("", self.item.name, "stated", True)


def questions(standing: Standing, tracks: Sequence[Track], name: RoundName, now: datetime) -> list[RoundQuestion]:
    """The questions of a round; `standing` holds the sheets of all coats, also of those not mixed so far."""
    coat = coat_to_come(standing)
    coats = standing.site.coats
    flake = any(each.flake_kg_m2 for each in coats)
    texture = any(each.grit_g_l for each in coats)
    filled = _Figures(standing, tracks, now, coat)
    return [
        RoundQuestion(item, " ".join(item.ask.format_map(filled).split()), _answer(standing, name, item, now))
        for item in items_of(name, flake, texture)
    ]


def warning_of(facts: Answered, item: RoundItem | None) -> str | None:
    """What mixclock says to a bad answer; nothing to a good one."""
    return f"{item.name}: {item.warn}" if facts.fine is False and item is not None else None


def question_lines(asked: Sequence[RoundQuestion], standing: Standing, now: datetime) -> list[str]:
    """A round as it is printed: each question with its answer, what is bad with what to do."""
    zone = standing.site.wall
    return [line for each in asked for line in _lines(each, now, zone)]


def _lines(each: RoundQuestion, now: datetime, zone: ZoneInfo) -> Iterator[str]:
    told = each.answered
    if told is None or each.entry is None:
        yield f"{each.item.name}: {NOT_RECORDED}. {each.ask}"
        return
    by = f" by {each.entry.by}" if each.entry.by else ""
    yield f"{each.item.name}: {told.answer}{by}, {day_and_clock(each.entry.happened, now, zone)}"
    warned = warning_of(told, each.item)
    if warned is not None:
        yield f"  Look out: {warned.partition(': ')[2]}"


def round_json(asked: Sequence[RoundQuestion], name: RoundName) -> list[dict[str, Any]]:
    """A round for a program, and for the page: each answer with the statement that it makes."""
    return [
        {
            "item": each.item.name,
            "ask": each.ask,
            "takes": each.item.takes.value if each.item.takes else None,
            "answers": [
                {"label": answer, "fine": fine,
                 "statement": {"verb": name.value, "item": each.item.name, "answer": answer}}
                for answers, fine in ((each.item.fine, True), (each.item.bad, False))
                for answer in answers
            ],
            "answer": each.answered.answer if each.answered else None,
            "fine": each.answered.fine if each.answered else None,
            "warning": warning_of(each.answered, each.item) if each.answered else None,
            "at": json_text(each.entry.happened) if each.entry else None,
        }
        for each in asked
    ]  # fmt: skip


def _answer(standing: Standing, name: RoundName, item: RoundItem, now: datetime) -> Entry | None:
    today = local(standing.site, now).date()
    for entry in reversed(standing.live()):
        facts = entry.facts
        if isinstance(facts, Answered) and (facts.round, facts.item) == (name.value, item.name):
            lasts = name is RoundName.READY and item.name not in EVERY_DAY
            fresh = lasts or local(standing.site, entry.happened).date() == today
            if fresh:
                return entry
            break
    todays = [entry for entry in standing.live() if local(standing.site, entry.happened).date() == today]
    return answered_by_statement(name, item.name, todays)


def answered_by_statement(name: RoundName, item: str, todays: Sequence[Entry]) -> Entry | None:
    """Today's statements that answer a question: nobody is asked what they have said already."""
    if name is not RoundName.MORNING:
        return None
    if item == SCRAPED:
        return next(
            (each for each in reversed(todays) if isinstance(each.facts, Did) and each.facts.step == SCRAPE), None
        )
    if item != CONDITIONS:
        return None
    read = [each for each in todays if isinstance(each.facts, Reading) and each.facts.batch is None]
    slab = [each for each in read if isinstance(each.facts, Reading) and each.facts.slab_c is not None]
    air = any(isinstance(each.facts, Reading) and each.facts.air_c is not None for each in read)
    return slab[-1] if slab and air else None


class _Figures:
    """Fills the braces in the questions. It works each value out only when a question asks for it."""

    def __init__(self, standing: Standing, tracks: Sequence[Track], now: datetime, coat: Coat | None) -> None:
        self.standing, self.tracks, self.now, self.coat = standing, tracks, now, coat

    def __getitem__(self, name: str) -> str:
        return _FIGURES[name](self)

    @property
    def site(self) -> Site:
        return self.standing.site

    @property
    def zone(self) -> ZoneInfo:
        return self.site.wall

    @property
    def limits(self) -> Limits:
        profile = self.standing.profile(self.coat.product) if self.coat else None
        return profile.limits if profile else Limits()

    def moisture(self) -> str:
        us = self.site.units.system == "US"
        percent, vapour = self.limits.moisture_max_pct, self.limits.vapour_max_g_m2_d
        stated = [
            *([f"{percent:g} %"] if percent is not None else []),
            *([write_vapour(vapour, us)] if vapour is not None else []),
        ]
        if stated:
            return f"The sheet allows {' or '.join(stated)}"
        usual = f"{IN_SLAB_HUMIDITY_PCT:g} % in the slab or {write_vapour(EMISSION_G_M2_D, us)} is usual"
        return f"The sheet doesn't say; {usual}"

    def strength(self) -> str:
        return usual_strength(self.site.units)

    def material(self) -> str:
        allowed = self.limits.material_c
        if allowed is None:
            return "the sheet doesn't say how warm; near the room's warmth is usual"
        return (
            f"the sheet asks for {self.site.units.write_temp(allowed[0])} to {self.site.units.write_temp(allowed[1])}"
        )

    def tack_free(self) -> str:
        last = self._tack_free_at()
        wet = self._wet()
        if not wet:
            return "Nothing is wet."
        if last is None:
            return f"{list_words(sorted({track.area or '' for track in wet}))}: the sheet doesn't say when tack free."
        if last <= self.now:
            return "It should be tack free by now."
        return f"Tack free about {opens_said(last, self.now, self.zone)}."

    def _wet(self) -> list[Track]:
        return [track for track in self.tracks if track.area is not None and not track.provisional
                and self.now - track.starts < timedelta(days=2) and track.starts <= self.now]  # fmt: skip

    def _tack_free_at(self) -> datetime | None:
        seen = [seen_at(track, self.now, ripe=False) for track in self._wet() if track.name == TACK_FREE]
        opens = [window.open_from for window in seen if window.state is not State.DONE and window.open_from is not None]
        return max(opens, default=None)

    def dew(self) -> str:
        until = self._tack_free_at()
        until = until if until is not None and until > self.now else self.now + NIGHT
        least = self._least_margin(until)
        span = f"until {opens_said(until, self.now, self.zone)}"
        if least is None:
            return f"Dew {span}: not known without a forecast and a reading of the slab."
        at, margin_k = least
        units = self.site.units
        if margin_k <= 0.0:
            return f"Dew falls on it {span} by the forecast: at about {closes_said(at, self.now, self.zone)}."
        said = f"Least dew margin {span} by the forecast: {units.write_margin(margin_k)}"
        close = (
            f", under the {units.write_margin(LEAST_MARGIN_K)} that is asked for" if margin_k < LEAST_MARGIN_K else ""
        )
        return f"{said} at {closes_said(at, self.now, self.zone)}{close}."

    def _least_margin(self, until: datetime) -> tuple[datetime, float] | None:
        ahead = [each for each in self.site.forecast if each.at > self.now]
        known = weather(self.standing, None)
        if not ahead or known.slab_source != "slab":
            return None
        found = []
        at = self.now
        while at <= until:
            try:
                margin_k = dew_margin_k(*known.at(at.timestamp()))
            except ValueError:
                return None
            found.append((at, margin_k))
            at += SAMPLED_EVERY
        return min(found, key=lambda each: each[1])

    def tomorrow(self) -> str:
        if self.coat is None:
            return "No coat is left for tomorrow."
        return f"Tomorrow: {self.coat.product} ({self.coat.name}); {self.material()}."

    def conditions(self) -> str:
        readings = self.standing.readings
        slab, air = readings.slab(None), readings.air()
        if not slab or local(self.site, slab[-1].at).date() != local(self.site, self.now).date():
            return "The slab was not read today."
        units = self.site.units
        told = f"Slab {units.write_temp(slab[-1].value)}"
        told += f", air {units.write_temp(air[-1].value)}" if air else ""
        return f"{told}, read at {day_and_clock(slab[-1].at, self.now, self.zone)}."

    def coat_by(self) -> str:
        seen = [seen_at(track, self.now, ripe=False) for track in self.tracks]
        found: dict[tuple[str, str], list[str]] = {}
        for (area, coat), group in area_windows(seen, self.now).items():
            if coat is None or not self.site.coats_over(coat, area):
                continue
            for window in group:
                if window.name == RECOAT and window.state is not State.DONE and not window.provisional:
                    found.setdefault(self._span(window), []).append(area)
        lines = [f"Coat {list_words(sorted(areas))} {opens}{by}." for (opens, by), areas in found.items()]
        return " ".join(lines) or "No floor waits for a coat."

    def _span(self, window: Window) -> tuple[str, str]:
        if window.no_date:
            return f"when the slab allows: {window.no_date}", ""
        opens, called = window.open_from, window.called
        since = f"from {opens_said(opens, self.now, self.zone)}" if opens and opens > self.now else "from now"
        endless = "; sanded: no end" if SANDED_SAID in window.because else "; the sheet names no end"
        by = f", by {closes_said(called.early, self.now, self.zone)}" if called else endless
        if called and called.early <= self.now:
            return "only after sanding", ": its window has shut"
        return since, by


_FIGURES: Mapping[str, Callable[[_Figures], str]] = MappingProxyType(
    {
        "moisture": _Figures.moisture,
        "strength": _Figures.strength,
        "material": _Figures.material,
        "tack_free": _Figures.tack_free,
        "dew": _Figures.dew,
        "tomorrow": _Figures.tomorrow,
        "conditions": _Figures.conditions,
        "coat_by": _Figures.coat_by,
    }
)


def typed_kind(item: RoundItem, units: CrewUnits) -> str:
    """How an answer is typed, as the question's hint."""
    if item.takes is Takes.MOISTURE:
        return "such as 75 % or 3.5 lb"
    if item.takes is Takes.STRENGTH:
        return "such as 1.6 MPa or 230 psi"
    if item.takes is Takes.TEMPERATURE:
        return f"such as {units.write_temp(20.0)}"
    if item.takes is Takes.WORDS:
        return "in your words"
    return f"yes: {item.fine[0]}, no: {item.bad[0]}" if item.fine and item.bad else "yes or no"
