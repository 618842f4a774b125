"""Mixclock asks the question of the next kit again by itself, from when somebody asked until part B is in.

If a "yes" becomes a "no", it is called out until somebody hears it. If a "wait" becomes a "yes", it is called out once.
The plan starts no batch that the present answer forbids, so the two never say different things.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta

from mixclock.decide.alerting.dayends import PlanSays
from mixclock.decide.buckets import BucketModel
from mixclock.decide.kitshapes import AS_STATED, DayPace, KitAnswer, KitVerdict
from mixclock.decide.plan.days.advice import plan_says
from mixclock.decide.plan.days.nextkit import next_kit
from mixclock.decide.plan.days.planjson import plans_in
from mixclock.decide.plan.floor.plans import Plan
from mixclock.decide.plan.floor.sheettiming import SheetTiming
from mixclock.decide.shapes import Alert, Stage
from mixclock.decide.tracks import Track
from mixclock.job.dayentries import KitAsked
from mixclock.job.entry import Combined, Delivered, Entry, Heard, Raised, WatchEvent
from mixclock.job.profile import Profile
from mixclock.job.progress import Standing
from mixclock.job.site import Site
from mixclock.job.steps import NEXT_BATCH, NEXT_KIT, Rank
from mixclock.values import replace

ASKED_FOR = timedelta(minutes=30)
"""A question stands for this long. Whoever has not opened the kit by then must ask anew (judgement)."""

FRESH = timedelta(seconds=5)
"""An answer up to this old still holds: nothing in it moves faster, unless somebody states something."""


KEPT_AT_MOST = 12
"""How many answers are kept: two for each job at work, one for now and one for a kit that somebody measures out."""


PAST_KEPT = timedelta(minutes=10)
"""What past jobs tell is asked anew after so long: only somebody's word drops one of them (judgement)."""


def _none(_: Site) -> Mapping[str, Profile]:
    return {}


def as_stated(_: Standing) -> DayPace:
    """What past jobs tell where there are none."""
    return AS_STATED


class KitDesk:
    """Answers the question, and keeps what an answer took long to work out.

    `shelf` holds the sheets of a job file's products, of which no batch may have been mixed so far; `past` tells how
    fast the crew was on its finished jobs.
    """

    def __init__(
        self,
        model: Callable[[], BucketModel],
        shelf: Callable[[Site], Mapping[str, Profile]] = _none,
        past: Callable[[Standing], DayPace] = as_stated,
    ) -> None:
        """`model` and `past` are called only when somebody asks the first question."""
        self._model, self._shelf, self._past = model, shelf, past
        self._past_known: dict[str, tuple[datetime, DayPace]] = {}
        self._timing: dict[str, tuple[Standing, SheetTiming]] = {}
        self._questions = OpenQuestions()
        self._known: dict[tuple[str, datetime | None], tuple[tuple[int, int], datetime, KitAnswer]] = {}

    def answer(
        self,
        standing: Standing,
        tracks: Sequence[Track],
        now: datetime,
        plans: Sequence[Plan] = (),
        measuring_since: datetime | None = None,
    ) -> KitAnswer:
        """The answer of this minute."""
        place, key = (standing.job, measuring_since), (_statements(standing), len(plans))
        kept = self._known.get(place)
        if kept is not None and kept[0] == key and timedelta() <= now - kept[1] < FRESH:
            return kept[2]
        whole = replace(standing, profiles={**self._shelf(standing.site), **standing.profiles})
        answer = next_kit(
            whole, tracks, self._timing_of(whole), now, plans, measuring_since, self._past_of(standing, now)
        )
        if len(self._known) >= KEPT_AT_MOST:
            self._known.clear()
        self._known[place] = key, now, answer
        return answer

    def says(
        self,
        standing: Standing,
        tracks: Sequence[Track],
        now: datetime,
        plans: Sequence[Plan],
        says: PlanSays,
    ) -> PlanSays:
        """What the plan says, without the starts that the next kit's answer forbids, and with the news on the last
        question."""
        advice = says.advice
        if any(alert.step == NEXT_BATCH for alert in advice):
            allowed = self.answer(standing, tracks, now, plans).verdict is KitVerdict.YES
            advice = [alert for alert in advice if allowed or alert.step != NEXT_BATCH]
        return replace(says, advice=(*advice, *self._calls(standing, tracks, now, plans)))

    def _calls(
        self, standing: Standing, tracks: Sequence[Track], now: datetime, plans: Sequence[Plan]
    ) -> tuple[Alert, ...]:
        asked = self._questions.open(standing, now)
        if asked is None:
            return ()
        assert isinstance(asked.facts, KitAsked)
        was_yes = asked.facts.verdict == KitVerdict.YES
        answer = self.answer(standing, tracks, now, plans, asked.happened if was_yes else None)
        if was_yes == (answer.verdict is KitVerdict.YES):
            return ()
        name, stage = f"kit.{asked.number}", Stage.LATE if was_yes else Stage.NOW
        if was_yes and _is_heard(standing, name):
            return ()
        area = answer.areas[0] if len(answer.areas) == 1 else None
        rank = Rank.CRITICAL if was_yes else Rank.TIMELY
        return (Alert(name, NEXT_KIT, rank, stage, now, area=area, who=asked.by, detail=answer),)

    def _past_of(self, standing: Standing, now: datetime) -> DayPace:
        """What past jobs tell of the crew, kept for a while."""
        kept = self._past_known.get(standing.job)
        if kept is None or not timedelta() <= now - kept[0] < PAST_KEPT:
            kept = self._past_known[standing.job] = now, self._past(standing)
        return kept[1]

    def _timing_of(self, standing: Standing) -> SheetTiming:
        """The sheets' clocks. They are kept until the weather changes or something is learned."""
        kept = self._timing.get(standing.job)
        if kept is not None:
            before, timing = kept
            same = before.readings is standing.readings and before.factors is standing.factors
            if same and before.site is standing.site and before.profiles.keys() == standing.profiles.keys():
                return timing
        timing = SheetTiming(standing, self._model())
        self._timing[standing.job] = standing, timing
        return timing


