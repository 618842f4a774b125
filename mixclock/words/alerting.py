"""What an alert says: what to do, which batch, where, who and how long. It never needs the screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import TypeVar
from zoneinfo import ZoneInfo

from mixclock.decide.alerting.alone import NO_DEVICE
from mixclock.decide.kitshapes import KitAnswer
from mixclock.decide.shapes import (
    Alert,
    Detail,
    Edge,
    JointBatch,
    MarginState,
    NextBatch,
    Quiet,
    Shortage,
    Smoke,
    Trouble,
)
from mixclock.job.profile import Family
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import INDUCTION, NEXT_BATCH, POUR_IT_ALL, POUR_OUT, STAND, Stage
from mixclock.units import CrewUnits, say_remaining, write_clock, write_span
from mixclock.values import dataclass, replace
from mixclock.words.cautions import DEFERS, Moment, cautions_for
from mixclock.words.enumeration import list_words
from mixclock.words.gritwords import grit_of
from mixclock.words.nextkit import kit_said
from mixclock.words.spoken import UNSURE_BY_EAR, and_more, call_of, ear_caution
from mixclock.words.stepwords import STAGE_MARKS, Occasion, StageWords, stage_words, words_of
from mixclock.words.times import closes_said, opens_said

D = TypeVar("D")

END_UNSEEN = frozenset({Family.WATERBORNE_EPOXY, Family.POLYASPARTIC})
"""Water or moisture drives these products, so nobody can see their end in the bucket (common practice, no source)."""


@dataclass(frozen=True)
class Wording:
    """An alert in words: a title for a notification, a body, and the same for the ear.

    `call` is what the voice says, `caution` the sentence after it, `more` how many others fall together with it. `do`
    is the short form, as it stands large on a phone. `trouble` tells why only the plainest form could be said;
    `gone` that the step is no longer asked for, but what is done with what is lost.
    """

    title: str
    body: str
    call: str
    do: str = ""
    trouble: str | None = None
    gone: bool = False
    caution: str = ""
    more: int = 0

    @property
    def speech(self) -> str:
        """All that is said: the call, that there is more on the board, the caution."""
        return " ".join(filter(None, (self.call, and_more(self.more), self.caution)))


LONGEST_SHOWN = 700
"""A notification holds this many letters. If several alerts need more, only the first is told in full."""

UNSURE = " Can't call it to the hour: read the slab in its coldest corner, and try it with a thumb."
"""What is said along with a call of a window whose doubt is wider than itself."""


def alert_words(alert: Alert, standing: Standing, now: datetime, areas: Sequence[str] = ()) -> Wording:
    """The words of one alert; `areas` names more than one place where the same falls due together.

    Words that cannot be made are no reason for silence: then batch, place, step and stage alone are said.
    """
    try:
        return _full_words(alert, standing, now, areas)
    except Exception as error:  # one odd alert must not cost the crew that alert, nor any other
        return plain_words(alert, areas, f"{alert.id}: its words failed: {type(error).__name__}: {error}")


def plain_words(alert: Alert, areas: Sequence[str] = (), trouble: str | None = None) -> Wording:
    """The plainest form: batch, area, step, stage."""
    places = areas or ([alert.area] if alert.area else [])
    where = _where(alert, places)
    do = f"{alert.step.replace('-', ' ')}, {STAGE_MARKS[alert.stage]}"
    call = call_of("", alert.batch, places, do, ".")
    return Wording(f"{do}: {where}", f"{where}: {do}.", call, do[:1].upper() + do[1:], trouble)


def together(said: Sequence[Wording]) -> Wording:
    """Alerts that fall together, said as one: the first by ear, all of them on the screens, in the order given."""
    first, *others = said
    if not others:
        return first
    whole = "\n".join(one.body for one in said)
    body = whole if len(whole) <= LONGEST_SHOWN else "\n".join((first.body, *(one.title for one in others)))
    return replace(first, title=f"{first.title} and {len(others)} more", body=body, more=len(others))


def with_passed(said: Wording, passed: Alert, standing: Standing) -> Wording:
    """The same words, and before them the step that fell due earlier without a call."""
    over = passed.step in (POUR_IT_ALL, STAND)
    what = "Its mixing was over" if over else f"{words_of(passed.step).do}: that was due"
    line = f" {what} at {write_clock(passed.due, standing.site.wall)}."
    return replace(said, body=said.body + line, call=said.call + line)


def bucket_line(number: int, mixed: datetime, pour_by: datetime | None, zone: ZoneInfo) -> str:
    """The line to write on the bucket: "batch 3 · mixed 9:42 · pour by 9:51"."""
    parts = [f"batch {number}", f"mixed {write_clock(mixed, zone)}"]
    if pour_by is not None:
        parts.append(f"pour by {write_clock(pour_by, zone)}")
    return " · ".join(parts)


def _full_words(alert: Alert, standing: Standing, now: datetime, areas: Sequence[str]) -> Wording:
    filled = _Filling(alert, standing, now)
    case = case_of(alert, filled.family, now)
    words = stage_words(alert.step, alert.stage, case)
    gone = alert.stage is Stage.LOST or (alert.stage is Stage.LATE and case is Occasion.END_UNSEEN)
    short, more = words.short.format_map(filled), words.more.format_map(filled).rstrip()
    batch = standing.batch(alert.batch) if alert.batch is not None else None
    where = _where(alert, areas or ([alert.area] if alert.area else list(batch.areas) if batch else []))
    who = f"{alert.who}: " if alert.who and len(standing.site.crew) > 1 else ""
    guessed = "if it is on the floor, " if alert.window is not None and alert.window.provisional else ""
    unsure = UNSURE if alert.window is not None and not alert.window.sure else ""
    said = f"{who}{where}: {guessed}{_within(short)}{more}{unsure}"
    call, caution = _by_ear(alert, filled, words, areas or ([alert.area] if alert.area else []))
    return Wording(f"{short}: {where[:1].lower()}{where[1:]}", said, call, short, gone=gone, caution=caution)


def _by_ear(alert: Alert, filled: _Filling, words: StageWords, places: Sequence[str]) -> tuple[str, str]:
    """The call for the ear and the one caution after it."""
    batch = filled.batch
    where = places or (list(batch.areas) if batch else [])
    named = alert.batch if alert.step != NEXT_BATCH else None
    who = alert.who if alert.who and len(filled.standing.site.crew) > 1 else ""
    guessed = "if poured, " if alert.window is not None and alert.window.provisional else ""
    tail = (words.ear if words.ear is not None else words.more).format_map(filled).rstrip()
    call = call_of(who, named, where, guessed + _within(words.short.format_map(filled)), tail)
    unsure = UNSURE_BY_EAR if alert.window is not None and not alert.window.sure else ""
    minded = words.minds is not Moment.OPENING or filled.opening()
    return call, (ear_caution(filled.product_family(), words.minds) if minded else "") or unsure


def _within(short: str) -> str:
    """Words inside a sentence: their capital goes, but not that of "OK".

    >>> _within("Pour it out now"), _within("OK to walk on")
    ('pour it out now', 'OK to walk on')
    """
    return short if short[1:2].isupper() else short[:1].lower() + short[1:]


def case_of(alert: Alert, family: Family, now: datetime) -> Occasion:
    """What makes this alert need other words than the usual ones of its step and stage."""
    window = alert.window
    if (told := _told_by(alert.detail)) is not None:
        return told
    if alert.step == POUR_OUT and family in END_UNSEEN:
        return Occasion.END_UNSEEN
    if alert.stage is Stage.OPENED and window is not None and window.closes is not None:
        return Occasion.SHUTS_LATER
    if alert.stage is Stage.HEADS_UP and window is not None and window.open_from is not None:
        return Occasion.NOBODY_AT_WORK if window.open_from > now else Occasion.USUAL
    return Occasion.USUAL


def _told_by(detail: Detail | None) -> Occasion | None:
    if isinstance(detail, JointBatch):
        return Occasion.BATCH_COMES
    if isinstance(detail, MarginState) and detail.margin_k <= 0.0:
        return Occasion.UNDER_DEW_POINT
    return Occasion.SMOKES if isinstance(detail, Smoke) else None


def _where(alert: Alert, places: Sequence[str]) -> str:
    parts = [f"batch {alert.batch}" if alert.batch is not None else "", list_words(places)]
    text = ", ".join(part for part in parts if part)
    return text[:1].upper() + text[1:] if text else "The job"


class _Filling:
    """Fills the braces in a step's words. It works each value out only when the words ask for it."""

    def __init__(self, alert: Alert, standing: Standing, now: datetime) -> None:
        self.alert, self.standing, self.now = alert, standing, now

    def __getitem__(self, name: str) -> str:
        return FILLINGS[name](self)

    @property
    def units(self) -> CrewUnits:
        return self.standing.site.units

    @property
    def closes(self) -> Edge | None:
        return self.alert.window.called if self.alert.window else None

    @property
    def batch(self) -> Batch | None:
        return self.standing.batch(self.alert.batch) if self.alert.batch is not None else None

    @property
    def family(self) -> Family:
        window = self.alert.window
        product = window.product if window else None
        if product is None and self.batch is not None:
            product = self.batch.product
        profile = self.standing.profile(product) if product else None
        return profile.family if profile else Family.EPOXY

    def product_family(self) -> Family:
        """The family that a caution is about: of the batch, or of the kit that is to be opened."""
        if not isinstance(self.alert.detail, NextBatch):
            return self.family
        coat = self.standing.site.coat(self.alert.detail.coat)
        profile = self.standing.profile(coat.product) if coat else None
        return profile.family if profile else Family.EPOXY

    def by(self, at: datetime | None) -> str:
        """Until when, with the day where it is not today."""
        return closes_said(at, self.now, self.standing.site.wall) if at else "its time"

    def left(self) -> str:
        """How long is left, until the early edge."""
        left_s = (self.closes.early - self.now).total_seconds() if self.closes else 0.0
        return say_remaining(left_s).capitalize() if left_s > 0.0 else "No time"

    def opens(self) -> str:
        """From when, with the day where it is not today."""
        at = self.alert.window.open_from if self.alert.window else None
        return opens_said(at, self.now, self.standing.site.wall) if at else "its time"

    def cautions(self, moment: Moment) -> str:
        """The cautions of a moment, for the ear. The line that defers to the sheet stands on the screen alone."""
        return " ".join(line for line in cautions_for(self.family, moment) if line != DEFERS)

    def opening(self) -> str:
        """The cautions for the first kit of a product on this job."""
        coat = self.standing.site.coat(self.detail(NextBatch).coat)
        profile = self.standing.profile(coat.product) if coat else None
        mixed = {batch.product for batch in self.standing.batches}
        if profile is None or profile.name in mixed:
            return ""
        return " ".join(line for line in cautions_for(profile.family, Moment.OPENING) if line != DEFERS)

    def stand(self) -> str:
        profile = self.standing.profile(self.batch.product) if self.batch else None
        rule = profile.window(INDUCTION) if profile else None
        return f" for {write_span(rule.opens.points[0].span_s)}" if rule and rule.opens else ""

    def detail(self, kind: type[D]) -> D:
        """What an alert of this step carries."""
        assert isinstance(self.alert.detail, kind)
        return self.alert.detail


