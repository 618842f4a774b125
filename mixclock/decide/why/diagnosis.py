"""Why an area failed: causes ranked by evidence, what speaks against, and what was never recorded."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType

from mixclock.decide.why.case import Case, Gathered, Laid, Missing, Value
from mixclock.decide.why.causes import CAUSES, Cause
from mixclock.decide.why.causes.shape import LEADS
from mixclock.decide.why.floortests import FloorTest, cheapest_first
from mixclock.decide.why.gather import gather
from mixclock.decide.why.scoring import Weighed, together, weigh
from mixclock.decide.why.symptoms import SYMPTOMS
from mixclock.job.entry import Entry, Found

SHOWN_FROM, SUGGESTED_FROM = 0.5, 0.25
"""Scores from which a cause is shown or suggested: better than even, and one in four (judgement)."""

SHAPE_FITS, SHAPE_NEUTRAL, SHAPE_CONTRADICTS, SHAPE_UNKNOWN = 1.0, 0.8, 0.4, 0.9
"""What the shape of a fault leaves of a score (judgement)."""

BURIED = 0.6
"""What is left for a coat that is not the visible one, where the fault is one of the surface (judgement)."""

SHAPE_TYPICAL_FROM = 0.6

HALF = 0.5
"""From this weight on a quantity may carry a cause."""


class Verdict(StrEnum):
    """What the record says."""

    SHOWN = "shown"
    SUGGESTED = "suggested"
    NOT_SHOWN = "not shown"


@dataclass(frozen=True)
class Lack:
    """A fact that nobody recorded here; `elsewhere` tells that the healthy areas have it."""

    missing: Missing
    elsewhere: bool


@dataclass(frozen=True)
class Suspect:
    """One cause with what speaks for and against it, on one coat."""

    cause: Cause
    coat: str
    score: float
    evidence: tuple[Weighed, ...]
    against: tuple[str, ...]
    missing: tuple[Lack, ...]
    excluded: bool
    sure: bool = True


@dataclass(frozen=True)
class Diagnosis:
    """The answer to why an area failed."""

    area: str
    symptom: str | None
    shape: str | None
    verdict: Verdict
    suspects: tuple[Suspect, ...] = ()
    not_recorded: tuple[tuple[Missing, str], ...] = ()
    siblings: Mapping[str, str] = field(default_factory=dict)
    asks: tuple[str, ...] = ()
    tests: tuple[FloorTest, ...] = ()
    remark: str = ""
    fellows: tuple[str, ...] = ()

    @property
    def shown(self) -> tuple[Suspect, ...]:
        """The causes that the record shows."""
        return tuple(suspect for suspect in self.suspects if suspect.sure and suspect.score >= SHOWN_FROM)


def diagnose(case: Case, area: str, symptom: str | None = None, shape: str | None = None) -> Diagnosis:
    """Why an area failed; symptom and shape are taken from the latest finding where they are not given."""
    found = _finding(case, area)
    if found is not None and isinstance(found.facts, Found) and symptom is None:
        symptom, shape = found.facts.symptom, shape or found.facts.shape
    coats = _coats_seen(case, area, found)
    if not coats:
        return _nothing_laid(case, area, symptom, shape)
    suspects = _ranked(_suspects(case, coats, symptom, shape))
    missing = _not_recorded(suspects, symptom)
    verdict = _verdict(suspects)
    return Diagnosis(
        area=area,
        symptom=symptom,
        shape=shape,
        verdict=verdict,
        suspects=tuple(suspects),
        not_recorded=missing,
        siblings={laid.coat: _sibling_words(case, laid) for laid in coats},
        asks=_asks(area, symptom, shape, missing, verdict),
        tests=_tests(suspects, verdict, missing),
        remark=_remark(case, area, symptom, verdict),
        fellows=_fellows(case, area, symptom),
    )


def _finding(case: Case, area: str) -> Entry | None:
    found = case.findings.get(area, ())
    return found[-1] if found else None


def _coats_seen(case: Case, area: str, found: Entry | None) -> tuple[Laid, ...]:
    """The coats that lay there when the fault was found."""
    until = found.happened if found is not None else case.at
    return tuple(laid for laid in case.on(area) if laid.first <= until)


def _suspects(case: Case, coats: Sequence[Laid], symptom: str | None, shape: str | None) -> Iterable[Suspect]:
    known = SYMPTOMS.get(symptom) if symptom else None
    for laid in coats:
        visible = laid is coats[-1] or (known is not None and known.any_coat)
        values = _Values(case, laid)
        for cause in CAUSES:
            if _concerns(case, laid, cause):
                yield _suspect(cause, laid, values, symptom, shape, 1.0 if visible else BURIED)


def _concerns(case: Case, laid: Laid, cause: Cause) -> bool:
    profile = case.profile(laid)
    return not cause.families or (profile is not None and profile.family in cause.families)


@dataclass
class _Values:
    """The quantities of a coat on an area and of its healthy siblings, each gathered once."""

    case: Case
    laid: Laid
    own: dict[str, Weighed | None] = field(default_factory=dict)

    def weighed(self, quantity: str) -> Weighed | None:
        if quantity not in self.own:
            healthy = self.case.siblings(self.laid)[0]
            others: list[Gathered] = [gather(self.case, sibling, quantity) for sibling in healthy]
            self.own[quantity] = weigh(quantity, gather(self.case, self.laid, quantity), others)
        return self.own[quantity]


def _suspect(cause: Cause, laid: Laid, values: _Values, symptom: str | None, shape: str | None, seen: float) -> Suspect:
    weighed = [(shows, values.weighed(shows.quantity)) for shows in cause.shows if not _is_shape(shows.quantity)]
    known = [(shows, item) for shows, item in weighed if item is not None]
    strengths = [shows.weight * item.strength for shows, item in known]
    strengths += [shows.weight for shows in cause.shows if shows.quantity == f"shape:{shape}"]
    quantities = {shows.quantity for shows in cause.shows}
    evidence = together(strengths) * _excuse(cause, values)
    score = cause.fit(symptom) * shape_fit(cause, shape) * seen * evidence
    leading = [item for shows, item in known if shows.weight >= LEADS]
    return Suspect(
        cause=cause,
        coat=laid.coat,
        score=score,
        evidence=tuple(item for _, item in known if item.speaks_for),
        against=_against(cause, values, [item for _, item in known], shape, symptom),
        missing=tuple(
            Lack(item.missing, item.known_elsewhere)
            for shows, item in known
            if item.missing is not None and shows.weight >= HALF
        ),
        sure=any(item.is_sure for shows, item in known if shows.weight >= HALF) or f"shape:{shape}" in quantities,
        excluded=bool(leading) and all(item.speaks_against for item in leading) and score < SUGGESTED_FROM,
    )


def _is_shape(quantity: str) -> bool:
    return quantity.startswith("shape:")


def _excuse(cause: Cause, values: _Values) -> float:
    """What a note leaves of a cause that it excuses: a coat that was abraded may be recoated late."""
    excused = any(_noted(values.weighed(quantity)) for quantity in cause.excused_by)
    return 0.3 if excused else 1.0


def _noted(item: Weighed | None) -> bool:
    return item is not None and item.known is not None and isinstance(item.known.value, str)


def shape_fit(cause: Cause, shape: str | None) -> float:
    """What the shape of the fault leaves of a cause's score."""
    if shape is None:
        return SHAPE_UNKNOWN
    fit = cause.shapes.get(shape)
    if fit is None:
        return SHAPE_NEUTRAL
    return SHAPE_FITS if fit >= SHAPE_TYPICAL_FROM else SHAPE_CONTRADICTS


