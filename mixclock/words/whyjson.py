"""What `why --json` answers, in the keys that other programs rely on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from mixclock.decide.why.diagnosis import Diagnosis, Suspect
from mixclock.decide.why.scoring import Weighed
from mixclock.words.whytext import why_lines


def why_json(found: Diagnosis, at: datetime, next_time: Sequence[str] = ()) -> dict[str, Any]:
    """The answer for one area."""
    return {
        "at": at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "area": found.area,
        "symptom": found.symptom,
        "shape": found.shape,
        "causes": [_cause(suspect) for suspect in found.suspects if suspect.score > 0.0 or suspect.excluded],
        "not_recorded": [f"{missing.what} (would decide {causes})" for missing, causes in found.not_recorded],
        "verdict": str(found.verdict),
        "find_out": [
            {"fact": missing.what, "would_decide": causes, "how": missing.find_out}
            for missing, causes in found.not_recorded
        ],
        "asks": list(found.asks),
        "tests": [
            {"name": test.name, "how": test.how, "tells": test.tells, "caution": test.caution} for test in found.tests
        ],
        "compared_with": dict(found.siblings),
        "same_fault_on": list(found.fellows),
        "next_time": list(next_time),
        "text": "\n".join(why_lines(found)),
    }


def _cause(suspect: Suspect) -> dict[str, Any]:
    return {
        "name": suspect.cause.name,
        "score": round(suspect.score, 3),
        "evidence": [_evidence(item) for item in suspect.evidence],
        "against": list(suspect.against),
        "confirm": suspect.cause.confirm,
        "remedy": suspect.cause.remedy,
        "caution": suspect.cause.caution,
        "mechanism": suspect.cause.mechanism,
        "coat": suspect.coat,
        "excluded": suspect.excluded,
        "source": suspect.cause.source,
    }


def _evidence(item: Weighed) -> dict[str, Any]:
    return {
        "quantity": item.quantity,
        "value": _rounded(item.value),
        "limit": _rounded(item.limit),
        "healthy": _rounded(item.healthy),
        "source": item.source,
        "says": item.says,
        "detail": item.told,
        "probably_past": round(item.probably_past, 3),
    }


def _rounded(value: float | str | None) -> float | str | None:
    return round(value, 3) if isinstance(value, float) else value
