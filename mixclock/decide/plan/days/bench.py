"""What a plan rests on, and where it begins: all that the question of one bucket shares with the whole planner.

It stands apart, because a daemon asks for one bucket all day and for a whole plan never.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from mixclock.decide.plan.floor.conditions import Outlook
from mixclock.decide.plan.floor.films import LaidFilm
from mixclock.decide.plan.floor.setting import OpenStep
from mixclock.decide.plan.floor.timing import Timing
from mixclock.job.profile import Profile
from mixclock.job.site import Site
from mixclock.values import dataclass, field, replace


@dataclass(frozen=True)
class Bench:
    """What a plan rests on. The search uses `timing`, the answer `exact`; the constraints in `ignore` do not count."""

    site: Site
    profiles: Mapping[str, Profile]
    timing: Timing
    exact: Timing
    outlook: Outlook
    begins: datetime
    reserve: float = 1.0
    ignore: frozenset[str] = frozenset()
    loosened: Mapping[str, float] = field(default_factory=dict)
    """By coat, the share of its windows that the plan may use, in place of `reserve`."""


@dataclass(frozen=True)
class Standpoint:
    """Where a plan begins when part of the job is done. `waiting` holds the steps still open: coat, step, opening and
    deadline. `edges` are the wet edges that the rest must meet, by coat and the area that lies. A coat named in
    `starts` begins no sooner than stated there."""

    films: tuple[LaidFilm, ...] = ()
    left_m2: Mapping[tuple[str, str], float] = field(default_factory=dict)
    joined_by: Mapping[tuple[str, str], datetime] = field(default_factory=dict)
    flaked_by: Mapping[tuple[str, str], datetime] = field(default_factory=dict)
    edges: Mapping[tuple[str, str], datetime] = field(default_factory=dict)
    waiting: tuple[tuple[str, OpenStep, datetime | None, datetime | None], ...] = ()
    people_free: Mapping[str, datetime] = field(default_factory=dict)
    next_number: int = 1
    neutraliser_beside: Mapping[str, int] = field(default_factory=dict)
    kept: tuple[int, ...] = ()
    starts: Mapping[str, datetime] = field(default_factory=dict)

    def leaving_edges_of(self, coat: str | None) -> Standpoint:
        """The same where nothing meets the wet edges of a coat any more: they are taped."""
        joined_by, flaked_by, edges = (
            {key: by for key, by in each.items() if key[0] != coat}
            for each in (self.joined_by, self.flaked_by, self.edges)
        )
        waiting = tuple(
            (name, replace(step, meets=()) if name == coat else step, opens, by)
            for name, step, opens, by in self.waiting
        )
        return replace(self, joined_by=joined_by, flaked_by=flaked_by, edges=edges, waiting=waiting)