def _against(
    cause: Cause, values: _Values, known: Sequence[Weighed], shape: str | None, symptom: str | None
) -> tuple[str, ...]:
    us_units = values.case.standing.site.us_units
    said = [_inside(item, us_units) for item in known if item.speaks_against]
    said += [f"healthy areas had the same: {item.says}" for item in known if item.speaks_for and item.as_healthy]
    said += [str(item.value) for quantity in cause.excused_by if (item := values.weighed(quantity)) and _noted(item)]
    if shape is not None and cause.shapes.get(shape) == 0.0:
        said.append(f"the shape ({shape}) does not fit")
    if symptom is not None and 0.0 < cause.fit(symptom) < 0.5:
        said.append(f"seldom looks like this ({symptom})")
    return tuple(said)


def _inside(item: Weighed, us_units: bool) -> str:
    if isinstance(item.value, float) and isinstance(item.limit, float):
        return f"{item.says}: {number(item, item.value, us_units)} (limit {number(item, item.limit, us_units)})"
    return f"{item.says}: {item.value}"


def number(item: Weighed, value: float, us_units: bool = False) -> str:
    """A value as a person would say it, with its unit.

    >>> from mixclock.decide.why.case import Value
    >>> number(weigh("pour_out_ripeness", Value(1.304), []), 1.304)
    '130 %'
    >>> number(weigh("slab_min_c", Value(8.0), []), 8.0, us_units=True)
    '46.4 °F'
    """
    if item.log and not item.unit:
        return f"{value * 100:.0f} %"
    if us_units and item.unit in _US:
        factor, offset, unit = _US[item.unit]
        return f"{value * factor + offset:.1f}{unit}"
    unit = {"k": " °C", "c": " °C", "pct": " %", "um": " µm", "csp": " CSP"}.get(item.unit, "")
    return f"{value:.0f}{unit}" if item.unit in ("um", "pct") else f"{value:.1f}{unit}"


