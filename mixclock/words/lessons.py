"""What a sign taught, and what has been learned of a product beside its sheet, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from mixclock.decide.clocks import LearnedFactor, prior_sigma
from mixclock.decide.learn import EdgeObservation, learn
from mixclock.formulas.rate_law import P90_SIGMAS
from mixclock.job.entry import Entry, Saw
from mixclock.job.profile import Profile
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import POUR_OUT, SIGN_ENDS, TACK_FREE
from mixclock.job.windownames import is_limit
from mixclock.values import dataclass
from mixclock.words.jsonfields import fields_json
from mixclock.words.sheetwords import write_sheet_span

AS_THE_SHEET = 0.03
"""A smaller difference is called none."""


def taught(entry: Entry, standing: Standing, seen: Sequence[EdgeObservation]) -> tuple[str, ...]:
    """What a sign taught about the next batches, or why it taught nothing; `seen` is all that was seen of its products.

    A sign that is no edge of any window (a hot bucket) teaches nothing and says nothing.
    """
    if not isinstance(entry.facts, Saw) or entry.facts.sign not in SIGN_ENDS:
        return ()
    own = [each for each in seen if each.entry == entry.number and each.job == standing.job]
    if not own:
        return (_why_nothing(entry, entry.facts.sign, standing, seen),)
    return tuple(_lesson(each, seen) for each in own)


def _lesson(own: EdgeObservation, seen: Sequence[EdgeObservation]) -> str:
    if not own.plausible:
        return (
            f"{own.sign} {_against_sheet(own.ratio)} is taken for a slip: nothing is learned; withdraw it if it was one"
        )
    same = [each for each in seen if (each.product, each.window) == (own.product, own.window)]
    now = learn(own.window, same)
    what = f"{own.product} {own.sign} {_against_sheet(own.ratio)}"
    kept = "; what is shown stays by the sheet" if is_limit(own.window) and now.factor < 1.0 else ""
    return f"{what}; next batches count with {_more_or_less(now.factor)}{kept}"


def _why_nothing(entry: Entry, sign: str, standing: Standing, seen: Sequence[EdgeObservation]) -> str:
    window = SIGN_ENDS[sign]
    meant = [batch for batch in standing.batches if any(each.stated.entry == entry.number for each in batch.signs)]
    if not meant:
        return "no batch here could have shown it: nothing is learned"
    batch = meant[-1]
    if any(each.batch == batch.id and each.window == window and each.job == standing.job for each in seen):
        return f"batch {batch.id} has shown when it was {_state_of(window)} before: nothing more is learned"
    if not _has_edge(standing, batch, window):
        return f"the sheet of {batch.product} gives no time for it: nothing is learned"
    if window != POUR_OUT and not batch.portions:
        return f"nobody stated the pour of batch {batch.id}: nothing is learned; state it with `--at`"
    return "it was seen before its clock began: nothing is learned"


def _state_of(window: str) -> str:
    return {POUR_OUT: "at its end in the bucket", TACK_FREE: "tack free"}.get(window, "hard")


def _has_edge(standing: Standing, batch: Batch, window: str) -> bool:
    profile = standing.profile(batch.product)
    if profile is None:
        return False
    if window == POUR_OUT:
        return profile.pot_life is not None
    rule = profile.window(window)
    return rule is not None and rule.opens is not None


def _against_sheet(ratio: float) -> str:
    """How an edge lay against the sheet.

    >>> _against_sheet(1.2), _against_sheet(0.75), _against_sheet(1.01), _against_sheet(7.0)
    ('20 % later than the sheet', '25 % sooner than the sheet', 'as the sheet says', '7 times the time of the sheet')
    """
    if abs(ratio - 1.0) < AS_THE_SHEET:
        return "as the sheet says"
    if ratio >= 2.0:
        return f"{ratio:.2g} times the time of the sheet"
    return f"{abs(ratio - 1.0) * 100:.0f} % {'later' if ratio > 1.0 else 'sooner'} than the sheet"


def _more_or_less(factor: float) -> str:
    share = round(abs(factor - 1.0) * 100)
    if share == 0:
        return "the sheet's time"
    return f"{share} % {'more' if factor > 1.0 else 'less'} time"


@dataclass(frozen=True)
class Lesson:
    """One window of a product: what the sheet says, what was seen, and what is reckoned with."""

    window: str
    stated: str
    learned: LearnedFactor
    seen: tuple[EdgeObservation, ...]

    @property
    def sigma(self) -> float:
        """The spread that is reckoned with."""
        return prior_sigma(self.window) if self.learned.sigma is None else self.learned.sigma


def lessons_of(profile: Profile, seen: Sequence[EdgeObservation]) -> list[Lesson]:
    """What each window of a product has been taught, in the order in which it was first seen."""
    windows = dict.fromkeys(each.window for each in seen)
    grouped = {window: tuple(each for each in seen if each.window == window) for window in windows}
    return [
        Lesson(window, _sheet_says(profile, window), learn(window, group), group) for window, group in grouped.items()
    ]


def _sheet_says(profile: Profile, window: str) -> str:
    rule = profile.window(window)
    span = profile.pot_life.span if window == POUR_OUT and profile.pot_life else rule.opens if rule else None
    return write_sheet_span(span) if span else "nothing any more"


def lesson_lines(lessons: Sequence[Lesson]) -> list[str]:
    """Sheet, factor, band and observations side by side."""
    if not lessons:
        return []
    lines = ["Signs on the floor taught this. The file of the profile stays as it is."]
    for lesson in lessons:
        used = sum(each.used for each in lesson.seen)
        lines.append(f"  {lesson.window}  sheet: {lesson.stated}")
        if used:
            lines.append(f"    reckoned with: ×{lesson.learned.factor:.2f}, from {_seen_times(used)}")
        else:
            lines.append("    reckoned with: the sheet as it stands")
        lines.append(f"    {_band_line(lesson)}")
        lines += [f"    {_seen_line(each)}" for each in lesson.seen]
    return [*lines, ""]


def _band_line(lesson: Lesson) -> str:
    """How the doubt of what was learned widens the shown times. A maker's limit is never called sooner for it."""
    if is_limit(lesson.window):
        return "a maker's limit: what was learned may call it later, never sooner than the sheet says"
    return f"band: {_band(lesson.sigma)}; by the sheet alone {_band(prior_sigma(lesson.window))}"


