"""What `why --json` answers, in the keys that other programs rely on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from mixclock.decide.why.diagnosis import Diagnosis
from mixclock.decide.why.evidence import Evidence
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.suspects import Suspect
from mixclock.job.instants import json_text
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.words.jsonfields import fields_json, plain_json
from mixclock.words.whytext import sentence, why_lines


def why_json(
    found: Diagnosis, at: datetime, settings: Sequence[str] = (), units: CrewUnits = METRIC_CREW
) -> dict[str, Any]:
    """The answer for one area. `shown` and `suggested` name causes; `sentence` is what a person reads first."""
    return {
        "at": json_text(at),
        "area": found.area,
        "symptom": found.symptom,
        "shape": found.complaint.shape,
        "broke": found.complaint.plane,
        "verdict": str(found.verdict),
        "sentence": sentence(found),
        "shown": [suspect.cause.name for suspect in found.shown],
        "suggested": [suspect.cause.name for suspect in found.suggested],
        "causes": [
            _cause(suspect, found.complaint.plane)
            for suspect in found.suspects
            if suspect.score > 0.0 or suspect.excluded
        ],
        "not_recorded": [f"{fact.gap.what} (would decide {' or '.join(fact.causes)})" for fact in found.facts],
        "find_out": [
            {
                "fact": fact.gap.what,
                "would_decide": " or ".join(fact.causes),
                "how": fact.gap.find_out,
                "say": list(fact.gap.tick.choices) if fact.gap.tick else [],
            }
            for fact in found.facts
        ],
        "asks": list(found.asks),
        "tests": [fields_json(test, "source") for test in found.tests],
        "found_sound": list(found.healthy),
        "not_looked_at": list(found.unseen),
        "same_fault_on": list(found.fellows),
        "next_time": list(settings),
        "text": "\n".join(why_lines(found, units, settings)),
    }


def _cause(suspect: Suspect, plane: str | None) -> dict[str, Any]:
    return {
        "name": suspect.cause.name,
        "score": round(suspect.score, 3),
        "verdict": str(suspect.verdict),
        "evidence": [_evidence(item) for item in suspect.evidence],
        "against": list(suspect.against),
        "confirm": suspect.cause.confirm,
        "remedy": suspect.cause.remedy_at(plane),
        "caution": suspect.cause.caution,
        "mechanism": suspect.cause.mechanism,
        "coat": suspect.coat,
        "excluded": suspect.excluded,
        "quoted": list(suspect.quotes),
        "source": suspect.cause.source,
    }


def _evidence(item: Evidence) -> dict[str, Any]:
    return {
        "quantity": item.quantity,
        "value": plain_json(item.value),
        "limit": plain_json(item.limit),
        "healthy": plain_json(item.healthy),
        "not_looked_at": plain_json(item.others),
        "source": item.limit_source,
        "says": item.says,
        "detail": item.told,
        "probably_past": round(item.probably_past, 3),
        "judged_by": [gauge.step_reason, gauge.sigma_reason] if isinstance(gauge := item.source, Gauge) else [],
    }
