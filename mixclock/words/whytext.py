"""Why an area failed, in words for somebody who stands on it."""

from __future__ import annotations

from collections.abc import Iterator

from mixclock.decide.why.diagnosis import SUGGESTED_FROM, Diagnosis, Suspect, Verdict, number
from mixclock.decide.why.scoring import Weighed

MOST_CAUSES = 3
MOST_FACTS = 8
WORTH_NAMING = 0.1

_SAID = {
    Verdict.SHOWN: "the record shows",
    Verdict.SUGGESTED: "the record suggests",
    Verdict.NOT_SHOWN: "the record does not show why",
}


def why_lines(found: Diagnosis, us_units: bool = False, full: bool = True) -> list[str]:
    """The answer, line by line, the verdict first."""
    return [line for line in _lines(found, us_units, full) if line]


def _lines(found: Diagnosis, us_units: bool, full: bool) -> Iterator[str]:
    yield _headline(found)
    if found.remark and found.verdict is not Verdict.NOT_SHOWN:
        yield found.remark
    if found.verdict is Verdict.NOT_SHOWN and not found.suspects:
        yield found.remark
    for suspect in _named(found):
        yield from suspect_lines(suspect, us_units)
    yield from _nearest(found)
    yield from _excluded(found)
    if full:
        yield from _missing(found)
        yield from found.asks
        yield from (f"Test: {test.name}. {test.how} {test.tells}{_caution(test.caution)}" for test in found.tests[:4])
    for coat, words in found.siblings.items():
        yield f"Compared with ({coat}): {words}."
    if found.fellows:
        yield f"The same was found on {', '.join(found.fellows)}."


def _headline(found: Diagnosis) -> str:
    what = f"{found.area}, {found.symptom}" if found.symptom else found.area
    named = _named(found)
    if not named:
        return f"{what}: {_SAID[Verdict.NOT_SHOWN]}."
    others = f", then {' and '.join(suspect.cause.name for suspect in named[1:])}" if len(named) > 1 else ""
    return f"{what}: {_SAID[found.verdict]} {named[0].cause.name}{others}."


def _named(found: Diagnosis) -> list[Suspect]:
    if found.verdict is Verdict.NOT_SHOWN:
        return []
    told = [suspect for suspect in found.suspects if suspect.score >= SUGGESTED_FROM and suspect.sure]
    return told[:MOST_CAUSES]


def _nearest(found: Diagnosis) -> Iterator[str]:
    """What came nearest where nothing is shown: near a limit, or within the doubt of a clock."""
    if found.verdict is Verdict.NOT_SHOWN:
        near = [suspect for suspect in found.suspects if suspect.evidence and suspect.score >= WORTH_NAMING]
        for suspect in near[:2]:
            told = "; ".join(evidence_words(item).rstrip(".") for item in suspect.evidence)
            yield f"Nearest, and not enough: {suspect.cause.name}, {told}."


def suspect_lines(suspect: Suspect, us_units: bool) -> Iterator[str]:
    """One cause: how it harms, its numbers, what speaks against, how to be sure, what to do."""
    cause = suspect.cause
    weight = f"weight {suspect.score * 100:.0f} of 100, in the {suspect.coat} coat"
    yield f"{cause.name.capitalize()} ({weight}): {cause.mechanism}"
    for item in suspect.evidence:
        yield f"For: {evidence_words(item, us_units)}"
    for line in suspect.against:
        yield f"Against: {line}."
    yield f"To be sure: {cause.confirm}"
    yield f"Remedy: {cause.remedy} {cause.caution}"


def evidence_words(item: Weighed, us_units: bool = False) -> str:
    """One piece of evidence with its number, its limit, the healthy areas and its source."""
    told = f" ({item.told})" if item.told else ""
    if isinstance(item.value, float) and isinstance(item.limit, float):
        numbers = f"{item.says}{told}: {number(item, item.value, us_units)}"
        healthy = f", healthy areas {number(item, item.healthy, us_units)}" if isinstance(item.healthy, float) else ""
        return f"{numbers}, limit {number(item, item.limit, us_units)}{healthy}; {item.source}."
    healthy = f"; healthy areas: {item.healthy}" if item.healthy else ""
    says = "seen" if item.says.startswith("sign:") else item.says
    return f"{says}: {item.value}{healthy}."


def _excluded(found: Diagnosis) -> Iterator[str]:
    names = [suspect for suspect in found.suspects if suspect.excluded and suspect.cause.fit(found.symptom) >= 0.6]
    for suspect in names[:5]:
        yield f"Not {suspect.cause.name}: {suspect.against[0]}."


def _missing(found: Diagnosis) -> Iterator[str]:
    for missing, causes in found.not_recorded[:MOST_FACTS]:
        yield f"Not recorded: {missing.what} (would decide {causes}). To find out: {missing.find_out}."
    more = len(found.not_recorded) - MOST_FACTS
    if more > 0:
        yield f"And {more} more facts that nobody recorded."


def _caution(caution: str) -> str:
    return f" {caution}" if caution else ""