def plan_of(standing: Standing, tracks: Sequence[Track], now: datetime, desk: KitDesk) -> PlanSays:
    """What the plans in the log and the question of the next kit add to the windows."""
    plans = plans_in(standing.entries, standing.withdrawn)
    return desk.says(standing, tracks, now, plans, plan_says(standing, tracks, plans, now))


class OpenQuestions:
    """Finds the open question at every look. Where the log only grew since the last, only what is new is looked at."""

    def __init__(self) -> None:
        self._before: tuple[tuple[Entry, ...], frozenset[int]] = (), frozenset()
        self._settles: tuple[int, Entry] | None = None

    def open(self, standing: Standing, now: datetime) -> Entry | None:
        """The last question of the next kit, until part B of some batch goes in or the question is too old."""
        self._settles = self._last_that_settles(standing)
        self._before = standing.entries, standing.withdrawn
        entry = self._settles[1] if self._settles is not None else None
        is_asked = entry is not None and isinstance(entry.facts, KitAsked)
        return entry if entry is not None and is_asked and timedelta() <= now - entry.happened < ASKED_FOR else None

    def _last_that_settles(self, standing: Standing) -> tuple[int, Entry] | None:
        entries, known = standing.entries, self._settles
        seen = len(self._before[0]) if self._goes_on(standing) else 0
        for place in range(len(entries) - 1, seen - 1, -1):
            entry = entries[place]
            facts = entry.facts
            if not isinstance(facts, Combined | KitAsked) or entry.number in standing.withdrawn:
                continue
            if isinstance(facts, KitAsked) or facts.spot is None:
                return place, entry
        return known if seen else None

    def _goes_on(self, standing: Standing) -> bool:
        """Whether the entries of the last time still stand at the beginning, none of them withdrawn since."""
        before, withdrawn = self._before
        count = len(before)
        if not 0 < count <= len(standing.entries) or withdrawn != standing.withdrawn:
            return False
        is_same_end = standing.entries[count - 1] is before[-1]
        return is_same_end and (self._settles is None or standing.entries[self._settles[0]] is self._settles[1])


def _is_heard(standing: Standing, name: str) -> bool:
    return any(raising.heard is not None for raising in standing.raised(name))


def _statements(standing: Standing) -> int:
    """A mark that changes with every statement, and not with what the machine writes for itself."""
    return next((entry.number for entry in reversed(standing.entries) if not isinstance(entry.facts, _MACHINE)), 0)


_MACHINE = (Raised, Delivered, Heard, WatchEvent)
