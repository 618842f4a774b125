"""The cautions that a statement calls for: what is about to be done, or has just turned out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.hot import HOT_SIGNS, SMOKING, hot_since
from mixclock.decide.shapes import State
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.entry import Began, Combined, Did, Dumped, Entry, JobFinished, MixingEnded, Poured, Reading, Saw
from mixclock.job.profile import Family
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import DWELL, NEUTRALISE, POUR_OUT, RECOAT, RINSE
from mixclock.words.cautions import DEFERS, Moment, merged
from mixclock.words.stepwords import words_of

SAID_AGAIN_AFTER = timedelta(hours=10)
"""The crew hears a product's cautions again after this time. Heard all day, nobody would listen (judgement)."""

GONE_SIGNS = ("stringy", "skinned")
"""The signs of a bucket that has come to its end."""


def cautions_of(
    entry: Entry, standing: Standing, batch: Batch | None, own: Sequence[Track], under: Sequence[Track] = ()
) -> tuple[str, ...]:
    """What to mind, most pressing first.

    `own` are the windows of the batch that the statement is about, `under` those of what lies on its areas already.
    """
    if isinstance(entry.facts, JobFinished):
        return merged(_families(standing), (Moment.LEFTOVERS, Moment.CLEANING))
    profile = standing.profile(batch.product) if batch else None
    if batch is None or profile is None:
        return merged(_families(standing), _of_areas(entry))
    moments = tuple(_moments(entry, standing, batch, own))
    own_lines = profile.cautions if Moment.MIXING in moments else ()
    below = merged(_shut_under(standing, under, entry), (Moment.MISSED_RECOAT,))
    usual = merged((profile.family,), moments)
    lines = dict.fromkeys(line for line in (*below, *own_lines, *usual) if line != DEFERS)
    return (*lines, DEFERS) if own_lines or DEFERS in (*below, *usual) else tuple(lines)


def _shut_under(standing: Standing, under: Sequence[Track], entry: Entry) -> tuple[Family, ...]:
    """The families of the layers whose recoat window has shut under a coat that is mixed now."""
    if not isinstance(entry.facts, Combined):
        return ()
    shut = (
        standing.profile(track.batch.product)
        for track in under
        if track.name == RECOAT and track.closing is not None and track.closing.early < entry.happened
    )
    return tuple(dict.fromkeys(profile.family for profile in shut if profile is not None))


def is_gone(entry: Entry, standing: Standing, batch: Batch, own: Sequence[Track]) -> bool:
    """Whether a bucket must stay off the floor: it shows strings, a skin or heat, or its late edge is past."""
    at = entry.happened
    seen = [sign for sign in batch.signs if sign.area is None and sign.stated.at <= at and sign.sign in GONE_SIGNS]
    hot = hot_since(standing, batch)
    return bool(seen) or (hot is not None and hot <= at) or _past_late(own, at)


def _past_late(own: Sequence[Track], at: datetime) -> bool:
    out = next((track for track in own if track.name == POUR_OUT), None)
    late = out.closing.late if out is not None and out.closing is not None else None
    return late is not None and at > late


def _moments(entry: Entry, standing: Standing, batch: Batch, own: Sequence[Track]) -> Iterator[Moment]:
    facts, at = entry.facts, entry.happened
    if isinstance(facts, Saw):
        yield from _seen(facts.sign, batch)
    elif isinstance(facts, Reading) and facts.bucket_c is not None and hot_since(standing, batch) is not None:
        yield Moment.HOT_BUCKET
    elif _turned_out_gone(entry, standing, batch, own):
        yield Moment.GONE_BUCKET
    elif isinstance(facts, Began | Did):
        yield from _of_step(facts)
    elif isinstance(facts, Dumped):
        yield Moment.LEFTOVERS
    if isinstance(facts, Poured | Combined) and _is_first_today(standing, batch, at):
        yield Moment.POURING if isinstance(facts, Poured) else Moment.MIXING


def _turned_out_gone(entry: Entry, standing: Standing, batch: Batch, own: Sequence[Track]) -> bool:
    if isinstance(entry.facts, Poured):
        return is_gone(entry, standing, batch, own)
    return isinstance(entry.facts, MixingEnded) and batch.emptied is None and _is_past(own, entry.happened)


def _seen(sign: str, batch: Batch) -> Iterator[Moment]:
    if SMOKING in (sign, *(each.sign for each in batch.signs)):
        yield Moment.SMOKING_BUCKET
    elif sign in HOT_SIGNS:
        yield Moment.HOT_BUCKET
    elif sign in GONE_SIGNS and batch.emptied is None:
        yield Moment.GONE_BUCKET


def _of_step(facts: Began | Did) -> Iterator[Moment]:
    moment = words_of(facts.step).minds
    if moment is not None and (isinstance(facts, Began) or facts.step in (DWELL, NEUTRALISE, RINSE)):
        yield moment


def _of_areas(entry: Entry) -> tuple[Moment, ...]:
    """A step that was stated for an area instead of a batch."""
    return tuple(_of_step(entry.facts)) if isinstance(entry.facts, Began | Did) else ()


def _is_past(own: Sequence[Track], at: datetime) -> bool:
    out = next((track for track in own if track.name == POUR_OUT), None)
    return out is not None and seen_at(out, at).state is State.MISSED


def _is_first_today(standing: Standing, batch: Batch, at: datetime) -> bool:
    """Whether nobody mixed this product in the last hours."""
    before = [each for each in standing.batches if each.product == batch.product and each.id < batch.id]
    return not before or at - before[-1].combined.at > SAID_AGAIN_AFTER


def _families(standing: Standing) -> tuple[Family, ...]:
    """The families of what was mixed on the job."""
    profiles = (standing.profile(batch.product) for batch in standing.batches)
    return tuple(dict.fromkeys(profile.family for profile in profiles if profile is not None))
