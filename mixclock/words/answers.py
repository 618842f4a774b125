"""What a statement is answered with: what was understood, the line for the bucket, and what comes next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from typing import Any

from mixclock.decide.asking import reading_to_ask
from mixclock.decide.hot import SMOKING, hot_since
from mixclock.decide.shapes import State, Window
from mixclock.decide.tracks import Track
from mixclock.decide.windows import seen_at
from mixclock.job.dayentries import Answered, BackAtWork, StoppedWork, Visited
from mixclock.job.entry import Combined, Entry, MixingEnded, Noted, Poured, Reading
from mixclock.job.instants import json_text
from mixclock.job.progress import Batch, Standing
from mixclock.job.steps import DWELL, FOOT_TRAFFIC, INDUCTION, POUR_OUT, RECOAT, TACK_FREE, WET_EDGE, row_of
from mixclock.units import write_span
from mixclock.values import dataclass
from mixclock.words.actcautions import GONE_SIGNS, cautions_of, is_gone
from mixclock.words.alerting import bucket_line
from mixclock.words.gritwords import grit_line
from mixclock.words.interruption import interruption_lines
from mixclock.words.jsonfields import fields_json
from mixclock.words.jumpwords import asked_by
from mixclock.words.objections import look_out
from mixclock.words.overflake import over_flake
from mixclock.words.saidback import said_back
from mixclock.words.stepwords import next_words
from mixclock.words.times import closes_said, day_and_clock, opens_said

NEXT_AT_MOST = 3
OF_THE_CREW = (StoppedWork, BackAtWork, Visited)
ANY_STAND = timedelta(seconds=30)


@dataclass(frozen=True)
class Answer:
    """What a person gets back.

    `bucket` is the line to write on the pail, `moved` the deadlines that a reading moved, `learned` what a sign taught.
    `job` is the floor that it is about, where more than one is under way.
    """

    entry: int
    said: str
    batch: int | None = None
    bucket: str | None = None
    next: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    learned: tuple[str, ...] = ()
    moved: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    job: str = ""

    def lines(self) -> list[str]:
        """The answer as it is printed."""
        shown = [f"Look out: {line}" for line in self.warnings]
        shown += [f"{f'{self.job}: ' if self.job else ''}{self.said}  (entry {self.entry})"]
        if self.bucket is not None:
            shown.append(f"On the bucket: {self.bucket}")
        shown += [f"Next: {self.next[0]}"] if self.next else []
        shown += [f"Then: {line}" for line in self.next[1:]]
        shown += [f"Read: {line}" for line in self.asks]
        shown += [f"Moved: {line}" for line in self.moved]
        shown += [f"Learned: {line}" for line in self.learned]
        shown += [f"Caution: {line}" for line in self.cautions]
        return shown


def answer_to(
    entry: Entry, standing: Standing, found: Sequence[Track], now: datetime, under: Sequence[Track] = ()
) -> Answer:
    """The answer to a statement, from the job as it stands after it.

    `found` are the windows of the batch that it is about, `under` those of what lies on its areas already.
    """
    batch = batch_of(entry, standing)
    fresh = isinstance(entry.facts, Combined | MixingEnded)
    lost = _keep_off(standing, batch, entry, found, now) if batch else None
    return Answer(
        entry=entry.number,
        said=said_back(entry, standing, now),
        batch=batch.id if batch else None,
        bucket=_bucket_line(standing, batch, found) if batch and fresh else None,
        next=_lines_after(entry, standing, batch, found, now) if lost is None else (),
        warnings=(
            *([lost] if lost else []),
            *look_out(entry, standing, batch, found, under, now),
            *_tick_missed(entry),
            *_of_a_round(entry),
        ),
        cautions=cautions_of(entry, standing, batch, found, under),
        asks=tuple(_asked(entry, standing, batch, found)),
    )


def _asked(entry: Entry, standing: Standing, batch: Batch | None, found: Sequence[Track]) -> Iterator[str]:
    """What somebody is asked to read, or to read again."""
    if batch is not None and isinstance(entry.facts, Combined):
        yield from _asks(batch, found)
        drinks = over_flake(standing, batch)
        if drinks is not None:
            yield drinks
    if isinstance(entry.facts, Reading):
        yield from asked_by(entry, standing)


def _tick_missed(entry: Entry) -> tuple[str, ...]:
    """A hint on a note that begins like a fact to tick and is none. The list is read only where a note may be one."""
    if not isinstance(entry.facts, Noted) or ":" not in entry.facts.text:
        return ()
    from mixclock.words.ticklist import half_ticked

    missed = half_ticked(entry.facts.text)
    return (missed,) if missed is not None else ()


def _lines_after(
    entry: Entry, standing: Standing, batch: Batch | None, found: Sequence[Track], now: datetime
) -> tuple[str, ...]:
    """What comes next with a batch. Somebody who is called away, or comes back, hears what to save or do first."""
    if batch is None:
        return interruption_lines(entry, standing, found, now) if isinstance(entry.facts, OF_THE_CREW) else ()
    grit = grit_line(standing, batch) if isinstance(entry.facts, Combined) else None
    return (*([grit] if grit else []), *_next(standing, batch, found, now))


def _of_a_round(entry: Entry) -> tuple[str, ...]:
    """What mixclock says to a bad answer in a round."""
    if not isinstance(entry.facts, Answered):
        return ()
    from mixclock.job.statements.rounds import item_of
    from mixclock.words.rounds import warning_of

    warned = warning_of(entry.facts, item_of(entry.facts))
    return (warned,) if warned is not None else ()


def answer_json(answer: Answer, entry: Entry) -> dict[str, Any]:
    """The answer for a program."""
    return {
        **fields_json(answer),
        "job": entry.job,
        "kind": entry.facts.kind,
        "facts": entry.facts.as_stored(),
        "happened": json_text(entry.happened),
        "written": json_text(entry.written),
        "by": entry.by,
        "note": entry.note,
    }


def batch_of(entry: Entry, standing: Standing) -> Batch | None:
    """The batch that a statement is about, where it is about one."""
    if isinstance(entry.facts, Combined):
        return next((batch for batch in standing.batches if batch.combined.entry == entry.number), None)
    number = getattr(entry.facts, "batch", None)
    return standing.batch(number) if number is not None else None


def _bucket_line(standing: Standing, batch: Batch, found: Iterable[Track]) -> str:
    out = next((track for track in found if track.batch.id == batch.id and track.name == POUR_OUT), None)
    edge = out.closing if out else None
    return bucket_line(batch.id, batch.combined.at, edge.early if edge else None, standing.site.wall)


def _asks(batch: Batch, found: Sequence[Track]) -> Iterator[str]:
    """What was assumed because nobody read it, and the one reading that would move a deadline most."""
    taken = {said for track in found if track.batch.id == batch.id for said in track.assumed}
    yield from sorted(said for said in taken if said.startswith(("no air reading:", "no slab reading:")))
    asked = reading_to_ask(batch, found)
    if asked is not None:
        what = "pails: how warm?" if asked.of_pails else "slab where it is warmest: how warm?"
        yield f"{what} It moves {asked.step.replace('-', ' ')} by up to {write_span(asked.moves_s // 60 * 60)}"


def _keep_off(standing: Standing, batch: Batch, entry: Entry, found: Sequence[Track], now: datetime) -> str | None:
    """The first line about a bucket that must stay off the floor, or that went on it all the same."""
    if isinstance(entry.facts, Poured):
        return _went_on(batch, entry) if is_gone(entry, standing, batch, found) else None
    return _hot(standing, batch, entry) or _set(batch) or _lost(standing, batch, found, now)


def _went_on(batch: Batch, entry: Entry) -> str:
    return (
        f"what is left of batch {batch.id} stays off the floor: outside, spread thin. Did it go on the floor? Then get "
        f"it off while it moves, and say where with `noted`. If it went outside, `withdraw {entry.number}`, "
        f"then `dumped {batch.id}`"
    )


def _set(batch: Batch) -> str | None:
    """What is said of a bucket in which somebody saw strings or a skin."""
    signs = [sign.sign for sign in batch.signs if sign.area is None and sign.sign in GONE_SIGNS]
    if batch.emptied is not None or not signs:
        return None
    return f"batch {batch.id} is {signs[-1]}: keep it off the floor; outside, spread thin"


def _hot(standing: Standing, batch: Batch, entry: Entry) -> str | None:
    """What is said of a hot bucket instead of the next step: nobody mixes or lays any of it."""
    since = hot_since(standing, batch) if batch.emptied is None else None
    if since is None or since > entry.happened:
        return None
    if any(sign.sign == SMOKING for sign in batch.signs):
        return f"batch {batch.id} smokes: leave it, get everybody out"
    return f"batch {batch.id} runs hot: stop mixing, and keep it off the floor; outside, spread thin"


def _lost(standing: Standing, batch: Batch, found: Iterable[Track], now: datetime) -> str | None:
    """What is said of a bucket that stands past the end of its pot life."""
    for track in found:
        window = seen_at(track, now)
        if track.name == POUR_OUT and window.state is State.MISSED and batch.emptied is None and window.closes:
            ended = _clock(standing, window.closes.likely, now)
            return f"batch {batch.id} is past its pot life since about {ended}: don't lay it; outside, spread thin"
    return None


def _next(standing: Standing, batch: Batch, found: Iterable[Track], now: datetime) -> list[str]:
    """What is to be done with the batch, soonest first: each step once, at the earliest of its places."""
    seen = [seen_at(track, now) for track in found if track.batch.id == batch.id and _concerns(track)]
    waiting = [window for window in seen if window.state not in (State.DONE, State.MISSED)]
    lines: dict[str, tuple[datetime, str]] = {}
    if batch.emptied is None and not batch.mixing_stated and now < batch.mixing_ended:
        lines["mixing"] = (now, f"mix until {_clock(standing, batch.mixing_ended, now)}")
    for window in waiting:
        told = _told(standing, window, now) if _is_due(standing, batch, window) else None
        if told is not None and (window.name not in lines or told[0] < lines[window.name][0]):
            lines[window.name] = told
    return [words for _, words in sorted(lines.values())][:NEXT_AT_MOST]


def _concerns(track: Track) -> bool:
    """Whether the crew has to do something about it. An edge that no neighbour will join needs nothing."""
    if track.name == WET_EDGE:
        return bool(track.neighbours)
    return track.name != TACK_FREE


def _is_due(standing: Standing, batch: Batch, window: Window) -> bool:
    if row_of(window.name).of_flake and not standing.site.gets_flake(batch.coat):
        return False
    if window.name == INDUCTION and window.open_from is not None and window.open_from <= batch.mixing_ended + ANY_STAND:
        return False
    if row_of(window.name).per_area:
        return not window.provisional and window.name in (RECOAT, FOOT_TRAFFIC)
    return not (window.name == WET_EDGE and window.provisional)


def _told(standing: Standing, window: Window, now: datetime) -> tuple[datetime, str] | None:
    place = f" on {window.area}" if window.area else ""
    zone = standing.site.wall
    what = f"{next_words(window.name)}{place}"
    about = "about " if window.provisional else ""
    opens_at, called = window.open_from, window.called
    opens = opens_said(opens_at, now, zone) if opens_at else ""
    closes = closes_said(called.early, now, zone) if called else ""
    sure = "" if window.sure else " (can't call it to the hour: read the slab)"
    if window.no_date:
        return now, f"{what}: {window.no_date}"
    if window.name == DWELL:  # once it has worked long enough, the line that speaks is to neutralise or rinse it
        if opens_at is None or opens_at <= now:
            return None
        return opens_at, f"{what} until {about}{opens}"
    if opens_at is not None and opens_at > now:
        until = f" until {about}{closes}" if closes else ""
        return opens_at, f"{what} from {about}{opens}{until}{sure}"
    if called is None:
        return None
    by = ": it was due by" if called.early < now else " by"
    return called.early, f"{what}{by} {about}{closes}{sure}"


def _clock(standing: Standing, at: datetime, now: datetime) -> str:
    return day_and_clock(at, now, standing.site.wall)