def _stands(told: _Filling) -> str:
    margin = told.detail(MarginState)
    falling = " and falling" if margin.falling else ""
    return f"only {told.units.write_margin(margin.margin_k)} over the dew point{falling}"


def _grit(told: _Filling) -> str:
    batch, site = told.batch, told.standing.site
    said = grit_of(site.coat(batch.coat), batch.volume_l, site.units) if batch is not None and batch.coat else None
    return said or "the whole dose"


FILLINGS: Mapping[str, Callable[[_Filling], str]] = MappingProxyType(
    {
        "by": lambda told: told.by(told.closes.early if told.closes else None),
        "start": lambda told: told.by(told.alert.window.latest_start if told.alert.window else None),
        "left": _Filling.left,
        "opens": _Filling.opens,
        "stand": _Filling.stand,
        "coming": lambda told: str(told.detail(JointBatch).number),
        "gone": lambda told: told.cautions(Moment.GONE_BUCKET),
        "hot_all": lambda told: told.cautions(Moment.HOT_BUCKET),
        "smoke_all": lambda told: told.cautions(Moment.SMOKING_BUCKET),
        "acid": lambda told: told.cautions(Moment.ACID_DRYING),
        "dust": lambda told: told.cautions(Moment.SANDING),
        "abrade": lambda told: told.cautions(Moment.MISSED_RECOAT),
        "opening": _Filling.opening,
        "margin": _stands,
        "limit": lambda told: told.units.write_margin(told.detail(MarginState).limit_k),
        "number": lambda told: str(told.detail(NextBatch).number),
        "amount": lambda told: told.units.write_volume(told.detail(NextBatch).volume_l),
        "coat": lambda told: told.detail(NextBatch).coat,
        "missing": lambda told: told.units.write_volume(told.detail(Shortage).missing_l),
        "kit": lambda told: kit_said(told.detail(KitAnswer), told.standing.site, told.now),
        "grit": _grit,
        "quiet": lambda told: write_span(told.detail(Quiet).span_s),
        "no_device": lambda _: NO_DEVICE,
        "contact": lambda told: f"{told.detail(Quiet).contact or 'Whoever reads this'}: go there, or call.",
        "what": lambda told: told.detail(Trouble).what,
        "why": lambda told: told.detail(Trouble).why,
    }
)
"""What may stand in braces in the words of a step."""
