"""What a person states: one type for each verb, with its fields, its checks and what it adds to the log.

The command line and the board's taps both derive from these. To add a verb: write its class and name it in `VERBS`; the
command, its help and what a phone may send follow.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from mixclock.job.statements.bucket import DumpedStatement, MixedStatement, MixingStatement, PouredStatement
from mixclock.job.statements.film import BeganStatement, DidStatement, FlakedStatement, RolledStatement, TapedStatement
from mixclock.job.statements.interruption import BackStatement, FixedStatement, StoppedStatement, VisitStatement
from mixclock.job.statements.logged import FinishedStatement, HeardStatement, WithdrawStatement
from mixclock.job.statements.rounds import EveningStatement, MorningStatement, ReadyStatement
from mixclock.job.statements.seen import (
    FoundStatement,
    MeasuredStatement,
    NotedStatement,
    PhotoStatement,
    ReadingStatement,
    SawStatement,
    TrafficStatement,
)
from mixclock.job.statements.spot import SpotStatement
from mixclock.job.statements.statement import Statement

VERBS: Mapping[str, type[Statement]] = MappingProxyType(
    {
        statement.verb: statement
        for statement in (
            MixingStatement,
            MixedStatement,
            PouredStatement,
            DumpedStatement,
            RolledStatement,
            FlakedStatement,
            TapedStatement,
            DidStatement,
            BeganStatement,
            ReadingStatement,
            MeasuredStatement,
            NotedStatement,
            PhotoStatement,
            TrafficStatement,
            SawStatement,
            FoundStatement,
            HeardStatement,
            FinishedStatement,
            WithdrawStatement,
            SpotStatement,
            StoppedStatement,
            BackStatement,
            VisitStatement,
            FixedStatement,
            ReadyStatement,
            EveningStatement,
            MorningStatement,
        )
    }
)