_US = MappingProxyType({"k": (1.8, 0.0, " °F"), "c": (1.8, 32.0, " °F"), "um": (1 / 25.4, 0.0, " mil")})


def _ranked(suspects: Iterable[Suspect]) -> list[Suspect]:
    """Each cause once, on the coat where most speaks for it; the best first."""
    best: dict[str, Suspect] = {}
    for suspect in suspects:
        other = best.get(suspect.cause.name)
        if other is None or (suspect.score, len(suspect.missing)) > (other.score, len(other.missing)):
            best[suspect.cause.name] = suspect
    return sorted(best.values(), key=lambda suspect: -suspect.score)


def _verdict(suspects: Sequence[Suspect]) -> Verdict:
    top = max((suspect.score for suspect in suspects if suspect.sure), default=0.0)
    if top >= SHOWN_FROM:
        return Verdict.SHOWN
    return Verdict.SUGGESTED if top >= SUGGESTED_FROM else Verdict.NOT_SHOWN


def _not_recorded(suspects: Sequence[Suspect], symptom: str | None) -> tuple[tuple[Missing, str], ...]:
    """What nobody recorded and which cause it would decide, the most telling first."""
    named: dict[str, tuple[float, Missing, list[str]]] = {}
    for suspect in suspects:
        fit = suspect.cause.fit(symptom)
        for lack in suspect.missing if fit > 0.0 else ():
            weight, _, causes = named.get(lack.missing.what, (0.0, lack.missing, []))
            if suspect.cause.name not in causes:
                causes.append(suspect.cause.name)
            named[lack.missing.what] = (max(weight, fit + _telling(lack)), lack.missing, causes)
    ordered = sorted(named.values(), key=lambda item: -item[0])
    return tuple((missing, " or ".join(causes)) for _, missing, causes in ordered)


def _telling(lack: Lack) -> float:
    """Figures tell more than notes, and most of all what the healthy areas have and this one has not (judgement)."""
    figure = 0.2 if not lack.missing.what.startswith(("whether", "which")) else 0.0
    return figure + (0.3 if lack.elsewhere else 0.0)


def _asks(
    area: str, symptom: str | None, shape: str | None, missing: Sequence[tuple[Missing, str]], verdict: Verdict
) -> tuple[str, ...]:
    steps = [item for item, _ in missing if item.what.startswith("when")]
    if shape is not None or verdict is Verdict.SHOWN or not (len(steps) > 1 or verdict is Verdict.NOT_SHOWN):
        return ()
    what = symptom or "SYMPTOM"
    return (f"Where does it show? found '{area}' '{what}' --shape batch-edge, door, shade, cut-in, drips or all-over",)


def _tests(
    suspects: Sequence[Suspect], verdict: Verdict, missing: Sequence[tuple[Missing, str]]
) -> tuple[FloorTest, ...]:
    """Tests for the causes in question, the cheapest first."""
    in_question = {name for _, names in missing for name in names.split(" or ")}
    if verdict is Verdict.NOT_SHOWN:
        names = [test for suspect in suspects if suspect.cause.name in in_question for test in suspect.cause.tests]
    else:
        names = [test for suspect in suspects[:3] if suspect.score >= SUGGESTED_FROM for test in suspect.cause.tests]
    return cheapest_first(tuple(names))


def _sibling_words(case: Case, laid: Laid) -> str:
    siblings, words = case.siblings(laid)
    return f"{words}: {', '.join(sorted({sibling.area for sibling in siblings}))}" if siblings else words


def _fellows(case: Case, area: str, symptom: str | None) -> tuple[str, ...]:
    return tuple(
        other
        for other, entries in case.findings.items()
        if other != area and any(isinstance(entry.facts, Found) and entry.facts.symptom == symptom for entry in entries)
    )


def _remark(case: Case, area: str, symptom: str | None, verdict: Verdict) -> str:
    if symptom is None and area not in case.findings:
        return f"Nothing was found on {area}; this is what stands out in its record."
    return "The record does not show why." if verdict is Verdict.NOT_SHOWN else ""


def _nothing_laid(case: Case, area: str, symptom: str | None, shape: str | None) -> Diagnosis:
    said = f"No batch was stated on {area}"
    until = " before it was found." if case.on(area) else "."
    missing = Missing(f"which batches went on {area}, and when", "ask the crew, and state them with --at")
    return Diagnosis(
        area, symptom, shape, Verdict.NOT_SHOWN, not_recorded=((missing, "every cause"),), remark=said + until
    )


__all__ = ["Diagnosis", "Suspect", "Value", "Verdict", "diagnose", "number", "shape_fit"]
