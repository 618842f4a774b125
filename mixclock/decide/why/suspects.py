"""Each cause beside the record of an area: what speaks for it, what speaks against it, and what is missing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum

from mixclock.decide.why.case import Case, clock_text
from mixclock.decide.why.causes import CAUSES
from mixclock.decide.why.causes.cause import LEADS, POSSIBLE, Cause, Clue, Lies
from mixclock.decide.why.evidence import Evidence, number, together, weigh
from mixclock.decide.why.gauge import Gauge
from mixclock.decide.why.layers import Fact, Gap, Layer
from mixclock.decide.why.observation import Observation, span_of
from mixclock.decide.why.symptoms import SYMPTOMS
from mixclock.job.entry import Entry, Noted
from mixclock.job.ticks import Tick, tick_of
from mixclock.job.tradefacts import PLANE
from mixclock.units import CrewUnits
from mixclock.values import dataclass, field

SHOWN_FROM, SUGGESTED_FROM = 0.5, 0.25
"""The weights from which a cause counts as shown or as suggested: better than even, and one in four (judgement)."""

SHAPE_FITS, SHAPE_NEUTRAL, SHAPE_CONTRADICTS, SHAPE_UNKNOWN = 1.0, 0.8, 0.4, 0.9
"""How much of a cause's weight the shape of the fault leaves (judgement)."""

PLANE_CONTRADICTS = 0.1
"""What is left of a cause in another plane than the one that broke. People see where it broke, they do not guess it
(judgement)."""

BURIED = 0.6
"""What is left of a cause in a buried coat, if the fault is one of the surface (judgement)."""

EXCUSED = 0.3
"""What is left of a cause that a tick excuses: an abraded coat, for one, may be recoated late (judgement)."""

SHAPE_TYPICAL_FROM = 0.6

HALF = 0.5
"""From this weight on a clue may carry a cause."""


class WhyVerdict(StrEnum):
    """What the record says."""

    SHOWN = "shown"
    SUGGESTED = "suggested"
    NOT_SHOWN = "not shown"


@dataclass(frozen=True)
class Complaint:
    """What was found. It helps to choose among causes, but is no evidence itself."""

    area: str
    symptom: str | None = None
    shape: str | None = None
    plane: str | None = None


@dataclass(frozen=True)
class Lack:
    """A fact that nobody recorded here, whether other areas have it, and whether all other figures clear the cause."""

    gap: Gap
    elsewhere: bool
    rest_clears: bool


@dataclass(frozen=True)
class Suspect:
    """One cause with what speaks for and against it, on one coat.

    `fit` is how well the cause goes with what was found, where it shows and where it broke. `after_call` holds steps
    that were stated after their call, and yet probably within their window.
    """

    cause: Cause
    coat: str
    score: float
    evidence: tuple[Evidence, ...]
    against: tuple[str, ...]
    lacks: tuple[Lack, ...]
    excluded: bool
    fit: float = 0.0
    after_call: tuple[Evidence, ...] = ()
    quotes: tuple[str, ...] = ()

    @property
    def verdict(self) -> WhyVerdict:
        """What the record says of this cause."""
        if self.score >= SHOWN_FROM:
            return WhyVerdict.SHOWN
        return WhyVerdict.SUGGESTED if self.score >= SUGGESTED_FROM else WhyVerdict.NOT_SHOWN


def ranked_suspects(case: Case, coats: Sequence[Layer], complaint: Complaint) -> tuple[Suspect, ...]:
    """Each cause once, on the coat where most speaks for it; the best first."""
    best: dict[str, Suspect] = {}
    for suspect in _suspects(case, coats, complaint):
        other = best.get(suspect.cause.name)
        if other is None or (suspect.score, len(suspect.lacks)) > (other.score, len(other.lacks)):
            best[suspect.cause.name] = suspect
    return tuple(sorted(best.values(), key=lambda suspect: -suspect.score))