def _seen_times(count: int) -> str:
    return "one observation" if count == 1 else f"{count} observations"


def _band(sigma: float) -> str:
    """The 10th and the 90th percentile as shares of the likely time.

    >>> _band(0.174)
    '−20 % to +25 %'
    """
    low, high = (math.exp(sign * P90_SIGMAS * sigma) - 1.0 for sign in (-1.0, 1.0))
    return f"−{abs(low) * 100:.0f} % to +{high * 100:.0f} %"


def _seen_line(seen: EdgeObservation) -> str:
    unused = "" if seen.used else "  (dropped)" if seen.dropped else "  (a slip? not used)"
    return f"{seen.at:%Y-%m-%d}  {seen.job}, batch {seen.batch}: {seen.sign} {_against_sheet(seen.ratio)}{unused}"


_NOT_OF_A_LESSON = ("product", "window", "entry", "mass_kg", "mark")


def lessons_json(lessons: Sequence[Lesson]) -> list[dict[str, Any]]:
    """The same for a program."""
    return [
        {
            "window": lesson.window,
            "sheet": lesson.stated,
            "factor": round(lesson.learned.factor, 4),
            "sigma": round(lesson.sigma, 4),
            "sigma_of_sheet": round(prior_sigma(lesson.window), 4),
            "observations": [
                {**fields_json(each, *_NOT_OF_A_LESSON, places=4), "used": each.used} for each in lesson.seen
            ],
        }
        for lesson in lessons
    ]


def dropped_line(product: str, window: str, gone: Sequence[EdgeObservation]) -> str:
    """What dropping did."""
    what = f"{_seen_times(len(gone))} of {product}, {window}"
    return f"{what}: not used again. The next batch counts by the sheet; batches mixed before stay as they were."
