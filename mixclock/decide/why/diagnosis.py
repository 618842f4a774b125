"""Why an area failed: causes ranked by evidence, what speaks against, and what was never recorded."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from mixclock.decide.why.case import Case
from mixclock.decide.why.floortests import FloorTest, cheapest_first
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Gap, Layer
from mixclock.decide.why.quantities.joints import stops_told
from mixclock.decide.why.suspects import (
    SUGGESTED_FROM,
    Complaint,
    Lack,
    Suspect,
    WhyVerdict,
    plane_of,
    ranked_suspects,
)
from mixclock.decide.why.symptoms import SOUND, SYMPTOMS, symptom_meant
from mixclock.job.entry import Entry, Found
from mixclock.job.tradefacts import PLANE
from mixclock.values import dataclass, replace

SHOWS_A_JOINT = frozenset({"lap line", "picture framing", "roller marks"})
"""Symptoms for which a planned stop is mentioned: a line may show where the tape was."""

MOST_NAMED = 3
"""At most this many causes stand in the sentence that people read."""

FIGURE_TELLS, ELSEWHERE_TELLS, REST_CLEARS = 0.2, 0.3, 0.3
"""Three weights (judgement). A figure tells more than a tick. A fact that other areas have and this one lacks tells
most. If all figures of a cause clear it, its missing facts matter less."""


@dataclass(frozen=True)
class DecidingFact:
    """A fact that nobody recorded, and the causes that it would decide. `is_first` tells whether it is the first such
    fact for one of these."""

    gap: Gap
    causes: tuple[str, ...]
    weight: float
    is_first: bool = True


@dataclass(frozen=True)
class Diagnosis:
    """The answer to why an area failed."""

    complaint: Complaint
    suspects: tuple[Suspect, ...] = ()
    facts: tuple[DecidingFact, ...] = ()
    tests: tuple[FloorTest, ...] = ()
    healthy: tuple[str, ...] = ()
    unseen: tuple[str, ...] = ()
    fellows: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    remark: str = ""

    @property
    def area(self) -> str:
        """The area that was asked about."""
        return self.complaint.area

    @property
    def symptom(self) -> str | None:
        """What was found on it."""
        return self.complaint.symptom

    @property
    def verdict(self) -> WhyVerdict:
        """What the record says: the verdict on the first cause."""
        return self.suspects[0].verdict if self.suspects else WhyVerdict.NOT_SHOWN

    @property
    def shown(self) -> tuple[Suspect, ...]:
        """The causes that the record shows."""
        return tuple(suspect for suspect in self.suspects if suspect.verdict is WhyVerdict.SHOWN)

    @property
    def suggested(self) -> tuple[Suspect, ...]:
        """The causes that it suggests."""
        return tuple(suspect for suspect in self.suspects if suspect.verdict is WhyVerdict.SUGGESTED)

    @property
    def named(self) -> tuple[Suspect, ...]:
        """The causes in the sentence that people read, the best first. None stands there while a better one is left
        out."""
        return (self.shown or self.suggested)[:MOST_NAMED]


def diagnose(case: Case, area: str, symptom: str | None = None, shape: str | None = None) -> Diagnosis:
    """Why an area failed. Symptom and shape come from the latest finding if they are not given."""
    found = _finding(case, area)
    if found is not None and isinstance(found.facts, Found) and symptom is None:
        symptom, shape = found.facts.symptom, shape or found.facts.shape
    symptom = symptom_meant(symptom) if symptom is not None else None
    complaint = Complaint(area, symptom, shape, plane_of(case, area))
    if symptom == SOUND:
        return Diagnosis(complaint, remark=f"{area} was found sound.")
    coats = _coats_seen(case, area, found)
    if not coats:
        return _nothing_laid(case, complaint)
    suspects = ranked_suspects(case, coats, complaint)
    facts = _deciding_facts(suspects, complaint)
    return Diagnosis(
        complaint,
        suspects,
        facts,
        tests=_tests(suspects, facts),
        healthy=_names(healthy for layer in coats for healthy in case.healthy(layer)),
        unseen=_names(unseen for layer in coats for unseen in case.unseen(layer)),
        fellows=_fellows(case, area, symptom),
        asks=_asks(complaint, suspects, facts),
        remark=_remark(case, coats, complaint),
    )


def _finding(case: Case, area: str) -> Entry | None:
    found = case.findings.get(area, ())
    return found[-1] if found else None


def _coats_seen(case: Case, area: str, found: Entry | None) -> tuple[Layer, ...]:
    """The coats that lay there when the fault was found."""
    until = found.happened if found is not None else case.at
    return tuple(layer for layer in case.on(area) if layer.first <= until)


def _names(layers: Iterable[Layer]) -> tuple[str, ...]:
    return tuple(sorted({layer.area for layer in layers}))


def _deciding_facts(suspects: Sequence[Suspect], complaint: Complaint) -> tuple[DecidingFact, ...]:
    """What nobody recorded and which cause it would decide, the most telling first. Causes of another plane are left
    out."""
    found: dict[str, DecidingFact] = {}
    for suspect in suspects:
        elsewhere = suspect.cause.planes.get(complaint.plane or "") == 0.0
        for lack in suspect.lacks if suspect.fit > 0.0 and not elsewhere else ():
            weight = suspect.fit + _telling(lack)
            topic = lack.gap.topic or lack.gap.what
            found[topic] = _merged(found.get(topic), lack, suspect.cause.name, weight)
    return _one_for_each_cause(sorted(found.values(), key=lambda fact: -fact.weight))


def _merged(before: DecidingFact | None, lack: Lack, cause: str, weight: float) -> DecidingFact:
    """One fact for all the causes that it would decide, in the words of the most telling one."""
    if before is None:
        return DecidingFact(lack.gap, (cause,), weight)
    gap = lack.gap if weight > before.weight else before.gap
    return DecidingFact(gap, tuple(dict.fromkeys((*before.causes, cause))), max(weight, before.weight))


def _one_for_each_cause(facts: Sequence[DecidingFact]) -> tuple[DecidingFact, ...]:
    """The most telling fact of each cause comes before the second of any."""
    covered: set[str] = set()
    first: list[DecidingFact] = []
    second: list[DecidingFact] = []
    for fact in facts:
        if covered.issuperset(fact.causes):
            second.append(replace(fact, is_first=False))
        else:
            first.append(fact)
        covered.update(fact.causes)
    return (*first, *second)


def _telling(lack: Lack) -> float:
    figure = FIGURE_TELLS if lack.gap.tick is None else 0.0
    return figure + ELSEWHERE_TELLS * lack.elsewhere - REST_CLEARS * lack.rest_clears


def _asks(complaint: Complaint, suspects: Sequence[Suspect], facts: Sequence[DecidingFact]) -> tuple[str, ...]:
    """The questions where the fault shows and where it broke. They are asked while the record shows no cause."""
    if suspects and suspects[0].verdict is WhyVerdict.SHOWN:
        return ()
    what, asked = complaint.symptom or "SYMPTOM", []
    if complaint.shape is None and (not suspects[0].evidence or len(facts) > 1):
        shapes = "batch-edge, door, shade, cut-in, drips or all-over"
        asked.append(f"Where does it show? found '{complaint.area}' '{what}' --shape {shapes}")
    known = SYMPTOMS.get(complaint.symptom or "")
    if complaint.plane is None and known is not None and known.lifts:
        choices = ", ".join(PLANE.answers)
        asked.append(f"Where did it break? noted 'broke: {PLANE.answers[0]}' --on '{complaint.area}' (or {choices})")
    return tuple(asked)


def _tests(suspects: Sequence[Suspect], facts: Sequence[DecidingFact]) -> tuple[FloorTest, ...]:
    """Tests for the causes in question, the cheapest first."""
    named = [suspect for suspect in suspects if suspect.score >= SUGGESTED_FROM][:MOST_NAMED]
    in_question = {name for fact in facts for name in fact.causes}
    asked = named or [suspect for suspect in suspects if suspect.cause.name in in_question]
    return cheapest_first(tuple(test for suspect in asked for test in suspect.cause.tests))


def _fellows(case: Case, area: str, symptom: str | None) -> tuple[str, ...]:
    return tuple(
        other
        for other in case.findings
        if other != area
        and any(isinstance(entry.facts, Found) and entry.facts.symptom == symptom for entry in case.faults(other))
    )


def _remark(case: Case, coats: Sequence[Layer], complaint: Complaint) -> str:
    area = complaint.area
    if complaint.symptom is None and area not in case.findings:
        return f"Nothing was found on {area}; this is what stands out in its record."
    if complaint.symptom not in SHOWS_A_JOINT:
        return ""
    return " ".join(dict.fromkeys(stop for layer in coats for stop in stops_told(case, layer)))


def _nothing_laid(case: Case, complaint: Complaint) -> Diagnosis:
    area = complaint.area
    until = " before it was found." if case.on(area) else "."
    gap = Gap(f"which batches went on {area}, and when", "ask the crew, and state them with --at")
    fact = DecidingFact(gap, ("every cause",), 1.0)
    return Diagnosis(complaint, facts=(fact,), remark=f"No batch was stated on {area}{until}")


def next_time(case: Case, area: str, suspects: Sequence[Suspect]) -> tuple[str, ...]:
    """Settings that would have kept the shown causes inside their limits."""
    found: list[str] = []
    for suspect in suspects:
        layer = case.layers.get((area, suspect.coat))
        for item in suspect.evidence if layer is not None else ():
            source = item.source
            if isinstance(source, Gauge) and source.setting and layer is not None and isinstance(item.value, float):
                found += source.setting(case, layer, item)
    return tuple(found)
