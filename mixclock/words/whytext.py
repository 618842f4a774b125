"""Why an area failed, in words for somebody who stands on it: first the answer, then what would decide it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from mixclock.decide.why.diagnosis import DecidingFact, Diagnosis
from mixclock.decide.why.evidence import Evidence, number
from mixclock.decide.why.suspects import Suspect, WhyVerdict
from mixclock.decide.why.symptoms import SOUND
from mixclock.units import METRIC_CREW, CrewUnits
from mixclock.words.enumeration import list_words, sentences

MOST_DECIDERS = 5
"""So many things to find out or to test are told without --more."""

MOST_FACTS, MOST_ASKED = 5, 3
"""How many unrecorded facts the answer names, and for how many of them it says how to find out; the rest are tests."""

NOT_SHOWN = "the record does not show why"


ASKING = "ask the crew and the owner"
"""The test that needs no words here: the facts to ask for stand by name."""

MOST_QUOTED = 2

AS_TELLING = 1.2
"""Where one cause is shown, the answer asks only for a fact with at least this weight."""


def why_lines(
    found: Diagnosis, units: CrewUnits = METRIC_CREW, settings: Sequence[str] = (), more: bool = False
) -> list[str]:
    """The answer, line by line: the sentence, what speaks for it, what would decide it, what to do."""
    return [line for line in _lines(found, units, settings, more) if line]


def _lines(found: Diagnosis, units: CrewUnits, settings: Sequence[str], more: bool) -> Iterator[str]:
    yield sentence(found)
    yield found.remark
    yield from _first_evidence(found, units)
    yield from _unrecorded(found)
    for suspect in found.named:
        yield from _case_against(suspect, units, tell_first=suspect is not found.named[0])
    yield from _late_by_the_call(found, units)
    yield from _quoted(found)
    yield from _deciders(found)
    yield from _what_to_do(found)
    yield from (f"Next time: {words}." for words in settings)
    yield _compared(found)
    if more:
        yield from _more(found, units)
    elif found.suspects:
        yield "`--more` tells the rest."


def sentence(found: Diagnosis) -> str:
    """The verdict in one sentence: the same in text, JSON and side by side."""
    what = f"{found.area}, {found.symptom}" if found.symptom else found.area
    names = [suspect.cause.name for suspect in found.named]
    if found.symptom == SOUND:
        return f"{what}."
    if not names and found.symptom is None and found.suspects:
        return f"{what}: nothing stands out in its record."
    if not names:
        return f"{what}: {NOT_SHOWN}."
    if found.verdict is WhyVerdict.SHOWN:
        return f"{what}: the record shows {list_words(names)}."
    return f"{what}: the record points to {list_words(names, 'or')}, and does not prove it."


def _first_evidence(found: Diagnosis, units: CrewUnits) -> Iterator[str]:
    if found.named:
        first, plane = found.named[0], found.complaint.plane
        broke = f" It broke {plane}." if plane is not None and first.cause.planes.get(plane) else ""
        yield f"For: {evidence_words(first.evidence[0], units)}{broke}"


def _unrecorded(found: Diagnosis) -> Iterator[str]:
    """The facts that nobody recorded and that would decide it; where nothing is named, in two sentences."""
    said = [f"{fact.gap.what} ({_names(fact)})" for fact in _facts_told(found)]
    first = said if found.named else said[:2]
    if first:
        yield f"Nobody recorded {list_words(first, 'or')}."
    if len(said) > len(first):
        yield f"Nor {list_words(said[len(first) :], 'or')}."


def _names(fact: DecidingFact) -> str:
    told = fact.causes[:2]
    return " or ".join(told) if len(fact.causes) <= len(told) else f"{', '.join(told)} and more"


def _facts_told(found: Diagnosis) -> Sequence[DecidingFact]:
    """Where a cause is shown, ask only for facts that decide as well as the cause's own figures."""
    if found.verdict is WhyVerdict.SHOWN:
        return [fact for fact in found.facts[:1] if fact.weight >= AS_TELLING]
    first = [fact for fact in found.facts if fact.is_first]
    return first[: MOST_ASKED if found.named else MOST_FACTS]


def _case_against(suspect: Suspect, units: CrewUnits, tell_first: bool) -> Iterator[str]:
    """The rest of what speaks for a cause, and what speaks against it."""
    if tell_first:
        yield f"For {suspect.cause.name}: {evidence_words(suspect.evidence[0], units)}"
    yield from (f"Also for {suspect.cause.name}: {evidence_words(item, units)}" for item in suspect.evidence[1:])
    yield from (f"Against {suspect.cause.name}: {line}." for line in suspect.against)
    yield from (f"Somebody wrote, for you to judge: {quote}." for quote in suspect.quotes)


def _quoted(found: Diagnosis) -> Iterator[str]:
    """Free words that may concern a cause, where none is named: a reader judges, the program does not."""
    if found.named:
        return
    asked = {name for fact in _facts_told(found) for name in fact.causes}
    said = [f"Somebody wrote, for you to judge ({suspect.cause.name}): {quote}."
            for suspect in found.suspects if suspect.cause.name in asked for quote in suspect.quotes]  # fmt: skip
    yield from said[:MOST_QUOTED]


def _late_by_the_call(found: Diagnosis, units: CrewUnits) -> Iterator[str]:
    """A late step that is not named as a cause, with the hour of its call and the hour of its statement."""
    if found.verdict is WhyVerdict.SHOWN:
        return
    for suspect in found.suspects:
        if suspect not in found.named and suspect.cause.fit(found.symptom) > 0.0:
            for item in suspect.after_call:
                yield f"Not enough for {suspect.cause.name}, but told: {evidence_words(item, units)}"


