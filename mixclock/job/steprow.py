"""What one row of the table of steps holds."""

from __future__ import annotations

from mixclock.job.stepkinds import STAGE_ORDER, CallKind, Law, Rank, Skill, Stage, Work
from mixclock.values import dataclass


@dataclass(frozen=True)
class Step:
    """One step of the trade, with its window, or one moment that a crew is called for.

    `says` tells what its window is about, and `edges` which edges make sense for it. A moment has no edges, and lists
    its stages in `called`. `rank` is that of its closing edge or its moment; `opens_as` is that of its opening, if that
    is called out.

    `verb` is the statement that ends the step. Without one, the statements of the steps in `ended_by` end it, or a sign
    on the floor does (`signs`). `gone_verb` ends it once it is lost. `waits_for` names the steps that come before it on
    the same floor.

    `limit` marks edges that a maker set with a reserve; a crew races all others. `stands_still` marks figures that only
    time ends if the sheet names no temperature. `from_bucket` marks closing clocks that start with what the batch used
    up in the bucket. `per_area` marks windows of an area rather than of a batch. `of_flake` marks steps that only a
    flaked coat has, and `on_film` steps that are possible only after the pour.

    `question` is what a sheet without this window leaves open, for the kinds of product in `asked_of`. `counts_from` is
    the start of its window to suggest when somebody types the sheet in.
    """

    name: str
    says: str = ""
    edges: frozenset[str] = frozenset()
    rank: Rank = Rank.TIMELY
    opens_as: Rank | None = None
    called: tuple[Stage, ...] = ()
    verb: str | None = None
    past: str = ""
    aliases: tuple[str, ...] = ()
    about: CallKind = CallKind.FLOOR
    skill: Skill | None = None
    gone_verb: str | None = None
    waits_for: tuple[str, ...] = ()
    ended_by: tuple[str, ...] = ()
    signs: tuple[str, ...] = ()
    law: Law = Law.GEL_LIKE
    limit: bool = False
    stands_still: bool = False
    from_bucket: bool = False
    per_area: bool = False
    led: bool = False
    of_flake: bool = False
    on_film: bool = False
    counts_from: str = "poured"
    question: str = ""
    asked_of: tuple[Work, ...] = ()

    @property
    def stages(self) -> tuple[Stage, ...]:
        """Every stage at which mixclock can call a crew for it, in order."""
        opened = (Stage.OPENED,) if self.opens_as is not None else ()
        return tuple(sorted({*self.called, *opened}, key=STAGE_ORDER.index))

    @property
    def is_stated(self) -> bool:
        """Whether somebody states that it is finished."""
        return self.verb is not None

    @property
    def statement(self) -> str | None:
        """What a person says when it is finished ("rolled", "did rinse"); None if nobody states it."""
        return f"{self.verb} {self.name}" if self.verb == "did" else self.verb
