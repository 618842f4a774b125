"""The options that several commands share, and what every statement may carry: as facts, whoever reads the line."""

from __future__ import annotations

from typing import NamedTuple

from mixclock.values import dataclass


class SharedOption(NamedTuple):
    """An option as it is typed. Without a metavar it is a flag; `words` is what a shell offers after Tab."""

    name: str
    flag: str
    metavar: str
    help: str
    words: str = ""
    variable: str = ""
    """The variable of the environment that stands in for it."""


AS_OF = SharedOption("at", "--at", "TIME", "Answer as it stood at a past time.")
KNOWN = SharedOption("known", "--known", "", "Count only what had been written by then, too.")
AT = SharedOption("at", "--at", "TIME", "When it happened, such as 9:42.")
AGO = SharedOption("ago", "--ago", "SPAN", "How long ago it happened, such as '5 min'.")
BY = SharedOption("by", "--by", "WHO", "Who did it.", words="people")
NOTE = SharedOption("note", "--note", "TEXT", "Anything worth keeping with it.")
AS_JSON = SharedOption("as_json", "--json", "", "Answer in JSON.")
JOB = SharedOption(
    "job", "--job", "NAME", "Which job; or set MIXCLOCK_JOB.", words="jobs", variable="MIXCLOCK_JOB"
)  # fmt: skip
"""Which job is meant, on every command that states or asks."""

OF_STATEMENTS = (AT, AGO, BY, NOTE, AS_JSON, JOB)
"""What every statement takes."""


@dataclass(frozen=True)
class Extra:
    """What every statement may carry, as it was typed."""

    at: str | None = None
    ago: str | None = None
    by: str | None = None
    note: str | None = None
    as_json: bool = False
    job: str | None = None
