"""A finding as it was said, in the words that `why` knows."""

from __future__ import annotations

from mixclock.decide.why.symptoms import shape_named, symptom_named
from mixclock.job.saying import CannotTellError
from mixclock.job.statements import FoundStatement


def in_words_of_why(found: FoundStatement) -> FoundStatement:
    """A finding in the words that `why` knows; a symptom in other words stays as it was said."""
    try:
        shape = shape_named(found.shape) if found.shape is not None else None
        return found.but(symptom=symptom_named(found.symptom), shape=shape)
    except ValueError as error:
        raise CannotTellError(str(error)) from error
