"""Why an area failed: evidence from the record, causes by weight, and what nobody recorded.

Start with `causes` (the table), then `gather` (what each quantity is), `scoring` and `diagnosis`.
"""

from mixclock.decide.why.case import Case, Missing
from mixclock.decide.why.diagnosis import Diagnosis, Suspect, Verdict, diagnose
from mixclock.decide.why.symptoms import SHAPES, SYMPTOMS, shape_named, symptom_named

__all__ = [
    "SHAPES",
    "SYMPTOMS",
    "Case",
    "Diagnosis",
    "Missing",
    "Suspect",
    "Verdict",
    "diagnose",
    "shape_named",
    "symptom_named",
]
