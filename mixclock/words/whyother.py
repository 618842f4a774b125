"""The other answers of why, in words and as JSON: areas side by side, a job replayed, and what comes back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any

from mixclock.decide.why.acrossjobs import Pace, Recurrence
from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.comparison import AreaComparison, odd_one
from mixclock.decide.why.whatif import TimeChange, WindowOutcome
from mixclock.job.instants import json_text
from mixclock.job.progress import Standing
from mixclock.job.steps import row_of
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.words.jsonfields import fields_json
from mixclock.words.whytext import evidence_words, sentence

Counts = tuple[int, int, int]


def compared_lines(rows: tuple[AreaComparison, ...], units: CrewUnits = METRIC_CREW) -> list[str]:
    """All areas, the odd one first, each with the sentence that `why` gives for it alone."""
    if not rows:
        return ["No batch was stated on this job yet: there is nothing to compare."]
    odd = odd_one(rows)
    head = f"{odd.area} is the odd one." if odd is not None else "No area stands out in the record."
    return [head, *(_compared_line(row, units) for row in rows)]


def _compared_line(row: AreaComparison, units: CrewUnits) -> str:
    said = sentence(row.diagnosis)
    evidence = [item for suspect in row.diagnosis.named for item in suspect.evidence[:1]]
    told = " ".join(evidence_words(item, units) for item in evidence)
    unseen = "" if row.found or row.diagnosis.symptom else " Nothing was found on it."
    return f"{said}{unseen} {told}".rstrip()


def compared_json(case: Case, rows: tuple[AreaComparison, ...]) -> dict[str, Any]:
    """The same as JSON."""
    odd = odd_one(rows)
    return {
        "at": json_text(case.at),
        "odd": odd.area if odd is not None else None,
        "areas": [
            {
                "area": row.area,
                "found": list(row.found),
                "verdict": str(row.diagnosis.verdict),
                "sentence": sentence(row.diagnosis),
                "cause": row.worst.cause.name if row.worst is not None else None,
                "score": round(row.weight, 3),
            }
            for row in rows
        ],
    }


def held_lines(rows: Sequence[WindowOutcome], had: str) -> list[str]:
    """A replayed job: each window that the change touches."""
    if not rows:
        return [f"Had {had}: no window would have been any different."]
    saved = [row for row in rows if row.held is False and row.would_hold]
    lost = [row for row in rows if row.held and row.would_hold is False]
    more = f"{len(saved)} more {'window' if len(saved) == 1 else 'windows'}" if saved else "no more windows"
    head = f"Had {had}: {more} would have held"
    return [f"{head}{f', {len(lost)} fewer' if lost else ''}.", *(_held_line(row) for row in rows)]


def _plural(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count or 'no'} {what}s"


def _held_line(row: WindowOutcome) -> str:
    where = f" on {row.area}" if row.area else ""
    if row.no_reading:
        return f"Batch {row.batch} {row.window}{where}: nobody read air or slab then, so no clock can be worked out."
    return (
        f"Batch {row.batch} {row.window}{where}: {_used(row.was_pct, row.held)}, would be "
        f"{_used(row.would_be_pct, row.would_hold)}."
    )


def _used(pct: float | None, held: bool | None) -> str:
    if pct is None:
        return "not stated"
    return f"{pct:.0f} % used ({'held' if held else 'missed'})" if pct < 1000.0 else f"{'held' if held else 'missed'}"


def change_words(standing: Standing, change: TimeChange) -> str:
    """What is tried, with its date: "batch 3 rolled Mon 13 Apr 10:30"."""
    past = row_of(change.step).past or change.step
    return f"batch {change.batch} {past} {clock_text(standing, change.at)}"


def held_json(rows: Sequence[WindowOutcome], had: str, at: datetime) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "had": had,
        "had_at": json_text(at),
        "windows": [fields_json(row) for row in rows],
    }


def across_lines(
    counted: Counts, found: Sequence[Recurrence], rolled: Sequence[Pace], units: CrewUnits
) -> Iterator[str]:
    """What comes back, with how thin it is."""
    jobs, laid, failed = counted
    yield f"{_plural(jobs, 'job')}, {_plural(laid, 'coat')} laid on areas, {failed} with a finding."
    if not found:
        yield "Nothing comes back: no product, lot, hour or person fails more often than luck would have it."
    for pattern in found:
        yield pattern_words(pattern)
    for pace in rolled:
        yield _pace_words(pace, units)


def pattern_words(pattern: Recurrence) -> str:
    """One pattern with its counts, how often luck gives it, and whether that is thin."""
    where = {"product": "", "lot": "", "hour": "poured ", "mixed by": "mixed by ", "poured by": "poured by "}[
        pattern.kind
    ]
    thin = f" Thin: {_plural(pattern.laid_with, 'coat')} behind it." if pattern.thin else ""
    return (
        f"{where}{pattern.what}: {pattern.failed_with} of {pattern.laid_with} failed, elsewhere "
        f"{pattern.failed_without} of {pattern.laid_without}. Luck alone gives that {_odds(pattern.luck)}.{thin}"
    )


def _odds(luck: float) -> str:
    return f"once in {1 / luck:.0f}" if 0.0 < luck < 0.5 else "often"


def _pace_words(pace: Pace, units: CrewUnits) -> str:
    stated = f", the job file says {units.write_rate(pace.stated_m2_h)}" if pace.stated_m2_h else ""
    thin = " Thin: few areas." if pace.areas < 8 else ""
    return f"{pace.who} rolls {units.write_rate(pace.m2_h)}, pour to rolled, over {pace.areas} areas{stated}.{thin}"


def across_json(counted: Counts, found: Sequence[Recurrence], rolled: Sequence[Pace]) -> dict[str, Any]:
    """The same as JSON."""
    return {
        "jobs": counted[0],
        "laid": counted[1],
        "failed": counted[2],
        "patterns": [{**fields_json(pattern, places=4), "thin": pattern.thin} for pattern in found],
        "paces": [
            {"who": pace.who, "areas": pace.areas, "rate_m2_h": round(pace.m2_h, 1), "stated_m2_h": pace.stated_m2_h}
            for pace in rolled
        ],
    }
