"""The neutraliser of an etch in a plan. It has its own buckets, mixed before any acid. If two sheets state a window,
the stricter one counts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from mixclock.decide.plan.floor import acid
from mixclock.decide.plan.floor.plans import FloorPiece, PlannedBatch, PlannedStep, PlannedWindow
from mixclock.decide.plan.floor.quantities import amounts, most_l, planned_bucket
from mixclock.decide.plan.floor.setting import CoatSetting
from mixclock.decide.plan.floor.timing import Bucketful, Timing
from mixclock.job.steps import NEUTRALISE, RINSE
from mixclock.values import replace


def stricter(
    window: PlannedWindow, setting: CoatSetting, exact: Timing, bucket: Bucketful, since: datetime
) -> PlannedWindow:
    """A window of an etch by both sheets: it opens at the later time and shuts at the earlier. The clock of the
    neutraliser's sheet starts at `since`."""
    if setting.neutraliser is None:
        return window
    product = setting.neutraliser[0].product
    opens, closes, likely = window.opens, window.closes, window.likely_closes
    for name in acid.OWN_WINDOWS.get(window.name, ()):
        opened, shut = exact.opens(product, name, since, bucket), exact.closes(product, name, since, bucket)
        if opened is not None:
            at = since + timedelta(seconds=opened.safe_open_s)
            opens = at if opens is None else max(opens, at)
        if shut is not None and (closes is None or since + timedelta(seconds=shut.early_s) < closes):
            closes = since + timedelta(seconds=shut.early_s)
            likely = since + timedelta(seconds=shut.likely_s)
    return replace(window, opens=opens, closes=closes, likely_closes=likely)


def neutraliser_steps(setting: CoatSetting, ready: PlannedStep, number: int) -> list[PlannedStep]:
    """The steps that make the neutraliser ready, bucket by bucket, if the job file names it as a coat."""
    buckets = acid.bucketfuls(setting, setting.pieces)
    if setting.neutraliser is None or not buckets:
        return [ready]
    each = (ready.ends - ready.starts) / len(buckets)
    return [
        replace(
            ready,
            kind="mix",
            coat=setting.neutraliser[0].name,
            batch=number + place,
            areas=tuple(piece.said for piece in pieces),
            starts=ready.starts + place * each,
            ends=ready.starts + (place + 1) * each,
        )
        for place, pieces in enumerate(buckets)
    ]


def neutraliser_batches(setting: CoatSetting, steps: Sequence[PlannedStep], number: int) -> Iterator[PlannedBatch]:
    """The buckets of the neutraliser. Each is empty when the last of its pieces is neutralised."""
    if setting.neutraliser is None:
        return
    coat, profile = setting.neutraliser
    for place, pieces in enumerate(acid.bucketfuls(setting, setting.pieces)):
        mixed = next(step.starts for step in steps if step.batch == number + place and step.kind == "mix")
        amount = amounts(coat, profile, pieces)
        one_bucket = len(acid.bucketfuls(setting, setting.pieces)) == 1
        set_by = "what is etched: one bucket does it" if one_bucket else most_l(setting.site, coat, profile)[1]
        poured = _last(steps, NEUTRALISE, pieces)
        yield planned_bucket(setting.site, coat, profile, pieces, amount, number + place, mixed, poured, set_by)


def _last(steps: Sequence[PlannedStep], kind: str, pieces: Sequence[FloorPiece]) -> datetime:
    names = {piece.said for piece in pieces}
    return max(step.ends for step in steps if step.kind == kind and names & set(step.areas))


def ended_on(batch: PlannedBatch, steps: Sequence[PlannedStep]) -> dict[str, datetime]:
    """When each step of a batch ended. A neutraliser goes on with the acid's steps and has no pour of its own."""
    ended = {step.kind: step.ends for step in steps if step.batch == batch.number}
    if "pour" not in ended:
        ended |= {"pour": batch.poured_at, RINSE: _last(steps, RINSE, batch.pieces)}
    return ended