def _deciders(found: Diagnosis) -> Iterator[str]:
    """What would decide it, the cheapest first: at most five."""
    asks = [f"{fact.gap.what[0].upper()}{fact.gap.what[1:]}: {fact.gap.find_out}.{_typed(found, fact)}"
            for fact in _facts_told(found)[:MOST_ASKED]]  # fmt: skip
    tests = [f"{test.how} {test.tells} {test.caution}".rstrip() for test in found.tests if test.name != ASKING]
    chosen = [*asks, *found.asks][: MOST_DECIDERS - 1]
    chosen += tests[: MOST_DECIDERS - len(chosen)]
    if chosen:
        shown = found.verdict is WhyVerdict.SHOWN
        yield "To be sure, cheapest first:" if shown else "What would decide it, cheapest first:"
    yield from (f"{number}. {words}" for number, words in enumerate(chosen, start=1))


def _typed(found: Diagnosis, fact: DecidingFact) -> str:
    """How a tick is stated."""
    tick = fact.gap.tick
    return f" Say: noted '{tick.choices[0]}' --on '{found.area}' (or {', '.join(tick.answers[1:])})." if tick else ""


def _what_to_do(found: Diagnosis) -> Iterator[str]:
    for suspect in found.named:
        cause = suspect.cause
        one = found.verdict is WhyVerdict.SHOWN and len(found.named) == 1
        head = "Do" if one else f"For {cause.name}" if found.verdict is WhyVerdict.SHOWN else f"If it is {cause.name}"
        yield f"{head}: {cause.remedy_at(found.complaint.plane)}"
    cautions = [caution for suspect in found.named for caution in sentences(suspect.cause.caution)]
    if cautions:
        yield f"Mind: {' '.join(dict.fromkeys(cautions))}"


def _compared(found: Diagnosis) -> str:
    if not found.suspects:
        return ""
    if found.healthy:
        return f"Compared with {list_words(found.healthy)}, found sound."
    if found.unseen:
        return (
            f"Nobody said how {list_words(found.unseen)} look{'s' if len(found.unseen) == 1 else ''}: "
            f"`found '{found.unseen[0]}' sound` tells more than any test."
        )
    return ""


def _more(found: Diagnosis, units: CrewUnits) -> Iterator[str]:
    """What is left out of a short answer."""
    for suspect in found.named:
        weight = f"weight {suspect.score * 100:.0f} of 100, in the {suspect.coat} coat"
        yield f"{suspect.cause.name.capitalize()} ({weight}): {suspect.cause.mechanism}"
        yield f"To be sure: {suspect.cause.confirm}"
    if found.verdict is WhyVerdict.SHOWN:
        yield from (f"Suggested as well: {words}" for words in _suggested(found, units))
    yield from (f"Nearest, and not enough: {words}" for words in _nearest(found, units))
    yield from _excluded(found)
    for fact in found.facts[len(_facts_told(found)) :]:
        yield f"Not recorded: {fact.gap.what} (would decide {' or '.join(fact.causes)}). {fact.gap.find_out}."
    if found.fellows:
        yield f"The same was found on {list_words(found.fellows)}."


def _suggested(found: Diagnosis, units: CrewUnits) -> Iterator[str]:
    for suspect in found.suggested:
        yield f"{suspect.cause.name}: {_all_evidence(suspect, units)}."


def _nearest(found: Diagnosis, units: CrewUnits) -> Iterator[str]:
    """The causes with some evidence, but too little."""
    weak = [suspect for suspect in found.suspects if suspect.verdict is WhyVerdict.NOT_SHOWN and suspect.evidence]
    for suspect in weak[:2]:
        yield f"{suspect.cause.name}: {_all_evidence(suspect, units)}."


def _all_evidence(suspect: Suspect, units: CrewUnits) -> str:
    return "; ".join(evidence_words(item, units).rstrip(".") for item in suspect.evidence)


def _excluded(found: Diagnosis) -> Iterator[str]:
    """The causes that the record rules out, less those that rest on the same figure as a named one."""
    decided = {suspect.cause.decided_by for suspect in found.named}
    for suspect in found.suspects:
        if suspect.excluded and suspect.cause.fit(found.symptom) >= 0.6 and suspect.cause.decided_by not in decided:
            yield f"Not {suspect.cause.name}: {suspect.against[0]}."


def evidence_words(item: Evidence, units: CrewUnits = METRIC_CREW) -> str:
    """One piece of evidence: its figure, its limit with the source, the other areas, and which statement it is."""
    if not isinstance(item.value, float) or not isinstance(item.limit, float):
        beside = f"; areas found sound: {item.healthy}" if item.healthy else ""
        return f"{item.value}{beside}."
    figures = f"{item.says}: {number(item, item.value, units)}, limit {number(item, item.limit, units)}"
    theirs = f"; areas found sound {number(item, item.healthy, units)}" if isinstance(item.healthy, float) else ""
    if item.healthy is None and item.others is not None:
        theirs = f"; areas that nobody looked at {number(item, item.others, units)}"
    told = f". {item.told[0].upper()}{item.told[1:]}" if item.told else ""
    return f"{figures} ({item.limit_source}){theirs}{told}."


__all__ = ["evidence_words", "sentence", "why_lines"]