def _suspects(case: Case, coats: Sequence[Layer], complaint: Complaint) -> Iterable[Suspect]:
    known = SYMPTOMS.get(complaint.symptom) if complaint.symptom else None
    for layer in coats:
        visible = layer is coats[-1] or (known is not None and known.any_coat)
        desk = _Desk(case, layer, complaint, 1.0 if visible else BURIED)
        for cause in CAUSES:
            if _concerns(case, layer, cause):
                yield desk.suspect(cause)


def _concerns(case: Case, layer: Layer, cause: Cause) -> bool:
    profile = case.profile(layer)
    if cause.families and (profile is None or profile.family not in cause.families):
        return False
    if cause.lies is Lies.ANYWHERE:
        return True
    return (case.below(layer) is None) is (cause.lies is Lies.ON_THE_SLAB)


@dataclass
class _Desk:
    """One coat on one area under study: its quantities and those of the other areas, each gathered once."""

    case: Case
    layer: Layer
    complaint: Complaint
    seen: float
    weighed: dict[str, Evidence | None] = field(default_factory=dict)

    def weigh(self, source: Gauge | Observation) -> Evidence | None:
        """Weigh one quantity beside the areas that were found sound and those that nobody looked at."""
        if source.quantity not in self.weighed:
            own = source.gather(self.case, self.layer)
            healthy = [self._beside(source, sibling) for sibling in self.case.healthy(self.layer)]
            others = [self._beside(source, sibling) for sibling in self.case.unseen(self.layer)]
            self.weighed[source.quantity] = weigh(source, own, healthy, others)
        return self.weighed[source.quantity]

    def _beside(self, source: Gauge | Observation, sibling: Layer) -> Fact:
        if isinstance(source, Gauge) and source.beside is not None:
            return source.beside(self.case, sibling, self.layer.area)
        return source.gather(self.case, sibling)

    def suspect(self, cause: Cause) -> Suspect:
        """A cause, with everything that the record says of it."""
        pairs = [(clue, item) for clue in cause.clues if (item := self.weigh(clue.source)) is not None]
        leading = [item for clue, item in pairs if clue.weight >= LEADS]
        score = self._score(cause, pairs)
        return Suspect(
            cause=cause,
            coat=self.layer.coat,
            score=score,
            evidence=tuple(item for _, item in sorted(pairs, key=_by_weight) if item.speaks_for),
            against=tuple(self._against(cause, [item for clue, item in pairs if clue.weight >= HALF])),
            lacks=tuple(_lacks(pairs)),
            fit=cause.fit(self.complaint.symptom) * self._place_fit(cause),
            excluded=bool(leading) and all(item.speaks_against for item in leading) and score < SUGGESTED_FROM,
            after_call=tuple(item for _, item in pairs if _after_call(item)),
            quotes=tuple(quotes_about(self.case, self.layer, cause)),
        )

    def _score(self, cause: Cause, pairs: Sequence[tuple[Clue, Evidence]]) -> float:
        """The weight of a cause. It counts as shown only with a sure leading fact, and is not even suggested without a
        leading fact."""
        carrying = [item for clue, item in pairs if clue.weight >= HALF and item.speaks_for]
        strength = together([clue.weight * item.strength for clue, item in pairs if item.speaks_for])
        score = strength * cause.fit(self.complaint.symptom) * self._place_fit(cause) * self.seen * self._excuse(cause)
        if not carrying:
            return min(score, SUGGESTED_FROM * 0.99)
        return score if any(item.is_sure for item in carrying) else min(score, SHOWN_FROM * 0.99)

    def _place_fit(self, cause: Cause) -> float:
        plane = self.complaint.plane
        broke = PLANE_CONTRADICTS if plane is not None and cause.planes.get(plane) == 0.0 else 1.0
        return broke * shape_fit(cause, self.complaint.shape)

    def _excuse(self, cause: Cause) -> float:
        return EXCUSED if self._excuses(cause) else 1.0

    def _excuses(self, cause: Cause) -> list[str]:
        said = [self.weigh(excuse) for excuse in cause.excused_by]
        return [str(item.value) for item in said if item is not None and item.probably_past > 0.0]

    def _against(self, cause: Cause, items: Sequence[Evidence]) -> Iterable[str]:
        units = self.case.units
        yield from (_inside(item, units) for item in items if item.speaks_against)
        yield from (
            f"areas that were found sound had the same: {item.says}"
            for item in items
            if item.speaks_for and item.as_healthy
        )
        yield from self._excuses(cause)
        shape, plane, symptom = self.complaint.shape, self.complaint.plane, self.complaint.symptom
        if shape is not None and cause.shapes.get(shape) == 0.0:
            yield f"the shape ({shape}) does not fit"
        if plane is not None and cause.planes.get(plane) == 0.0:
            yield f"it broke {plane}"
        if symptom is not None and 0.0 < cause.fit(symptom) < POSSIBLE:
            yield f"seldom looks like this ({symptom})"


