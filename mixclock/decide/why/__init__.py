"""Why an area failed: evidence from the record, causes by weight, and what nobody recorded.

Start with `causes` (the table: a cause is a row), then `quantities` (what each figure is and how it is judged),
`evidence`, `suspects` and `diagnosis`. Trade facts to tick stand in `job.tradefacts`.
"""

from mixclock.decide.why.case import Case
from mixclock.decide.why.diagnosis import Diagnosis, diagnose
from mixclock.decide.why.suspects import Suspect, WhyVerdict
from mixclock.decide.why.symptoms import SHAPES, SYMPTOMS, shape_named, symptom_named
