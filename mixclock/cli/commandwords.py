"""What a command takes, written as data. typer makes its options of it, and a plain line is read by it."""

from __future__ import annotations

from typing import NamedTuple

from mixclock.values import dataclass


class CommandWord(NamedTuple):
    """A word or an option as it is typed. Without a flag it stands in its place; without a metavar it is a switch.

    `words` is what a shell offers after Tab, `variable` the variable of the environment that stands in for it. `many`
    takes all the words that follow, or may be said again.
    """

    name: str
    flag: str
    metavar: str
    help: str
    words: str = ""
    variable: str = ""
    many: bool = False
    needed: bool = False

    @property
    def is_switch(self) -> bool:
        """Whether it has no value."""
        return not self.metavar


AS_OF = CommandWord("at", "--at", "TIME", "Answer as things stood at this past time.")
KNOWN = CommandWord("known", "--known", "", "With --at: leave out what was written down later.")
AT = CommandWord("at", "--at", "TIME", "When it happened, such as 9:42.")
AGO = CommandWord("ago", "--ago", "SPAN", "How long ago it happened, such as '5 min'.")
BY = CommandWord("by", "--by", "WHO", "Who did it.", words="people")
NOTE = CommandWord("note", "--note", "TEXT", "Anything worth keeping with it.")
AS_JSON = CommandWord("as_json", "--json", "", "Answer in JSON.")
JOB = CommandWord(
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