def _by_weight(pair: tuple[Clue, Evidence]) -> float:
    clue, item = pair
    return -clue.weight * item.strength


def _after_call(item: Evidence) -> bool:
    """Whether a step was stated after its call, and still probably in time."""
    known = item.known
    late = known is not None and known.at is not None and known.called is not None and known.at > known.called
    return late and not item.speaks_for


def _lacks(pairs: Sequence[tuple[Clue, Evidence]]) -> Iterable[Lack]:
    """The missing facts among those that may carry the cause."""
    carrying = [item for clue, item in pairs if clue.weight >= HALF]
    for item in carrying:
        if item.gap is not None:
            rest = [other for other in carrying if other is not item and isinstance(other.source, Gauge)]
            clears = bool(rest) and all(other.speaks_against for other in rest)
            yield Lack(item.gap, item.known_elsewhere, clears)


def shape_fit(cause: Cause, shape: str | None) -> float:
    """What the shape of the fault leaves of a cause's weight."""
    if shape is None:
        return SHAPE_UNKNOWN
    fit = cause.shapes.get(shape)
    if fit is None:
        return SHAPE_NEUTRAL
    return SHAPE_FITS if fit >= SHAPE_TYPICAL_FROM else SHAPE_CONTRADICTS


def _inside(item: Evidence, units: CrewUnits) -> str:
    if isinstance(item.value, float) and isinstance(item.limit, float):
        return f"{item.says}: {number(item, item.value, units)} (limit {number(item, item.limit, units)})"
    return f"{item.says}: {item.value}"


def plane_of(case: Case, area: str) -> str | None:
    """Where it broke, as ticked last on the area."""
    said = [PLANE.answered(entry.facts.text) for entry in case.notes
            if isinstance(entry.facts, Noted) and entry.facts.area == area]  # fmt: skip
    return next((answer for answer in reversed(said) if answer is not None), None)


def quotes_about(case: Case, layer: Layer, cause: Cause) -> Iterator[str]:
    """What somebody wrote on this area, batch or floor in the span in which it may concern the cause."""
    sources = [clue.source for clue in cause.clues]
    ticks = [source.tick for source in sources if isinstance(source, Observation) and source.tick is not None]
    for entry, words in case.free_texts:
        if tick_of(words, ticks) is not None:
            continue
        if any(_may_concern(case, layer, tick, entry, words) for tick in ticks) and _holds_here(layer, entry):
            yield f"“{words}”{_by(entry)}, {clock_text(case.standing, entry.happened)}"


def _may_concern(case: Case, layer: Layer, tick: Tick, entry: Entry, words: str) -> bool:
    start, end = span_of(case, layer, tick)
    return bool(tick.about) and start <= entry.happened <= end and bool(re.search(tick.about, words, re.IGNORECASE))


def _by(entry: Entry) -> str:
    return f" ({entry.by})" if entry.by else ""


def _holds_here(layer: Layer, entry: Entry) -> bool:
    facts = entry.facts
    area, batch, areas = (getattr(facts, name, None) for name in ("area", "batch", "areas"))
    mine = {own.id for own in layer.batches}
    if entry.number in {own.combined.entry for own in layer.batches} or batch in mine:
        return True
    if area is None and batch is None and not areas:
        return isinstance(facts, Noted)
    return batch is None and (area == layer.area or layer.area in (areas or ()))
